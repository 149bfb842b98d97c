"""Where PARDISO is and how many threads it takes: Intel's MKL through pypardiso."""

from __future__ import annotations

import os
from functools import cache
from importlib import metadata

from . import threads


def available() -> bool:
    """Return whether PARDISO can be called."""
    _locate()
    try:
        import pypardiso  # noqa: F401
    except ImportError:
        return False
    return True


def new_solver(mtype: int):
    """Return a PARDISO handle for a type of matrix (MKL's ``mtype``)."""
    _locate()
    from pypardiso import PyPardisoSolver

    solver = PyPardisoSolver(mtype=mtype)
    if threads.limited():
        solver.libmkl.MKL_Set_Num_Threads(threads.allowed())
    return solver


@cache
def _locate() -> None:
    """Tell pypardiso where MKL is, sparing its search through all of the environment's files.

    MKL is asked for the same bits in every run.
    """
    os.environ.setdefault("MKL_CBWR", "AUTO")
    if "PYPARDISO_MKL_RT" in os.environ:
        return
    try:
        found = [f for f in metadata.files("mkl") or () if ("mkl_rt" in f.name and ".so" in f.name)
                 or (f.name.startswith(("mkl_rt", "libmkl_rt")) and f.suffix in (".dll", ".dylib"))]
    except metadata.PackageNotFoundError:
        return
    if found and found[0].locate().exists():
        os.environ["PYPARDISO_MKL_RT"] = str(found[0].locate().resolve())

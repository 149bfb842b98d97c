"""Where PARDISO is and how many threads it takes: Intel's MKL through pypardiso."""

from __future__ import annotations

import os
from functools import cache
from importlib import metadata

from . import threads

SYMMETRIC = {1: 1, 2: 2, 10: 8, 11: 0, 13: 0, 21: 1}
UNSYMMETRIC = {1: 1, 2: 2, 10: 13, 11: 1, 13: 1, 21: 1}
"""MKL's own defaults (``iparm``, counted from 1), given since without the first of them every other
setting is overwritten."""
LARGE = 30_000
"""Unknowns from which factors are formed on two levels (``iparm(24)``): a tenth to a quarter less time,
but other bits for another number of threads."""


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
    for place, value in (UNSYMMETRIC if mtype == 11 else SYMMETRIC).items():
        solver.set_iparm(place, value)
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

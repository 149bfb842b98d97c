"""Sparse linear solves: a named chain of solvers, with the residual checked after every one.

The chain is PARDISO Cholesky, PARDISO symmetric indefinite, PARDISO LU (unsymmetric matrices start
there), then SciPy's SuperLU. PARDISO has returned wrong answers without an error code on indefinite
matrices, so no solution leaves this module unless its relative residual is small.
"""

from __future__ import annotations

import os
import time
from dataclasses import dataclass, field
from functools import cache
from importlib import metadata

import numpy as np
import scipy.sparse as sp

from ..errors import LinearSolverError

RESIDUAL_LIMIT, LOOSE_LIMIT, BACKWARD_LIMIT = 1e-8, 1e-4, 1e-13
ZERO_PIVOT = -4


def distinct(keys: np.ndarray) -> np.ndarray:
    """Return the distinct keys (n,) in rising order; much faster here than a hash table."""
    keys = np.sort(keys)
    return keys[np.diff(keys, prepend=-1) > 0]


class NotPositiveDefinite(Exception):
    """Cholesky met a pivot that is not positive: the state is not stable."""


@dataclass
class Pattern:
    """A symmetric sparsity pattern in CSR form that grows when new pairs appear.

    ``positions`` maps (row, column) to the slot in ``data``.
    """

    size: int
    keys: np.ndarray = field(default_factory=lambda: np.zeros(0, np.int64))
    version: int = 0

    def __post_init__(self):
        """Lay out the pattern given."""
        self._lay_out()

    def add(self, rows: np.ndarray, cols: np.ndarray) -> None:
        """Make sure the pattern holds all pairs, and their mirror images."""
        rows, cols = rows.astype(np.int64), cols.astype(np.int64)
        new = np.concatenate([rows * self.size + cols, cols * self.size + rows])
        if len(self.keys):
            new = new[~self.has(new)]
        if len(new):
            self.keys = distinct(np.concatenate([self.keys, new]))
            self.version += 1
            self._lay_out()

    def has(self, keys: np.ndarray) -> np.ndarray:
        """Return which keys (row * size + column) are in the pattern."""
        return self._slots(keys // self.size, keys % self.size) >= 0

    def positions(self, rows: np.ndarray, cols: np.ndarray) -> np.ndarray | None:
        """Return the slot of each pair, or None when one is missing."""
        at = self._slots(rows, cols)
        return at if at.min(initial=0) >= 0 else None

    def _slots(self, rows, cols):
        """Return the slot of each pair, -1 where there is none."""
        return np.asarray(self._numbers[rows, cols]).ravel() - 1 if len(rows) else np.zeros(0, int)

    def _lay_out(self):
        row = self.keys // self.size
        self.indices = (self.keys - row * self.size).astype(np.int32)
        self.row = row.astype(np.int32)
        self.indptr = np.searchsorted(row, np.arange(self.size + 1)).astype(np.int32)
        self.upper = np.flatnonzero(self.indices >= self.row)
        self.upper_indices = self.indices[self.upper]
        self.upper_indptr = np.searchsorted(
            self.row[self.upper], np.arange(self.size + 1)).astype(np.int32)
        self.diagonal = np.flatnonzero(self.indices == self.row)
        self._numbers = self.matrix(np.arange(1, len(self.keys) + 1))

    def crossing(self, unknowns: np.ndarray) -> np.ndarray:
        """Return the slots of the rows and columns of some unknowns."""
        in_rows = np.concatenate([np.zeros(0, int), *(
            np.arange(self.indptr[i], self.indptr[i + 1]) for i in unknowns)])
        return np.concatenate(
            [in_rows, self._slots(self.indices[in_rows], self.row[in_rows])])

    def matrix(self, data: np.ndarray) -> sp.csr_matrix:
        """Return the full matrix with the given data."""
        return sp.csr_matrix((data, self.indices, self.indptr), shape=(self.size, self.size))

    def upper_matrix(self, data: np.ndarray) -> sp.csr_matrix:
        """Return the upper triangle with the given (full) data."""
        return sp.csr_matrix((data[self.upper], self.upper_indices, self.upper_indptr),
                             shape=(self.size, self.size))


@dataclass
class Tally:
    """What the linear solvers did."""

    factorisations: int = 0
    symbolic: int = 0
    factor_seconds: float = 0.0
    solvers: dict[str, int] = field(default_factory=dict)

    def count(self, name: str, seconds: float) -> None:
        """Add one factorisation by the named solver."""
        self.factorisations += 1
        self.factor_seconds += seconds
        self.solvers[name] = self.solvers.get(name, 0) + 1


@cache
def _locate_mkl() -> None:
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


class _Pardiso:
    """One PARDISO handle: symbolic work is kept while the pattern stays the same."""

    def __init__(self, mtype: int):
        from pypardiso import PyPardisoSolver

        _locate_mkl()

        self.solver = PyPardisoSolver(mtype=mtype)
        self.version = None

    def solve(self, matrix, rhs, version, tally):
        from pypardiso.pardiso_wrapper import PyPardisoError

        solver = self.solver
        try:
            if version != self.version:
                self.free()
                solver.set_phase(11)
                solver._call_pardiso(matrix, rhs)
                self.version = version
                tally.symbolic += 1
            solver.set_phase(22)
            solver._call_pardiso(matrix, rhs)
            solver.set_phase(33)
            return solver._call_pardiso(matrix, np.asfortranarray(rhs))
        except PyPardisoError as problem:
            if problem.value != ZERO_PIVOT:
                self.free()
            raise NotPositiveDefinite(str(problem)) from None

    def free(self):
        if self.version is not None:
            self.solver.free_memory(everything=True)
            self.version = None


def _accurate(matrix, x, rhs) -> bool:
    """Judge a solution: a small residual, or one that round-off explains.

    The residual is compared with the right-hand side; for an ill-conditioned matrix also with
    |A| |x| (normwise backward error, Higham, Accuracy and Stability of Numerical Algorithms, 2nd
    ed., sec. 7.1).
    """
    miss, size = np.linalg.norm(matrix @ x - rhs), max(np.linalg.norm(rhs), 1e-300)
    if not np.isfinite(miss):
        return False
    if miss < RESIDUAL_LIMIT * size:
        return True
    scale = np.linalg.norm(abs(matrix) @ abs(x)) + size
    return miss < LOOSE_LIMIT * size and miss < BACKWARD_LIMIT * scale


class LinearSolver:
    """The chain. Keep one per model: it reuses symbolic factorisations.

    Parameters
    ----------
    symmetric : bool
        Whether Cholesky may be tried.
    """

    def __init__(self, symmetric: bool = True):
        self.symmetric, self.tally = symmetric, Tally()
        self._handles: dict[int, _Pardiso] = {}
        try:
            import pypardiso  # noqa: F401
            self.pardiso = True
        except ImportError:
            self.pardiso = False

    def _try(self, name, call, matrix, rhs):
        start = time.perf_counter()
        try:
            x = call()
        finally:
            self.tally.count(name, time.perf_counter() - start)
        return x if _accurate(matrix, x, rhs) else None

    def solve(self, pattern: Pattern, data, rhs, *, definite: bool = True,
              symmetric: bool = True) -> np.ndarray:
        """Solve the system with the given pattern and data.

        Parameters
        ----------
        definite : bool
            Insist on a positive definite matrix; else accept any nonsingular one.
        symmetric : bool
            Whether this matrix is symmetric, when the solver is meant for symmetric ones.

        Raises
        ------
        NotPositiveDefinite
            When ``definite`` is set and Cholesky fails.
        LinearSolverError
            When no solver of the chain gives a small residual.
        """
        matrix, version = pattern.matrix(data), pattern.version
        symmetric = symmetric and self.symmetric
        upper = pattern.upper_matrix(data) if symmetric and self.pardiso else None
        chain = []
        if self.pardiso:
            if symmetric:
                chain = [("PARDISO Cholesky", 2)] if definite else [
                    ("PARDISO symmetric indefinite", -2)]
            chain.append(("PARDISO LU", 11))
        for name, mtype in chain:
            if mtype not in self._handles:
                self._handles[mtype] = _Pardiso(mtype)
            handle = self._handles[mtype]
            part = matrix if mtype == 11 else upper
            try:
                x = self._try(name, lambda h=handle, p=part: h.solve(p, rhs, version, self.tally),
                              matrix, rhs)
            except NotPositiveDefinite:
                if mtype == 2:
                    raise
                continue
            if x is not None:
                return x
        from scipy.sparse.linalg import splu

        try:
            x = self._try("SciPy SuperLU", lambda: splu(
                matrix.tocsc(), permc_spec="MMD_AT_PLUS_A" if symmetric else "COLAMD",
                diag_pivot_thresh=0.01 if symmetric else 1.0).solve(rhs), matrix, rhs)
        except RuntimeError:
            x = None
        if x is None:
            raise LinearSolverError(
                "the linear system has no solution: a part of the model is not held, "
                "or its stiffness is zero")
        return x

    def free(self) -> None:
        """Release the solvers' memory."""
        for handle in self._handles.values():
            handle.free()

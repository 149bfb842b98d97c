"""Sparse linear solves: a named chain of solvers, with the residual checked after every one.

The chain is PARDISO Cholesky, PARDISO symmetric indefinite, PARDISO LU (unsymmetric matrices start
there), then SciPy's SuperLU. PARDISO has returned wrong answers without an error code on indefinite
matrices, so no solution leaves this module unless its relative residual is small.
"""

from __future__ import annotations

import time
from dataclasses import dataclass, field
from functools import partial

import numpy as np

from ..errors import LinearSolverError
from .mkl import LARGE, available, new_solver
from .pattern import Pattern

RESIDUAL_LIMIT, LOOSE_LIMIT, BACKWARD_LIMIT = 1e-8, 1e-4, 1e-13
ZERO_PIVOT = -4
REFINEMENTS = 2
"""Steps of iterative refinement that a solution is given when its residual is not small."""


class NotPositiveDefinite(Exception):
    """Cholesky met a pivot that is not positive: the state is not stable."""


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


    def plus(self, other: Tally) -> Tally:
        """Return what both did together."""
        solvers = self.solvers | {
            name: number + self.solvers.get(name, 0) for name, number in other.solvers.items()}
        return Tally(self.factorisations + other.factorisations, self.symbolic + other.symbolic,
                     self.factor_seconds + other.factor_seconds, solvers)


class _Pardiso:
    """One PARDISO handle: symbolic work is kept while the pattern stays the same.

    ``version`` is that of the pattern, ``holds`` says whether there are factors.
    """

    def __init__(self, mtype: int):
        self.solver = new_solver(mtype)
        self.version, self.holds = None, False

    def solve(self, matrix, rhs, version, tally):
        """Factorise and solve, without the refinement steps that PARDISO would always take."""
        from pypardiso.pardiso_wrapper import PyPardisoError

        try:
            if version != self.version:
                self.free()
                self.solver.set_iparm(24, int(matrix.shape[0] >= LARGE))
                self._run(11, matrix, rhs)
                self.version = version
                tally.symbolic += 1
            self.holds = True
            self._run(22, matrix, rhs)
            return self.substitute(matrix, rhs)
        except PyPardisoError as problem:
            if problem.value != ZERO_PIVOT:
                self.free()
            raise NotPositiveDefinite(str(problem)) from None

    def refined(self, matrix, rhs):
        """Solve once more with the present factors and with refinement."""
        from pypardiso.pardiso_wrapper import PyPardisoError

        try:
            if self.holds:
                return self.substitute(matrix, rhs, REFINEMENTS)
        except PyPardisoError:
            pass
        return np.full_like(rhs, np.nan)

    def substitute(self, matrix, rhs, refinements=0):
        """Solve with the present factors."""
        self.solver.set_iparm(8, refinements)
        return self._run(33, matrix, np.asfortranarray(rhs))

    def _run(self, phase, matrix, rhs):
        self.solver.set_phase(phase)
        return self.solver._call_pardiso(matrix, rhs)

    def rest(self):
        """Release the factors but keep the symbolic work."""
        if self.holds:
            self.solver.free_memory()
            self.holds = False

    def free(self):
        if self.version is not None:
            self.solver.free_memory(everything=True)
            self.version, self.holds = None, False


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
        self._kept = None
        self.pardiso = available()

    def _try(self, name, call, matrix, rhs, refined=None):
        start = time.perf_counter()
        try:
            x = call()
        finally:
            self.tally.count(name, time.perf_counter() - start)
        if refined and not _accurate(matrix, x, rhs):
            x = refined()
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
        self._kept = None
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
            for other in self._handles.values():
                if other is not handle:
                    other.rest()
            part = matrix if mtype == 11 else upper
            try:
                x = self._try(name, partial(handle.solve, part, rhs, version, self.tally),
                              matrix, rhs, partial(handle.refined, part, rhs))
            except NotPositiveDefinite:
                if mtype == 2:
                    raise
                continue
            if x is not None:
                self._kept = partial(handle.substitute, part)
                return x
        from scipy.sparse.linalg import splu

        try:
            factors = []

            def call():
                factors.append(splu(
                    matrix.tocsc(), permc_spec="MMD_AT_PLUS_A" if symmetric else "COLAMD",
                    diag_pivot_thresh=0.01 if symmetric else 1.0))
                return factors[0].solve(rhs)

            x = self._try("SciPy SuperLU", call, matrix, rhs)
        except RuntimeError:
            x = None
        if x is None:
            raise LinearSolverError(
                "the linear system has no solution: a part of the model is not held, "
                "or its stiffness is zero")
        self._kept = factors[0].solve
        return x

    def again(self, rhs: np.ndarray) -> np.ndarray | None:
        """Return the solution with the factors of the last solve; None when there are none.

        Whether the answer is any good for a matrix that has changed since is for the caller to see.
        """
        return None if self._kept is None else self._kept(rhs)

    def free(self) -> None:
        """Release the solvers' memory."""
        self._kept = None
        for handle in self._handles.values():
            handle.free()

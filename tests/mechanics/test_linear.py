"""The chain of linear solvers and the check on their answers."""

import builtins

import numpy as np
import pytest
import scipy.sparse as sp
from blocks import block, law

from fefoot.errors import LinearSolverError
from fefoot.mechanics import linear
from fefoot.mechanics.linear import LinearSolver, NotPositiveDefinite
from fefoot.mechanics.pattern import Pattern
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System


def pattern_of(matrix):
    matrix = sp.coo_matrix(matrix)
    pattern = Pattern(matrix.shape[0])
    pattern.add(matrix.row, matrix.col)
    at = pattern.positions(matrix.row, matrix.col)
    return pattern, np.bincount(at, matrix.data, pattern.nnz)


def stiffness(hold=True, nu=0.3, counts=(6, 4), lengths=(3.0, 2.0)):
    mesh = block(counts, lengths)
    co = Coordinates(mesh.points, np.full(len(mesh.points), -1), np.zeros((0, 2)))
    system = System(co, solids=[Solid(mesh.points, mesh.cells,
                                      law("linear_elastic", E_MPa=2.0, nu=nu))])
    data = system.evaluate(co.start(), Load(), (), ()).data
    matrix = system.pattern.matrix(data).toarray()
    keep = np.ones(co.size, bool)
    if hold:
        root = np.flatnonzero(mesh.points[:, 0] < 1e-9)
        keep[np.concatenate([2 * root, 2 * root + 1])] = False
    return matrix[np.ix_(keep, keep)]


@pytest.fixture
def without_pardiso(monkeypatch):
    real = builtins.__import__

    def absent(name, *rest, **more):
        if name.split(".")[0] == "pypardiso":
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", absent)


def test_agrees_with_dense(rng):
    matrix = stiffness()
    pattern, data = pattern_of(matrix)
    rhs = rng.normal(size=len(matrix))
    exact = np.linalg.solve(matrix, rhs)
    solver = LinearSolver()
    x = solver.solve(pattern, data, rhs)
    assert np.abs(x - exact).max() < 1e-10 * np.abs(exact).max()
    assert solver.tally.factorisations == 1
    # a second matrix on the same pattern reuses the symbolic work
    again = solver.solve(pattern, 2 * data, rhs)
    assert np.abs(2 * again - exact).max() < 1e-10 * np.abs(exact).max()
    assert solver.tally.symbolic <= 1
    solver.free()


def test_falls_to_scipy_without_pardiso(without_pardiso, rng):
    matrix = stiffness()
    pattern, data = pattern_of(matrix)
    rhs = rng.normal(size=len(matrix))
    solver = LinearSolver()
    x = solver.solve(pattern, data, rhs)
    exact = np.linalg.solve(matrix, rhs)
    assert np.abs(x - exact).max() < 1e-10 * np.abs(exact).max()
    assert solver.tally.solvers == {"SciPy SuperLU": 1}


def test_solvers_agree(rng, monkeypatch):
    pytest.importorskip("pypardiso")
    matrix = stiffness()
    pattern, data = pattern_of(matrix)
    rhs = rng.normal(size=len(matrix))
    first, second, third = LinearSolver(), LinearSolver(symmetric=False), LinearSolver()
    third.pardiso = False
    answers = [s.solve(pattern, data, rhs) for s in (first, second, third)]
    assert [list(s.tally.solvers) for s in (first, second, third)] == [
        ["PARDISO Cholesky"], ["PARDISO LU"], ["SciPy SuperLU"]]
    for other in answers[1:]:
        assert np.abs(other - answers[0]).max() < 1e-10 * np.abs(answers[0]).max()
    first.free()
    second.free()


def test_a_wrong_answer_is_rejected(rng, monkeypatch):
    """PARDISO that returns nonsense without an error: the chain goes on to SciPy."""
    pytest.importorskip("pypardiso")
    matrix = stiffness()
    pattern, data = pattern_of(matrix)
    rhs = rng.normal(size=len(matrix))
    called = []

    def nonsense(self, *arguments, **more):
        called.append(1)
        return rhs * 1e3

    monkeypatch.setattr(linear._Pardiso, "solve", nonsense)
    solver = LinearSolver()
    x = solver.solve(pattern, data, rhs)
    assert called
    assert np.linalg.norm(matrix @ x - rhs) < 1e-10 * np.linalg.norm(rhs)
    assert list(solver.tally.solvers)[-1] == "SciPy SuperLU"


def test_nothing_but_wrong_answers_is_an_error(rng, monkeypatch):
    matrix = stiffness()
    pattern, data = pattern_of(matrix)
    rhs = rng.normal(size=len(matrix))

    class Nonsense:
        def solve(self, b):
            return np.full_like(b, np.nan)

    import scipy.sparse.linalg

    monkeypatch.setattr(linear._Pardiso, "solve", lambda *a, **k: rhs * 1e3)
    monkeypatch.setattr(scipy.sparse.linalg, "splu", lambda *a, **k: Nonsense())
    with pytest.raises(LinearSolverError, match="not held"):
        LinearSolver().solve(pattern, data, rhs)


def test_indefinite_matrix(rng):
    pytest.importorskip("pypardiso")
    matrix = stiffness()
    values, _vectors = np.linalg.eigh(matrix)
    matrix = matrix - 1.5 * values[3] * np.eye(len(matrix))
    pattern, data = pattern_of(matrix)
    rhs = rng.normal(size=len(matrix))
    with pytest.raises(NotPositiveDefinite):
        LinearSolver().solve(pattern, data, rhs)
    x = LinearSolver().solve(pattern, data, rhs, definite=False)
    exact = np.linalg.solve(matrix, rhs)
    assert np.abs(x - exact).max() < 1e-8 * np.abs(exact).max()


@pytest.mark.parametrize("pardiso", [True, False])
def test_an_unheld_model_is_a_clear_error(pardiso, rng):
    """Rigid-body motion is free: no answer may come out, whichever solver is asked."""
    matrix = stiffness(hold=False)
    pattern, data = pattern_of(matrix)
    rhs = rng.normal(size=len(matrix))
    solver = LinearSolver()
    if not pardiso:
        solver.pardiso = False
    with pytest.raises((LinearSolverError, NotPositiveDefinite)) as caught:
        solver.solve(pattern, data, rhs)
    if caught.type is LinearSolverError:
        assert "not held" in str(caught.value)


def test_ill_conditioned_but_well_posed_matrices_are_solved(rng):
    """A slender, nearly incompressible beam: |r| / |b| is 1e-7, the backward error 1e-16."""
    mesh = block((60, 2), (120.0, 1.0))
    co = Coordinates(mesh.points, np.full(len(mesh.points), -1), np.zeros((0, 2)))
    system = System(co, solids=[Solid(mesh.points, mesh.cells,
                                      law("neo_hookean", E_MPa=1000.0, nu=0.4995))])
    data = system.evaluate(co.start(), Load(), (), ()).data
    matrix = system.pattern.matrix(data).tocsc()
    root = np.flatnonzero(mesh.points[:, 0] < 1e-9)
    keep = np.setdiff1d(np.arange(co.size), np.concatenate([2 * root, 2 * root + 1]))
    matrix = matrix[keep][:, keep]
    pattern, data = pattern_of(matrix)
    rhs = np.zeros(len(keep))
    rhs[np.searchsorted(keep, 2 * int(np.argmax(mesh.points[:, 0])) + 1)] = 1e-3
    x = LinearSolver().solve(pattern, data, rhs)
    r = np.abs(matrix @ x - rhs).max()
    assert r < 1e-13 * abs(matrix).sum(1).max() * np.abs(x).max()


def test_only_one_solver_holds_factors(rng):
    """Factors are released when another solver takes over; the symbolic work stays."""
    pytest.importorskip("pypardiso")
    matrix = stiffness()
    pattern, data = pattern_of(matrix)
    rhs = rng.normal(size=len(matrix))
    solver = LinearSolver()
    for definite, symmetric in ((True, True), (True, False), (True, True), (False, False)):
        x = solver.solve(pattern, data, rhs, definite=definite, symmetric=symmetric)
        assert np.linalg.norm(matrix @ x - rhs) < 1e-10 * np.linalg.norm(rhs)
        assert sum(h.holds for h in solver._handles.values()) == 1
    assert solver.tally.symbolic == 2
    solver.free()
    assert not any(h.holds for h in solver._handles.values())


@pytest.mark.parametrize("kind", ["definite", "indefinite", "unsymmetric"])
def test_factors_on_two_levels(kind, rng):
    """A Laplacian of 34^3 nodes, factors formed the other way: residual, and same bits twice."""
    pytest.importorskip("pypardiso")
    n = 34
    line = sp.diags([-1.0, 2.0, -1.0], [-1, 0, 1], shape=(n, n))
    eye = sp.identity(n)
    matrix = sp.kron(sp.kron(line, eye), eye) + sp.kron(sp.kron(eye, line), eye) + sp.kron(
        eye, sp.kron(eye, line))
    shift = {"definite": 0.0, "indefinite": -0.5, "unsymmetric": 0.0}[kind]
    matrix = (matrix + shift * sp.identity(n**3)).tocoo()
    if kind == "unsymmetric":
        matrix.data = matrix.data * np.where(matrix.row < matrix.col, 1.2, 1.0)
    assert n**3 >= linear.LARGE
    pattern, data = pattern_of(matrix)
    rhs, found = rng.normal(size=n**3), []
    for _ in range(2):
        solver = LinearSolver(kind != "unsymmetric")
        x = solver.solve(pattern, data, rhs, definite=kind == "definite")
        assert np.linalg.norm(matrix @ x - rhs) < 1e-9 * np.linalg.norm(rhs)
        assert solver.tally.factorisations == 1 and "PARDISO" in next(iter(solver.tally.solvers))
        found.append(x)
        solver.free()
    assert np.array_equal(*found)

"""Newton's method: rate, failure, determinism."""

import itertools

import numpy as np
import pytest
from blocks import block, law

from fefoot.errors import ConvergenceError, FefootError
from fefoot.mechanics.contact import Contact
from fefoot.mechanics.mesh import joined
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System


def free(points):
    return Coordinates(points, np.full(len(points), -1), np.zeros((0, points.shape[1])))


def cube():
    mesh = block((3, 3, 3), (1.0, 1.0, 1.0), jitter=0.1)
    system = System(free(mesh.points), solids=[
        Solid(mesh.points, mesh.cells, law("neo_hookean", E_MPa=1.0, nu=0.4))])
    low, high = (np.flatnonzero(np.abs(mesh.points[:, 1] - y) < 1e-9) for y in (0, 1))
    still = {int(3 * n + i): 0.0 for n in low for i in range(3)}

    def path(t):
        return Load(held=still | {int(3 * n + 1): -0.3 * t for n in high}
                    | {int(3 * n): 0.1 * t for n in high})

    return system, path


def test_quadratic_convergence():
    system, path = cube()
    history = solve(system, path, settings=Settings(tolerance=1e-12)).history
    last = max(row["step"] for row in history)
    residual = np.array([row["residual"] for row in history if row["step"] == last])
    assert residual[-1] < 1e-12
    # the first row is the reference state, before anything has moved
    tail = residual[1:][residual[1:] < 0.05]
    assert len(tail) >= 3
    # r_{k+1} <= C r_k^2 until round-off
    for before, after in itertools.pairwise(tail):
        assert after < 20 * before**2 + 1e-14


def test_history_names_every_iteration():
    system, path = cube()
    solution = solve(system, path, settings=Settings(first_step=0.5), label="cube")
    assert {row["solve"] for row in solution.history} == {"cube"}
    assert {row["step"] for row in solution.history} >= {1, 2}
    assert solution.tally.factorisations >= 4


def test_a_load_that_cannot_be_carried():
    """A guided bar beyond the largest compression its law carries."""
    mesh = block((2, 12), (0.2, 6.0))
    system = System(free(mesh.points), solids=[
        Solid(mesh.points, mesh.cells, law("linear_elastic", E_MPa=1.0, nu=0.0))])
    low = np.flatnonzero(mesh.points[:, 1] < 1e-9)
    high = np.flatnonzero(mesh.points[:, 1] > 6 - 1e-9)
    # P = E/2 (s^3 - s) has its lowest value -E / (3 sqrt 3) = -0.192 E at s = 1 / sqrt 3; held
    # straight, the bar cannot escape by buckling
    held = {int(2 * n + 1): 0.0 for n in low}
    held |= {int(2 * n): 0.0 for n in range(len(mesh.points))}
    force = np.zeros_like(mesh.points)
    force[high, 1] = -0.4 * 0.2 / len(high)
    with pytest.raises(ConvergenceError, match="could not be carried") as caught:
        solve(system, lambda t: Load(node_force_N=t * force, held=held),
              settings=Settings(first_step=0.5, smallest_step=1 / 32, iterations=15))
    assert len(caught.value.history) > 1
    assert {"step", "iteration", "residual"} <= set(caught.value.history[0])


def test_an_unheld_model_is_a_clear_error():
    """No displacement is prescribed: an error of ours, not a wrong answer."""
    mesh = block((3, 3), (1.0, 1.0))
    system = System(free(mesh.points), solids=[
        Solid(mesh.points, mesh.cells, law("neo_hookean", E_MPa=1.0, nu=0.3))])
    force = np.zeros_like(mesh.points)
    force[:, 1] = 0.01
    with pytest.raises(FefootError):
        solve(system, lambda t: Load(node_force_N=t * force),
              settings=Settings(iterations=10, smallest_step=0.25))


def pressed():
    low = block((5, 3), (10.0, 4.0), jitter=0.1, prefix="low ")
    high = block((8, 3), (6.0, 4.0), (2.0, 4.0), jitter=0.1, seed=3, prefix="high ")
    mesh, _ = joined(low, high)
    p = mesh.points
    contact = Contact("pair", p, mesh.facets["high y0"], mesh.facets["low y1"],
                      penalty_MPa_per_mm=10.0)
    system = System(free(p), contacts=[contact], solids=[
        Solid(p, mesh.cells, law("neo_hookean", E_MPa=1.0, nu=0.3))])
    still = {int(2 * n + i): 0.0 for n in np.flatnonzero(p[:, 1] < 1e-9) for i in (0, 1)}
    still |= {int(2 * n): 0.0 for n in np.flatnonzero(p[:, 1] > 8 - 1e-9)}
    top = np.flatnonzero(p[:, 1] > 8 - 1e-9)

    def path(t):
        return Load(held=still | {int(2 * n + 1): -0.6 * t for n in top})

    return mesh, system, path


def test_two_runs_are_identical():
    solutions = []
    for _ in range(2):
        _, system, path = pressed()
        solutions.append(solve(system, path))
    a, b = solutions
    assert (a.state.x == b.state.x).all()
    assert (a.memory[0].pressure_MPa == b.memory[0].pressure_MPa).all()
    assert a.history == b.history


def test_warm_start_is_cheaper_and_agrees():
    _, system, path = pressed()
    cold = solve(system, path)
    warm = solve(system, path, state=cold.state, memory=cold.memory)
    assert len(warm.history) < len(cold.history)
    # both stop within the default pressure tolerance of 2e-3
    peak = cold.memory[0].pressure_MPa.max()
    assert np.abs(warm.memory[0].pressure_MPa - cold.memory[0].pressure_MPa).max() < 4e-3 * peak


def test_contact_conditions_and_balance():
    """p >= 0, no penetration where it presses, and action equals reaction."""
    mesh, system, path = pressed()
    solution = solve(system, path, settings=Settings(pressure_change=1e-6, penetration_mm=1e-6))
    status = solution.evaluation.status[0]
    assert (status.pressure_MPa >= 0).all()
    loaded = status.pressure_MPa > 0
    assert (loaded.any() and not loaded.all()) or (status.gap_mm[loaded] < 1e-5).all()
    assert np.abs(status.gap_mm[loaded]).max() < 1e-5
    p, force = mesh.points, solution.evaluation.residual.reshape(-1, 2)
    top = force[p[:, 1] > 8 - 1e-9].sum(0)
    bottom = force[p[:, 1] < 1e-9].sum(0)
    assert np.abs(top + bottom).max() < 1e-7 * np.abs(top).max()
    assert status.force_N == pytest.approx(-top, rel=1e-7, abs=1e-8)

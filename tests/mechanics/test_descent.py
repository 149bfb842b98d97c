"""Past a fold: a shallow arch that snaps over under a load that Newton's method does not carry."""

import numpy as np
import pytest
from blocks import block, law

from fefoot.errors import ConvergenceError
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System

SPAN, DEPTH, RISE = 20.0, 0.4, 1.5
FORCE_N = 0.1
AT_ONCE = Settings(first_step=1.0, smallest_step=0.5, iterations=20)


def arch():
    """Return the system, and the path of a point load on the crown between built-in ends."""
    mesh = block((20, 1), (SPAN, DEPTH))
    points, x, y = mesh.points.copy(), *mesh.points.T
    points[:, 1] += RISE * np.sin(np.pi * x / SPAN)
    system = System(
        Coordinates(points, np.full(len(points), -1), np.zeros((0, 2))),
        solids=[Solid(points, mesh.cells, law("linear_elastic", E_MPa=100.0, nu=0.0))])
    ends = np.flatnonzero((x < 1e-9) | (x > SPAN - 1e-9))
    (crown,) = np.flatnonzero((np.abs(x - SPAN / 2) < 1e-9) & (y > DEPTH - 1e-9))
    held = {int(2 * node + axis): 0.0 for node in ends for axis in (0, 1)}

    def under(force_N):
        force = np.zeros_like(points)
        force[crown, 1] = -force_N
        return lambda t: Load(node_force_N=force, held=held)

    return system, under, crown


def test_a_fold_is_passed_down_the_energy():
    system, under, crown = arch()
    with pytest.raises(ConvergenceError):
        solve(system, under(FORCE_N), settings=AT_ONCE)
    settings = Settings(first_step=1.0, smallest_step=0.5, iterations=20, falls=8)
    found = solve(system, under(FORCE_N), settings=settings, label="arch")
    # the same equilibrium as from the other side: snapped under four times the load, then unloaded
    snapped = solve(system, under(4 * FORCE_N), settings=AT_ONCE).state
    back = solve(system, under(FORCE_N), state=snapped, settings=AT_ONCE).state
    assert np.abs(found.state.x - back.x).max() < 1e-6
    assert found.state.x[crown, 1] < 0  # inside out
    fall = [row for row in found.history if row["solve"] == "arch: descent"]
    assert fall and {row["solve"] for row in found.history} == {"arch", "arch: descent"}


def test_a_load_that_is_carried_needs_no_fall():
    system, under, _ = arch()
    settings = Settings(first_step=1.0, smallest_step=0.5, iterations=20, falls=8)
    one, other = (solve(system, under(4 * FORCE_N), settings=s) for s in (AT_ONCE, settings))
    assert np.array_equal(one.state.x, other.state.x)
    assert not any("descent" in row["solve"] for row in other.history)


def test_falls_are_counted_over_the_whole_solve():
    """A bar beyond the largest compression that its law carries has no way down that ends."""
    mesh = block((2, 12), (0.2, 6.0))
    points = mesh.points
    system = System(
        Coordinates(points, np.full(len(points), -1), np.zeros((0, 2))),
        solids=[Solid(points, mesh.cells, law("linear_elastic", E_MPa=1.0, nu=0.0))])
    low, high = (np.flatnonzero(np.abs(points[:, 1] - y) < 1e-9) for y in (0.0, 6.0))
    held = {int(2 * n + 1): 0.0 for n in low} | {int(2 * n): 0.0 for n in range(len(points))}
    force = np.zeros_like(points)
    force[high, 1] = -0.4 * 0.2 / len(high)
    with pytest.raises(ConvergenceError, match="could not be carried") as caught:
        solve(system, lambda t: Load(node_force_N=t * force, held=held), label="bar",
              settings=Settings(first_step=0.5, smallest_step=1 / 32, iterations=15, falls=3))
    rows = [row for row in caught.value.history if row["solve"] == "bar: descent"]
    assert sum(row["iteration"] == 0 for row in rows) == 3

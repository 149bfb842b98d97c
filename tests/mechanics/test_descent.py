"""Past a fold: a shallow arch that snaps over under a load that Newton's method does not carry."""

from dataclasses import replace

import numpy as np
import pytest
from blocks import block, law

from fefoot.errors import ConvergenceError
from fefoot.mechanics.contact import Contact
from fefoot.mechanics.descent import descents
from fefoot.mechanics.iteration import CRAWL, Step
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System

SPAN, DEPTH, RISE = 20.0, 0.4, 1.5
FORCE_N = 0.1
SIDE = 1e-3
"""Side force on the column over its load."""
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


@pytest.mark.parametrize(("falls", "made"), [(0, 0), (1, 1), (8, 2)])
def test_falls_are_counted_and_end_where_nothing_is_gained(falls, made):
    """A bar beyond the largest compression that its law carries has no way down that helps."""
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
              settings=Settings(first_step=0.5, smallest_step=1 / 32, iterations=15, falls=falls))
    assert descents(caught.value.history) == made


def column(load_share):
    """Return a column, held below and pressed by a share of its buckling load, and its top's node.

    Euler's load of a column that is free above: pi^2 E I / (4 L^2), with E / (1 - nu^2) for E.
    """
    length, depth, E = 20.0, 0.4, 100.0
    mesh = block((1, 20), (depth, length))
    points, y = mesh.points, mesh.points[:, 1]
    system = System(
        Coordinates(points, np.full(len(points), -1), np.zeros((0, 2))),
        solids=[Solid(points, mesh.cells, law("linear_elastic", E_MPa=E, nu=0.0))],
        contacts=[Contact("never closed", points, mesh.facets["y1"], mesh.facets["y0"],
                          penalty_MPa_per_mm=1.0)])
    top = np.flatnonzero(y > length - 1e-9)
    force = np.zeros_like(points)
    force[top, 1] = -load_share * np.pi**2 * E * depth**3 / 12 / (4 * length**2) / len(top)
    force[top[0], 0] = SIDE * abs(force[top, 1].sum())
    held = {int(2 * node + axis): 0.0 for node in np.flatnonzero(y < 1e-9) for axis in (0, 1)}
    return system, lambda t: Load(node_force_N=force, held=held), top[0]


@pytest.mark.parametrize(("share", "buckles"), [(0.9, False), (1.2, True)])
def test_only_a_path_that_ends_unstable_settles_before_augmentation(share, buckles):
    """Beyond Euler's load the matrix of a column that is still nearly straight is unstable."""
    system, path, top = column(share)
    settings = Settings(first_step=0.9, near=10.0, step_tolerance=1e-2)
    ends = []
    for settle in (False, True):
        found = solve(system, path, settings=replace(settings, settle=settle), label="column",
                      adjust=lambda load, state, evaluation: (load, 0.0))
        ends.append(found.state.x[top, 0] - system.coordinates.points[top, 0])
        assert descents(found.history) == (settle and buckles)
        assert found.history[-1]["residual"] < settings.tolerance
    assert ends[0] == pytest.approx(ends[1], rel=1e-4) and (ends[0] < 0) == buckles


@pytest.mark.parametrize(("settle", "rows", "reason"), [
    (True, CRAWL, "crawl"), (False, 2 * AT_ONCE.iterations + 1, "no equilibrium after")])
def test_a_pass_whose_corrections_crawl_fails_early(monkeypatch, settle, rows, reason):
    system, path, _ = column(0.9)
    correct, passes = Step._correction, []

    def crawling(step, *args):
        dq, pull, attempt = correct(step, *args)
        return (1e-3 * dq, pull, 5) if passes else (dq, pull, attempt)

    def pushed(load, state, evaluation):
        force = load.node_force_N.copy()
        force[:, 0] += 1e-3 * np.abs(force[:, 1])
        return replace(load, node_force_N=force), 1.0

    monkeypatch.setattr(Step, "_correction", crawling)
    with pytest.raises(ConvergenceError, match=reason) as caught:
        solve(system, path, settings=replace(AT_ONCE, settle=settle), label="column", adjust=pushed,
              listener=passes.append)
    assert len(caught.value.history) == rows + passes[0].iterations + 1

"""Friction with known answers."""

from __future__ import annotations

import numpy as np

from fefoot.errors import ConvergenceError, LinearSolverError
from fefoot.mechanics.contact import Contact
from fefoot.mechanics.mesh import joined
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System

from .elastic import ring
from .record import Benchmark, Row
from .shapes import count, grid, law, traction_forces


def sled(friction=0.3):
    """Return a block on a rigid plate with a rigid lid: the system and the lid's unknowns."""
    block = grid(np.linspace(0, 10, 7), np.linspace(0, 2, 3), prefix="block ")
    plate = grid(np.linspace(-10, 30, 6), np.linspace(-1, 0, 2), prefix="plate ")
    mesh, first = joined(block, plate)
    points = mesh.points
    body = np.full(len(points), -1)
    body[mesh.nodes["block y1"]] = 0
    body[first[1]:] = 1
    co = Coordinates(points, body, np.array([[5.0, 2.0], [5.0, -1.0]]))
    contact = Contact("sole", points, mesh.facets["block y0"], mesh.facets["plate y1"],
                      penalty_MPa_per_mm=20.0, friction=friction)
    own = len(block.cells)
    system = System(co, contacts=[contact], solids=[
        Solid(points, mesh.cells[:own], law("neo_hookean", E_MPa=1.0, nu=0.3))])
    return system, np.arange(co.size)[co.body_slice(0)], np.arange(co.size)[co.body_slice(1)], mesh


def coulomb():
    """Push a pressed block sideways: by a given distance, and by given forces."""
    normal, mu = 1.0, 0.3
    system, lid, plate, mesh = sled(mu)
    still = {int(k): 0.0 for k in [*plate, lid[2]]}
    settings = Settings(first_step=0.1, tolerance=1e-8, passes=80)
    down = {0: np.array([0.0, -normal, 0.0])}
    # the lid is lowered first, so that the block touches before it is pushed
    low = solve(system, lambda t: Load(held=still | {int(lid[1]): -0.1 * t, int(lid[0]): 0.0}),
                settings=settings)
    pressed = solve(system, lambda t: Load(body_force=down, held=still | {int(lid[0]): 0.0}),
                    state=low.state, memory=low.memory, settings=settings)
    slid = solve(system, lambda t: Load(
        body_force=down, held=still | {int(lid[0]): 2.0 * t}),
        state=pressed.state, memory=pressed.memory, settings=settings)
    status = slid.evaluation.status[0]
    rows = [Row("tangential / normal force when sliding", mu,
                abs(status.force_N[0] / status.force_N[1]), "Coulomb", "recalled", 0.01,
                "common practice, no source: 1-3 %", count(mesh))]
    for share in (0.9, 1.1):
        push = {0: np.array([share * mu * normal, -normal, 0.0])}

        def path(t, push=push):
            return Load(body_force={0: down[0] + t * (push[0] - down[0])}, held=still)

        try:
            state = solve(system, path, state=pressed.state, memory=pressed.memory,
                          settings=settings).state
            moved = float(state.centre[0, 0] - pressed.state.centre[0, 0])
        except (ConvergenceError, LinearSolverError):
            moved = np.inf
        rows.append(Row(
            f"holds under {share} of the sliding force (1 yes, 0 no)", float(share < 1),
            float(moved < 1.0), "tan(incline) against mu", "recalled", 0.0,
            "yes or no", count(mesh), scale=1.0))
    return rows


def capstan(radius=10.0, thick=0.2, friction=0.3, pull_N=0.02):
    """A strip over a quarter of a fixed drum: one end carries a weight, the other is drawn along.

    The strip's middle line runs at radius + thick/2 and the friction at the radius, so that
    dT = mu T r / (r + thick/2) d theta.
    """
    strip = ring(radius, radius + thick, 60, 1)
    angle = np.linspace(-0.1, np.pi / 2 + 0.1, 160)
    round_ = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    middle = radius * np.column_stack([np.cos(0.5 * (angle[1:] + angle[:-1])),
                                       np.sin(0.5 * (angle[1:] + angle[:-1]))])
    drum = np.vstack([round_, middle])
    points = np.vstack([strip.points, drum])
    riding = np.full(len(points), -1)
    riding[len(strip.points):] = 0
    co = Coordinates(points, riding, np.zeros((1, 2)))
    first = len(strip.points)
    count_ = len(round_)
    facets = first + np.column_stack([np.arange(count_ - 1), np.arange(1, count_),
                                      count_ + np.arange(count_ - 1)])
    contact = Contact("drum", points, strip.facets["y0"], facets, penalty_MPa_per_mm=1.0,
                      friction=friction)
    system = System(co, contacts=[contact], solids=[
        Solid(points, strip.cells, law("linear_elastic", E_MPa=100.0, nu=0.0))])
    still = {int(k): 0.0 for k in np.arange(co.size)[co.body_slice(0)]}
    weight = traction_forces(points, strip.facets["x0"],
                             lambda x, n: np.array([-pull_N / thick, 0.0]))
    drawn = strip.nodes["x1"]
    settings = Settings(first_step=0.1, tolerance=1e-7, passes=80, force_scale_N=pull_N)

    def held_at(y):
        return still | {int(2 * n + 1): y for n in drawn}

    taut = solve(system, lambda t: Load(node_force_N=t * weight, held=held_at(0.0)),
                 settings=settings)
    slid = solve(system, lambda t: Load(node_force_N=weight, held=held_at(-0.3 * t)),
                 state=taut.state, memory=taut.memory, settings=settings)
    drawn_N = abs(slid.evaluation.residual[2 * drawn + 1].sum())
    bend = 0.5 * np.pi * friction * radius / (radius + thick / 2)
    return [Row("force over weight", np.exp(bend), drawn_N / pull_N,
                "capstan T2 = T1 e^(mu theta), friction at the strip's inner side",
                "recalled", 0.03, "common practice, no source: 1-3 %", count(strip))]


RUBBING = {
    "capstan": Benchmark("Capstan", capstan),
    "coulomb": Benchmark("Coulomb friction of a pressed block", coulomb),
}

"""Cables and rigid bodies with known answers."""

from __future__ import annotations

import numpy as np
from scipy.optimize import brentq

from fefoot.mechanics.cable import Cable
from fefoot.mechanics.joint import Joint, Spring, Stiffness
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System

from .record import Benchmark, Row
from .shapes import free_nodes

TIGHT = Settings(tolerance=1e-9, iterations=200)


def catenary(links=40):
    """A chain of cables under its own weight, started from a sagged and barely taut curve."""
    span, length, weight, stiffness = 2.0, 2.5, 1.0, 2e3
    def parabola(sag):
        return np.column_stack([span * s, -4 * sag * s * (1 - s)])

    def along(curve):
        return np.concatenate([[0], np.linalg.norm(np.diff(curve, axis=0), axis=1).cumsum()])

    s = np.linspace(0, 1, 2001)
    curve = parabola(brentq(lambda sag: along(parabola(sag))[-1] - 1.01 * length, 0.1, 2.0))
    at = np.linspace(0, 1, links + 1) * along(curve)[-1]
    points = np.column_stack([np.interp(at, along(curve), curve[:, i]) for i in (0, 1)])
    slack = length / links
    system = System(free_nodes(points), cables=[
        Cable(f"link {i}", (i, i + 1), stiffness / slack, slack) for i in range(links)])
    force = np.zeros_like(points)
    force[:, 1] = -weight * slack
    force[[0, -1]] *= 0.5
    ends = {0: 0.0, 1: 0.0, 2 * links: 0.0, 2 * links + 1: 0.0}
    solution = solve(system, lambda t: Load(node_force_N=force, held=ends), settings=TIGHT)
    tension = np.array([c.tension(solution.state.x) for c in system.cables])
    reaction = solution.evaluation.residual[:2]
    sag = -solution.state.x[:, 1].min()
    source = "Irvine 1981: L = 2c sinh(s/2c), H = w c, Tmax = w (c + sag)"
    why, size = "common practice, no source, 20 or more links", f"{links} links"
    return [
        Row("sag, span 2, length 2.5 [mm]", 0.66359, sag, source, "computed", 0.01, why, size),
        Row("horizontal reaction / w", 0.84550, abs(reaction[0]), source, "computed", 0.01, why,
            size),
        Row("reaction at the support / w", 1.50910, float(np.hypot(*reaction)), source,
            "computed", 0.01, why, size),
        Row("smallest tension / smallest possible", 1.0, tension.min() / 0.84550,
            "no link is compressed; at the bottom T = H", "computed", 0.01, why, size)]


def trusses():
    """Three cables from a beam to one loaded node."""
    angle, height, stiffness, load = np.pi / 4, 10.0, 1e6, 1.0
    side = height * np.tan(angle)
    points = np.array([[-side, 0], [0, 0], [side, 0], [0, -height]])
    co = free_nodes(points)
    lengths = np.linalg.norm(points[:3] - points[3], axis=1)
    system = System(co, cables=[
        Cable(f"bar {i}", (i, 3), stiffness / lengths[i], lengths[i]) for i in range(3)])
    force = np.zeros_like(points)
    force[3, 1] = -load
    # nothing is taut at rest: start a little lower
    start = co.moved(co.start(), np.array([0, 0, 0, 0, 0, 0, 0, -1e-5]))
    solution = solve(system, lambda t: Load(
        node_force_N=force, held={k: 0.0 for k in range(6)}), state=start, settings=TIGHT)
    tension = [c.tension(solution.state.x) for c in system.cables]
    share = 1 + 2 * np.cos(angle) ** 3
    source = "T0 = P / (1 + 2 cos3 b), T1 = T0 cos2 b (equal EA, small displacement)"
    why = "displacement is 1e-6 of the length"
    return [
        Row("middle tension [N]", load / share, tension[1], source, "computed", 1e-4, why,
            "3 bars"),
        Row("outer tension [N]", load * np.cos(angle) ** 2 / share, tension[0], source, "computed",
            1e-4, why, "3 bars")]


def pendulum(links=4):
    """A hanging chain of rigid links under their weights and a horizontal end force."""
    length, weight, pull = 10.0, 2.0, 3.0
    top = np.array([[0.0, -length * i] for i in range(links)])
    low = top - [0, length]
    # nodes: the support, then the top and bottom node of each link
    points = np.vstack([[[0.0, 0.0]], np.stack([top, low], 1).reshape(-1, 2)])
    body = np.concatenate([[-1], np.repeat(np.arange(links), 2)])
    co = Coordinates(points, body, 0.5 * (top + low))
    stiff = (1e4, 1e4)
    system = System(co, springs=[
        Spring(f"hinge {i}", 2 * i, 2 * i + 1, stiff, (0.0, 0.0)) for i in range(links)])
    force = np.zeros_like(points)
    force[2 * links, 0] = pull
    down = {i: np.array([0.0, -weight, 0.0]) for i in range(links)}
    solution = solve(system, lambda t: Load(
        node_force_N=t * force, body_force=down, held={0: 0.0, 1: 0.0}),
        settings=Settings(first_step=0.1, iterations=100))
    carried = weight * (links - np.arange(links) - 0.5)
    target = np.arctan2(pull, carried)
    return [Row(f"angle of link {i + 1} [rad]", target[i], solution.state.angle[i, 0],
                "moments about each hinge: tan a = H / (weights below + half its own)", "computed",
                1e-7, "exact: springs at the hinges move no lever", f"{links} rigid bodies")
            for i in range(links)]


def hinges():
    """A hinge with a stiffening law, and a ball joint, under known moments."""
    law_hinge, moment = Stiffness(500.0, 0.3, 0.5), 400.0
    points = np.array([[0.0, 0.0], [0.0, 0.0]])
    co = Coordinates(points, np.array([0, 1]), np.zeros((2, 2)))
    system = System(co, joints=[Joint("hinge", 0, 1, (law_hinge,))],
                    springs=[Spring("pin", 0, 1, (1e3, 1e3), (0.0, 0.0))])
    hold = {int(k): 0.0 for k in range(co.first_body, co.first_body + 3)}
    rows = []
    for sign, limit in ((1, 0.3), (-1, 0.5)):
        solution = solve(system, lambda t, sign=sign: Load(
            body_force={1: np.array([0, 0, sign * moment])}, held=hold),
            settings=Settings(force_scale_N=1.0, largest_move_mm=1e9))
        target = brentq(lambda a, r=limit: 500 * a * (1 + (a / r) ** 2) - moment, 0, 2)
        rows.append(Row(
            f"hinge angle, {'plus' if sign > 0 else 'minus'} side [rad]", sign * target,
            solution.state.angle[1, 0], "M = k a (1 + (a / range)^2)", "computed", 1e-8, "exact",
            "2 rigid bodies"))
    points = np.zeros((2, 3))
    co = Coordinates(points, np.array([0, 1]), np.zeros((2, 3)))
    axes = np.linalg.qr(np.random.default_rng(4).normal(size=(3, 3)))[0]
    system = System(co, joints=[Joint("ball", 0, 1, (Stiffness(500.0),) * 3, axes)],
                    springs=[Spring("pin", 0, 1, (1e3,) * 3, (0.0,) * 3)])
    hold = {int(k): 0.0 for k in range(6)}
    way = np.array([1.0, 2.0, -2.0]) / 3
    solution = solve(system, lambda t: Load(
        body_force={1: np.concatenate([np.zeros(3), t * moment * way])}, held=hold),
        settings=Settings(force_scale_N=1.0, first_step=0.25))
    turn = system.joints[0].relative_rad(solution.state) @ axes
    rows += [Row(f"ball rotation about {axis} [rad]", moment / 500 * way[i], turn[i],
                 "phi = M / k about the moment's own axis", "computed", 1e-8, "exact",
                 "2 rigid bodies") for i, axis in enumerate("xyz")]
    return rows


BODIES = {
    "catenary": Benchmark("Catenary of tension-only links", catenary),
    "trusses": Benchmark("Three-bar truss of cables", trusses),
    "pendulum": Benchmark("Chain of rigid links", pendulum),
    "hinges": Benchmark("Hinge and ball under known moments", hinges),
}

"""Contact problems with exact answers; Hertz stands in ``hertz.py``, punches in ``punch.py``."""

from __future__ import annotations

import numpy as np

from fefoot.mechanics.contact import Contact
from fefoot.mechanics.mesh import joined
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System

from .record import Benchmark, Row
from .shapes import count, free_nodes, grid, held, law, traction_forces

TIGHT = Settings(pressure_change=1e-5, penetration_mm=1e-4, tolerance=1e-7, passes=60)


def blocks(dim, law_name="neo_hookean"):
    """Press two blocks with different meshes together; return relative spread of the pressure."""
    sides = (10.0, 4.0, 8.0)[:dim]
    low = grid(*[np.linspace(0, s, n + 1) for s, n in zip(sides, (5, 3, 4), strict=False)],
               prefix="low ")
    high = grid(*[np.linspace(0, s, n + 1) for s, n in zip(sides, (7, 3, 5), strict=False)],
                place=lambda p: p + np.array([0, 4, 0])[:dim], prefix="high ")
    mesh, _ = joined(low, high)
    contact = Contact("pair", mesh.points, mesh.facets["high y0"], mesh.facets["low y1"],
                      penalty_MPa_per_mm=10.0)
    response = law(law_name, E_MPa=1.0, nu=0.3)
    system = System(free_nodes(mesh.points), solids=[Solid(mesh.points, mesh.cells, response)],
                    contacts=[contact])
    still = [(mesh.nodes["low y0"], 1, 0.0)]
    still += [(np.concatenate([mesh.nodes[f"{part} {axis}0"] for part in ("low", "high")]), i, 0.0)
              for i, axis in ((0, "x"), (2, "z"))[: dim - 1]]
    solution = solve(
        system, lambda t: Load(held=held(dim, *still, (mesh.nodes["high y1"], 1, -0.4 * t))),
        settings=Settings(pressure_change=1e-6, penetration_mm=1e-5, tolerance=1e-9, passes=60))
    return mesh, system, solution


def patch():
    """A uniform pressure across meshes that do not match."""
    rows = []
    for dim in (2, 3):
        mesh, system, solution = blocks(dim)
        pressure = solution.evaluation.status[0].pressure_MPa
        stress = system.solids[0].stress(solution.state.x)[0][..., 1, 1]
        source = "Taylor & Papadopoulos 1991: exact constant stress"
        why = "1-3 % is common practice for a penalty, no source; here the multipliers stop at 1e-6"
        rows += [
            Row(f"largest / smallest pressure, {dim}D", 1.0, pressure.max() / pressure.min(),
                source, "recalled", 1e-5 if dim == 2 else 1e-3,
                why if dim == 2 else "cells are not split at the kinks of the hat functions; the "
                "bar is 1 %", count(mesh)),
            Row(f"largest / smallest normal stress, {dim}D", 1.0, stress.min() / stress.max(),
                source, "recalled", 1e-5, why, count(mesh))]
    return rows


def signorini():
    """A bar with a gap under an end load that is larger than closes the gap."""
    length, area, E, gap = 10.0, 2.0, 1000.0, 0.001
    mesh = grid(np.linspace(0, 2, 3), np.linspace(0, length, 9), prefix="bar ")
    wall = np.array([[-1.0, -gap], [3.0, -gap], [1.0, -gap]])
    points = np.vstack([mesh.points, wall])
    riding = np.full(len(points), -1)
    riding[-3:] = 0
    co = Coordinates(points, riding, np.array([[0.0, -1.0]]))
    first = len(mesh.points)
    facet = np.array([[first + 1, first, first + 2]])
    contact = Contact("stop", points, mesh.facets["bar y0"], facet, penalty_MPa_per_mm=E)
    system = System(co, contacts=[contact], solids=[
        Solid(points, mesh.cells, law("linear_elastic", E_MPa=E, nu=0.0))])
    still = held(2, (mesh.nodes["bar y1"], 1, 0), (mesh.nodes["bar x0"], 0, 0))
    still |= {int(k): 0.0 for k in np.arange(co.size)[co.body_slice(0)]}
    rows = []
    closing = E * area * gap / length
    for load in (0.5 * closing, 3 * closing):
        force = np.zeros_like(points)
        force += traction_forces(points, mesh.facets["bar y0"],
                                 lambda x, n, load=load: np.array([0.0, -load / area]))
        solution = solve(system, lambda t, f=force: Load(node_force_N=t * f, held=still),
                         settings=TIGHT)
        reaction = solution.evaluation.status[0].force_N[1]
        rows.append(Row(
            f"reaction under {load / closing:g} times the closing load [N]",
            max(0.0, load - closing), reaction, "R = F - EA g/L, else 0", "recalled",
            0.005, "common practice, no source", count(mesh), scale=closing))
        if load > closing:
            gaps = solution.evaluation.status[0].gap_mm
            rows.append(Row("largest |gap| of the loaded end / closing gap", 0.0,
                            np.abs(gaps).max() / gap, "complementarity p g = 0",
                            "recalled", 0.005, "common practice, no source", count(mesh), scale=1.0))
    return rows


TOUCH = {
    "patch": Benchmark("Contact patch test", patch),
    "signorini": Benchmark("Signorini's bar with a gap", signorini),
}

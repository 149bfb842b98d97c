"""Hertz: line and point contact with their pressure profiles."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np

from fefoot.mechanics.contact import Contact
from fefoot.mechanics.mesh import joined
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.system import Load, System

from .punch import indentation
from .record import Benchmark, Row
from .shapes import count, free_nodes, graded, grid, held, law, traction_forces
from .touch import TIGHT

LAW = "neo_hookean"


def profile(place, pressure, shape, inside=0.9):
    """Fit p^2 = p0^2 (1 - r^2/a^2) to the loaded vertices.

    Returns p0, a and the largest departure of p / p0 from ``shape(r / a)`` for r < ``inside`` a.
    """
    use = pressure > 0.5 * pressure.max()
    slope, base = np.polyfit(place[use] ** 2, pressure[use] ** 2, 1)
    peak, width = np.sqrt(base), np.sqrt(-base / slope)
    inside = place < inside * width
    return peak, width, float(
        np.abs(pressure[inside] / peak - shape(place[inside] / width)).max())


@cache
def hertz_line(line_load, penalty=2e6, fine=0.08, tolerance=1e-7):
    """Press a steel cylinder of 50 mm on aluminium; return half width, peak, departure, mesh.

    ``line_load`` in N/mm, ``fine`` is the facet size over the expected half width, ``tolerance`` the
    solver's.
    """
    R, steel, aluminium, nu = 50.0, 210e3, 70e3, 0.3
    modulus = 1 / ((1 - nu**2) / steel + (1 - nu**2) / aluminium)
    width = np.sqrt(4 * line_load * R / (np.pi * modulus))
    step = fine * width

    def cylinder(p):
        angle, t = p[:, 0] / R, p[:, 1][:, None]
        arc = np.column_stack([R * np.sin(angle), R - R * np.cos(angle)])
        top = np.column_stack([arc[:, 0], np.full(len(p), R)])
        return arc + t * (top - arc)

    across = graded(step, 1.4 * R, 1.25, fine=1.5 * width)
    up = graded(step / R, 1.0, 1.25, fine=width / R)
    upper = grid(across, up, place=cylinder, prefix="cylinder ")
    across = graded(step * 1.07, 2 * R, 1.25, fine=1.5 * width)
    down = graded(step, 4 * R, 1.25, fine=width)
    lower = grid(across, -down[::-1], prefix="block ")
    mesh, _first = joined(lower, upper)
    points = mesh.points
    top, ground = mesh.facets["block y1"], mesh.facets["cylinder y0"]
    top = top[points[top[:, 2], 0] < 3 * width]
    ground = ground[points[ground[:, 2], 0] < 6 * width]
    contact = Contact("line", points, top, ground, penalty_MPa_per_mm=penalty / width)
    own = len(lower.cells)
    system = System(
        free_nodes(points), contacts=[contact],
        solids=[Solid(points, mesh.cells[:own], law(LAW, E_MPa=aluminium, nu=nu)),
                Solid(points, mesh.cells[own:], law(LAW, E_MPa=steel, nu=nu))])
    still = held(2, (np.concatenate([mesh.nodes["block x0"], mesh.nodes["cylinder x0"]]), 0, 0),
                 (mesh.nodes["block y0"], 1, 0))
    lid = mesh.nodes["cylinder y1"]
    reach = points[mesh.facets["cylinder y1"][:, :2], 0].max()
    down_force = traction_forces(
        points, mesh.facets["cylinder y1"],
        lambda x, n: np.array([0.0, -0.5 * line_load / reach]))
    settle = 0.5 * width**2 / R
    start = solve(system, lambda t: Load(held=still | held(2, (lid, 1, -settle * t))),
                  settings=Settings(tolerance=1e-6, first_step=0.5), augment=False)
    solution = solve(system, lambda t: Load(node_force_N=down_force, held=still),
                     state=start.state, memory=start.memory,
                     settings=replace(TIGHT, tolerance=tolerance))
    status = solution.evaluation.status[0]
    x = solution.state.x
    place = x[contact.vertices, 0]
    # the pressure is per reference length: half of each piece between nodes belongs to either end
    pieces = np.concatenate([contact.vertex[:, [0, 2]], contact.vertex[:, [2, 1]]])
    nodes = contact.vertices[pieces]
    now, before = (
        np.bincount(pieces.ravel(),
                    np.repeat(np.linalg.norm(p[nodes[:, 1]] - p[nodes[:, 0]], axis=1), 2))
        for p in (x, points))
    peak, half, departure = profile(
        place, status.pressure_MPa * before / now, lambda s: np.sqrt(np.maximum(1 - s**2, 0)))
    return dict(half_width_mm=half, peak_MPa=peak, departure=departure, mesh=count(mesh),
                exact_width_mm=width, exact_peak_MPa=2 * line_load / (np.pi * width),
                force_N=-status.force_N[1], highest_MPa=status.pressure_MPa.max())


def hertz_rows(*loads, fine=0.08, tolerance=1e-7):
    """Return the rows of the line contact under (load, tolerance, why)."""
    rows = []
    source = "Hertz: a = sqrt(4F'R/(pi E*)), p0 = 2F'/(pi a)"
    for load, tolerance, why in loads:
        found = hertz_line(load, 2e6, fine, tolerance)
        tag = f"{load / 1e3:g} kN/mm"
        rows += [
            Row(f"half width, {tag} [mm]", found["exact_width_mm"], found["half_width_mm"], source,
                "computed", tolerance, why, found["mesh"]),
            Row(f"peak pressure, {tag} [MPa]", found["exact_peak_MPa"], found["peak_MPa"], source,
                "computed", tolerance, why, found["mesh"]),
            Row(f"departure from the half circle, {tag}, share of p0", 0.0, found["departure"],
                "p = p0 sqrt(1 - x2/a2)", "recalled", 0.03,
                "pressure is linear between vertices; inside 0.9 a", found["mesh"], scale=1.0),
            Row(f"contact force on the half model, {tag} [N]", load / 2, found["force_N"],
                "equilibrium", "computed", 1e-6, "exact at convergence", found["mesh"])]
    return rows


def hertz_nafems():
    """Hertz, line contact: the NAFEMS case."""
    return hertz_rows((
        35e3, 0.03,
        "common practice, no source: 2-3 % fine; strains reach 5 %, where the law matters: "
        "neo-Hookean here, Saint Venant-Kirchhoff is 5.5 % wide, 2.9 % low"))


def hertz_light():
    """Hertz, line contact, at a hundredth of the NAFEMS load."""
    # half the facets of the heavy load's: where the edge of contact cuts a facet, the pressure of the
    # facets next to it is rough, and has to lie outside the 0.9 a that are compared
    return hertz_rows((350.0, 0.01, "a/R = 0.012, so that Hertz's half-spaces hold"), fine=0.04,
                      tolerance=1e-6)


def penalty_independence():
    """The answer with a doubled penalty."""
    one, two = (hertz_line(35e3, penalty, 0.08, 1e-7) for penalty in (2e6, 4e6))
    return [Row("peak pressure with twice the penalty, Hertz line [MPa]", one["highest_MPa"],
                    two["highest_MPa"], "augmented Lagrangian: independent of the penalty",
                    "computed", 0.01, "common practice, no source", one["mesh"])]


def hertz_sphere():
    """Hertz, point contact: rigid sphere on a half-space."""
    size, depth = 1.0, 0.01
    found = indentation("sphere", size, depth)
    source = "Hertz: F = 4/3 E* sqrt(R) d^1.5, p0 = 3F/(2 pi a2), a2 = R d"
    force = 4 / 3 * found["modulus"] * size * depth
    peak, width, departure = profile(
        found["place"], found["pressure"], lambda s: np.sqrt(np.maximum(1 - s**2, 0)), 0.8)
    return [
        Row("force [N]", force, found["force_N"], source, "recalled", 0.03,
            "common practice, no source: 2 %, and 1 % for the base that ends at 50 a", found["mesh"]),
        Row("contact radius [mm]", size, width, source, "recalled", 0.5 / 12,
            "half a facet, in which the edge of contact lies; no published tolerance",
            found["mesh"]),
        Row("peak pressure [MPa]", 1.5 * force / (np.pi * size**2), peak, source, "recalled", 0.05,
            "common practice, no source", found["mesh"]),
        Row("departure from the half sphere, share of p0", 0.0, departure, "p0 sqrt(1 - r2/a2)",
            "recalled", 0.05, "twelve facets across the radius; inside 0.8 a", found["mesh"],
            scale=1.0)]


HERTZ = {
    "hertz_nafems": Benchmark("Hertz, steel cylinder on aluminium (NAFEMS)", hertz_nafems),
    "hertz_light": Benchmark("Hertz, the same under a hundredth of the load", hertz_light,
                             slow=True),
    "penalty_independence": Benchmark("Penalty doubled", penalty_independence),
    "hertz_sphere": Benchmark("Hertz, rigid sphere on a half-space", hertz_sphere, slow=True),
}

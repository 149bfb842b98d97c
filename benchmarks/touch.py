"""Contact problems with known answers."""

from __future__ import annotations

from functools import cache

import numpy as np

from fefoot.mechanics.contact import Contact
from fefoot.mechanics.mesh import joined
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System

from .record import Benchmark, Row
from .shapes import count, extruded, graded, grid, held, law, traction_forces

LAW = "neo_hookean"
TIGHT = Settings(pressure_change=1e-5, penetration_mm=1e-4, tolerance=1e-7, passes=60)


def free_nodes(points):
    """Return coordinates in which no node rides on a body."""
    return Coordinates(points, np.full(len(points), -1), np.zeros((0, points.shape[1])))


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
        source = "Taylor & Papadopoulos 1991 (5.21): exact constant stress"
        why = "references 5.21 accept 1-3 % for a penalty; here the multipliers stop at 1e-6"
        rows += [
            Row(f"largest / smallest pressure, {dim}D", 1.0, pressure.max() / pressure.min(),
                source, "recalled", 1e-5 if dim == 2 else 1e-3,
                why if dim == 2 else "cells are not split at the kinks of the hat functions; the "
                "bar is 1 %", count(mesh)),
            Row(f"largest / smallest normal stress, {dim}D", 1.0, stress.min() / stress.max(),
                source, "recalled", 1e-5, why, count(mesh))]
    return rows


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
def hertz_line(line_load, penalty=2e6, fine=0.08):
    """Press a steel cylinder of 50 mm on aluminium; return half width, peak, departure, mesh.

    ``line_load`` in N/mm, ``fine`` is the facet size over the expected half width.
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
                     state=start.state, memory=start.memory, settings=TIGHT)
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


def hertz_rows(*loads):
    """Return the rows of the line contact under (load, tolerance, why)."""
    rows = []
    source = "Hertz: a = sqrt(4F'R/(pi E*)), p0 = 2F'/(pi a) (5.10)"
    for load, tolerance, why in loads:
        found = hertz_line(load)
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
        "references 5.10: 2-3 % fine; strains reach 5 %, where the law matters: "
        "neo-Hookean here, Saint Venant-Kirchhoff is 5.5 % wide, 2.9 % low"))


def hertz_light():
    """Hertz, line contact, at a hundredth of the NAFEMS load."""
    return hertz_rows((350.0, 0.01, "a/R = 0.012, so that Hertz's half-spaces hold"))


def penalty_independence():
    """The answer with a doubled penalty."""
    one, two = hertz_line(35e3), hertz_line(35e3, penalty=4e6)
    return [Row("peak pressure with twice the penalty, Hertz line [MPa]", one["highest_MPa"],
                    two["highest_MPa"], "augmented Lagrangian: independent of the penalty",
                    "computed", 0.01, "references 5.21 and design.md 7", one["mesh"])]


def disc(radii, sectors):
    """Triangulate a quarter disc with rings at ``radii``, the first of which is 0."""
    angle = np.linspace(0, np.pi / 2, sectors + 1)
    points = [np.zeros((1, 2))] + [r * np.column_stack([np.cos(angle), np.sin(angle)])
                                   for r in radii[1:]]
    triangles = [[0, 1 + k, 2 + k] for k in range(sectors)]
    for ring in range(1, len(radii) - 1):
        a, b = 1 + (ring - 1) * (sectors + 1), 1 + ring * (sectors + 1)
        for k in range(sectors):
            triangles += [[a + k, b + k, b + k + 1], [a + k, b + k + 1, a + k + 1]]
    return np.vstack(points), np.array(triangles)


def indenter(height, radii, sectors, first=0.0):
    """Return a rigid face y = height(r) over a quarter disc, facing down: points and facets."""
    from fefoot.mechanics.mesh import quadratic

    flat, triangles = disc(radii, sectors)
    points, cells = quadratic(flat, triangles)
    # (x, z) turned counter-clockwise faces down, -y
    r = np.linalg.norm(points, axis=1)
    out = np.column_stack([points[:, 0], first + height(r), points[:, 1]])
    return out, cells


@cache
def indentation(kind, size=1.0, depth=0.01):
    """Indent a quarter half-space with a rigid sphere or flat punch; small strain, nu 0.3.

    ``size`` is the contact radius aimed at. Returns force, pressures and places.
    """
    E, nu = 1.0, 0.3
    if kind == "sphere":
        radius = size**2 / depth
        height = lambda r: radius - np.sqrt(radius**2 - r**2)  # noqa: E731
    else:
        # the contact surface ends at the punch's edge, the face reaches past it
        height = lambda r: 0 * r  # noqa: E731
    rim = 2 * size
    fine = (1.25 if kind == "sphere" else 1.0) * size
    radii = graded(size / 12, 50 * size, 2.2, fine=fine)
    sectors = 5
    flat, triangles = disc(radii, sectors)
    levels = graded(0.12 * size, 50 * size, 1.8, fine=0.24 * size)

    def place(p):
        # nodes on the chords of a ring move out to its circle
        half = 0.25 * np.pi / sectors
        r, angle = np.hypot(p[:, 0], p[:, 1]), np.arctan2(p[:, 1], p[:, 0])
        off = angle - half * (2 * np.minimum(angle // (2 * half), sectors - 1) + 1)
        bulge = np.where(r > 0, np.cos(off) / np.cos(half), 1.0)
        return np.column_stack([p[:, 0] * bulge, -p[:, 2], p[:, 1] * bulge])

    body = extruded(flat, triangles, levels, place, prefix="base ")
    face, facets = indenter(height, np.linspace(0, rim, 13), 7)
    points = np.vstack([body.points, face])
    riding = np.full(len(points), -1)
    riding[len(body.points):] = 0
    co = Coordinates(points, riding, np.zeros((1, 3)))
    top = body.facets["base z0"]
    top = top[np.linalg.norm(points[top[:, :3]][..., [0, 2]].mean(1), axis=1)
              < (2 if kind == "sphere" else 1) * size]
    contact = Contact("indenter", points, top, facets + len(body.points),
                      penalty_MPa_per_mm=20 * E / size)
    system = System(co, solids=[Solid(points, body.cells, law("linear_elastic", E_MPa=E, nu=nu))],
                    contacts=[contact])
    r = np.linalg.norm(body.points[:, [0, 2]], axis=1)
    far = np.flatnonzero((r > 49.9 * size) | (body.points[:, 1] < -49.9 * size))
    still = held(3, (np.flatnonzero(np.abs(body.points[:, 0]) < 1e-12), 0, 0),
                 (np.flatnonzero(np.abs(body.points[:, 2]) < 1e-12), 2, 0),
                 *[(far, axis, 0) for axis in range(3)])
    bodily = np.arange(co.size)[co.body_slice(0)]

    def path(t):
        fixed = {int(k): 0.0 for k in bodily}
        fixed[int(bodily[1])] = -depth * t
        return Load(held=still | fixed)

    solution = solve(system, path, settings=Settings(
        pressure_change=1e-3, penetration_mm=2e-3 * depth, tolerance=1e-6, passes=60))
    status = solution.evaluation.status[0]
    distance = np.linalg.norm(points[contact.vertices][:, [0, 2]], axis=1)
    return dict(force_N=-4 * solution.evaluation.residual[bodily[1]], place=distance,
                pressure=status.pressure_MPa, mesh=count(body), modulus=E / (1 - nu**2))


def hertz_sphere():
    """Hertz, point contact: rigid sphere on a half-space."""
    size, depth = 1.0, 0.01
    found = indentation("sphere", size, depth)
    source = "Hertz: F = 4/3 E* sqrt(R) d^1.5, p0 = 3F/(2 pi a2), a2 = R d (5.11)"
    force = 4 / 3 * found["modulus"] * size * depth
    peak, width, departure = profile(
        found["place"], found["pressure"], lambda s: np.sqrt(np.maximum(1 - s**2, 0)), 0.8)
    return [
        Row("force [N]", force, abs(found["force_N"]), source, "recalled", 0.03,
            "references 5.11: 2 %, and 1 % for the base that ends at 50 a", found["mesh"]),
        Row("contact radius [mm]", size, width, source, "recalled", 0.5 / 12,
            "half a facet, in which the edge of contact lies; no published tolerance",
            found["mesh"]),
        Row("peak pressure [MPa]", 1.5 * force / (np.pi * size**2), peak, source, "recalled", 0.05,
            "references 5.11", found["mesh"]),
        Row("departure from the half sphere, share of p0", 0.0, departure, "p0 sqrt(1 - r2/a2)",
            "recalled", 0.05, "twelve facets across the radius; inside 0.8 a", found["mesh"],
            scale=1.0)]


def flat_punch():
    """A rigid flat round punch on a half-space."""
    size, depth = 1.0, 0.002
    found = indentation("flat", size, depth)
    force = 2 * size * found["modulus"] * depth
    centre = found["pressure"][np.argmin(found["place"])]
    return [
        Row("force [N]", force, abs(found["force_N"]), "F = 2 a E* d (5.12)", "recalled", 0.03,
            "references 5.12: 2-3 %; the edge is singular", found["mesh"]),
        Row("pressure at the centre [MPa]", force / (2 * np.pi * size**2), centre,
            "p = F/(2 pi a sqrt(a2 - r2)) (5.12)", "recalled", 0.05,
            "away from the edge; five per cent for the coarse mesh", found["mesh"])]


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
            max(0.0, load - closing), reaction, "R = F - EA g/L, else 0 (5.22)", "recalled",
            0.005, "references 5.22", count(mesh), scale=closing))
        if load > closing:
            gaps = solution.evaluation.status[0].gap_mm
            rows.append(Row("largest |gap| of the loaded end / closing gap", 0.0,
                            np.abs(gaps).max() / gap, "complementarity p g = 0 (5.22)",
                            "recalled", 0.005, "references 5.22", count(mesh), scale=1.0))
    return rows


TOUCH = {
    "patch": Benchmark("Contact patch test", patch),
    "hertz_nafems": Benchmark("Hertz, steel cylinder on aluminium (NAFEMS)", hertz_nafems),
    "hertz_light": Benchmark("Hertz, the same under a hundredth of the load", hertz_light,
                             slow=True),
    "penalty_independence": Benchmark("Penalty doubled", penalty_independence),
    "hertz_sphere": Benchmark("Hertz, rigid sphere on a half-space", hertz_sphere, slow=True),
    "flat_punch": Benchmark("Rigid flat punch on a half-space", flat_punch, slow=True),
    "signorini": Benchmark("Signorini's bar with a gap", signorini),
}

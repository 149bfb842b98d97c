"""Rigid indenters: flat punches on a half-space and on a bonded layer; the sphere of Hertz."""

from __future__ import annotations

from functools import cache

import numpy as np

from fefoot.mechanics.contact import Contact
from fefoot.mechanics.mesh import quadratic
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System

from .record import Benchmark, Row
from .shapes import count, extruded, graded, grid, held, law

EDGE = 0.02
"""Facet size at the edge of a flat punch over its radius."""
KAPPA = {(1.0, 0.3): 2.484, (1.0, 0.45): 3.091, (1.0, 0.475): 3.313,
         (1.5, 0.475): 5.190}
"""Punch on a bonded layer, by a/h and nu (Hayes et al. 1972; computed from the Fredholm equation)."""


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
    flat, triangles = disc(radii, sectors)
    points, cells = quadratic(flat, triangles)
    # (x, z) turned counter-clockwise faces down, -y
    r = np.linalg.norm(points, axis=1)
    out = np.column_stack([points[:, 0], first + height(r), points[:, 1]])
    return out, cells


def round_base(radii, levels, sectors):
    """Return a quarter of a cylinder with circular rings at ``radii``, top y = 0, down ``levels``."""
    flat, triangles = disc(radii, sectors)

    def place(p):
        # nodes on the chords of a ring move out to its circle
        half = 0.25 * np.pi / sectors
        r, angle = np.hypot(p[:, 0], p[:, 1]), np.arctan2(p[:, 1], p[:, 0])
        off = angle - half * (2 * np.minimum(angle // (2 * half), sectors - 1) + 1)
        bulge = np.where(r > 0, np.cos(off) / np.cos(half), 1.0)
        return np.column_stack([p[:, 0] * bulge, -p[:, 2], p[:, 1] * bulge])

    return extruded(flat, triangles, levels, place, prefix="base ")


def edged(size, first, inward, outward, last):
    """Return coordinates from 0 to ``last``, finest on both sides of ``size``.

    Steps start with ``first`` and grow by the ratios ``inward`` and ``outward``.
    """
    inside = graded(first / inward, size, inward)
    outside = graded(first / outward, last - size, outward)
    return np.concatenate([size - inside[::-1], size + outside[1:]])


def facet_forces(points, facets, vertices, pressure):
    """Return the force (k,) N on quadratic facets whose pressure is linear between nodes.

    The nodes cut a facet into four triangles of the same area: its corners belong to one of them,
    its midsides to three.
    """
    p = pressure[np.searchsorted(vertices, facets)]
    a, b, c = (points[facets[:, i]] for i in range(3))
    area = 0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1)
    return area / 12 * (p[:, :3].sum(1) + 3 * p[:, 3:].sum(1))


@cache
def indentation(kind, size=1.0, depth=0.01, nu=0.3, layer=None, far=50.0):
    """Indent a quarter half-space, or a bonded ``layer``, with a rigid sphere or flat punch.

    Small strain; ``size`` is the contact radius aimed at, ``far`` the size of the base in radii.
    Returns force, pressures and places.
    """
    E = 1.0
    if kind == "sphere":
        sectors, penalty, radius = 5, 20 * E / size, size**2 / depth
        height = lambda r: radius - np.sqrt(radius**2 - r**2)  # noqa: E731
        radii = graded(size / 12, far * size, 2.2, fine=1.25 * size)
        levels = graded(0.12 * size, far * size, 1.8, fine=0.24 * size)
        face = np.linspace(0, 2 * size, 13), 7
    else:
        # the contact surface ends at the punch's edge, the face reaches past it
        sectors, penalty, height = 6, 400 * E / size, lambda r: 0 * r
        reach = far * size if layer is None else size + 5 * layer
        radii = edged(size, EDGE * size, 1.6, 2.2, reach)
        levels = graded(0.5 * EDGE * size, layer or far * size, 2.0)
        face = np.array([0.0, 3 * size]), 1
    body = round_base(radii, levels, sectors)
    face, facets = indenter(height, *face)
    points = np.vstack([body.points, face])
    riding = np.full(len(points), -1)
    riding[len(body.points):] = 0
    co = Coordinates(points, riding, np.zeros((1, 3)))
    top = body.facets["base z0"]
    top = top[np.linalg.norm(points[top[:, :3]][..., [0, 2]], axis=2).max(1)
              < (2 if kind == "sphere" else 1 + 1e-9) * size]
    contact = Contact("indenter", points, top, facets + len(body.points),
                      penalty_MPa_per_mm=penalty)
    system = System(co, solids=[Solid(points, body.cells, law("linear_elastic", E_MPa=E, nu=nu))],
                    contacts=[contact])
    r = np.linalg.norm(body.points[:, [0, 2]], axis=1)
    fixed = np.flatnonzero(
        (r > 0.998 * radii[-1]) | (body.points[:, 1] < -0.998 * levels[-1]))
    still = held(3, (np.flatnonzero(np.abs(body.points[:, 0]) < 1e-12), 0, 0),
                 (np.flatnonzero(np.abs(body.points[:, 2]) < 1e-12), 2, 0),
                 *[(fixed, axis, 0) for axis in range(3)])
    bodily = np.arange(co.size)[co.body_slice(0)]

    def path(t):
        pushed = {int(k): 0.0 for k in bodily}
        pushed[int(bodily[1])] = -depth * t
        return Load(held=still | pushed)

    # under a singular edge single nodal pressures go on changing when the gap has long closed: there
    # the gap decides, and pressures are compared as means over rings
    settled = 1e-3 if kind == "sphere" else 0.1
    solution = solve(system, path, settings=Settings(
        pressure_change=settled, penetration_mm=5e-3 * depth, tolerance=1e-5, passes=60))
    status = solution.evaluation.status[0]
    distance = np.linalg.norm(points[contact.vertices][:, [0, 2]], axis=1)
    corner = np.linalg.norm(points[top[:, :3]][..., [0, 2]], axis=2).max(1)
    carried = facet_forces(points, top, contact.vertices, status.pressure_MPa)
    within = [(float(r), 4 * float(carried[corner < r + 1e-6 * size].sum()))
              for r in radii[1:] if r < size]
    return dict(within=within, force_N=abs(4 * solution.evaluation.residual[bodily[1]]), place=distance,
                pressure=status.pressure_MPa, mesh=count(body), modulus=E / (1 - nu**2))


def flat_punch():
    """A rigid flat round punch on a half-space."""
    size, depth = 1.0, 0.002
    found = indentation("flat", size, depth, far=200.0)
    force = 2 * size * found["modulus"] * depth
    within = np.array([(r, f) for r, f in found["within"] if 0.4 * size < r < 0.8 * size])
    exact = found["force_N"] * (1 - np.sqrt(1 - (within[:, 0] / size) ** 2))
    return [
        Row("force [N]", force, found["force_N"], "F = 2 a E* d", "recalled", 0.03,
            "common practice, no source: 2-3 %; the edge is singular, facets of a/50 there; the base "
            "ends at 200 a, which stiffens it by 0.3 %", found["mesh"]),
        *(Row(f"share of the force within {r / size:.3f} a", e / found["force_N"],
              f / found["force_N"], "p = F/(2 pi a sqrt(a2 - r2)), integrated", "recalled",
              0.05, "away from the singular edge; beyond 0.8 a single rings alternate (0.868 a: "
              "11 %)", found["mesh"])
          for (r, f), e in zip(within, exact, strict=True))]


def layer_punch():
    """A rigid flat round punch on a layer bonded to a rigid base, as the heel pad on its bone."""
    rows, size, depth = [], 1.0, 0.002
    for (ratio, nu), kappa in KAPPA.items():
        found = indentation("flat", size, depth, nu=nu, layer=size / ratio)
        shear = 1.0 / (2 * (1 + nu))
        rows.append(Row(
            f"kappa, a/h {ratio}, nu {nu}", kappa,
            found["force_N"] * (1 - nu) / (4 * shear * size * depth),
            "Hayes et al. 1972, J Biomech 5:541-551: F = 4 G a d kappa/(1 - nu); kappa from the "
            "Fredholm equation", "computed", 0.03, "common practice, no source: 2-3 %", found["mesh"]))
    return rows


def plane_punch(size=1.0, depth=0.002, far=100.0):
    """A rigid flat punch on a half-plane; pressures are compared away from the singular edge."""
    E, nu = 1.0, 0.3
    across = edged(size, 0.01 * size, 1.2, 1.3, far * size)
    down = graded(0.01 * size, far * size, 1.3)
    body = grid(across, -down[::-1], prefix="base ")
    wall = np.array([[-size, 0.0], [2 * size, 0.0], [0.5 * size, 0.0]])
    points = np.vstack([body.points, wall])
    riding = np.full(len(points), -1)
    riding[-3:] = 0
    co = Coordinates(points, riding, np.zeros((1, 2)))
    first = len(body.points)
    top = body.facets["base y1"]
    top = top[points[top[:, 2], 0] < size]
    contact = Contact("punch", points, top, np.array([[first, first + 1, first + 2]]),
                      penalty_MPa_per_mm=1000 * E / size)
    system = System(co, contacts=[contact], solids=[
        Solid(points, body.cells, law("linear_elastic", E_MPa=E, nu=nu))])
    far_nodes = np.concatenate([body.nodes["base x1"], body.nodes["base y0"]])
    still = held(2, (body.nodes["base x0"], 0, 0), (far_nodes, 0, 0), (far_nodes, 1, 0))
    bodily = np.arange(co.size)[co.body_slice(0)]
    solution = solve(system, lambda t: Load(held=still | {
        int(bodily[0]): 0.0, int(bodily[1]): -depth * t, int(bodily[2]): 0.0}),
        settings=Settings(pressure_change=1e-3, penetration_mm=1e-3 * depth, tolerance=1e-6,
                          passes=60))
    total = abs(2 * solution.evaluation.residual[bodily[1]])
    place = points[contact.vertices, 0] / size
    ours = solution.evaluation.status[0].pressure_MPa * np.pi * size / total
    rows, source = [], "p = P/(pi sqrt(a2 - x2))"
    for at in (0.0, 0.5, 0.8):
        node = np.argmin(np.abs(place - at))
        rows.append(Row(
            f"pressure over P/(pi a) at x/a {place[node]:.3f}", 1 / np.sqrt(1 - place[node] ** 2),
            ours[node], source, "recalled", 0.02,
            "common practice, no source: away from the singular edge, 2-3 %", count(body)))
    return rows


PUNCH = {
    "flat_punch": Benchmark("Rigid flat punch on a half-space", flat_punch, slow=True),
    "plane_punch": Benchmark("Rigid flat punch on a half-plane", plane_punch),
    "layer_punch": Benchmark("Punch on a bonded layer (heel-pad indentation)", layer_punch,
                             slow=True),
}

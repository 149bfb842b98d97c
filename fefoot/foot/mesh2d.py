"""Quadratic triangle meshes of the soft tissue in a section.

The tissue is what lies inside the skin and outside the bones and joint spaces. Bones are rigid and
not meshed: their outlines are edges of the mesh.
"""

from __future__ import annotations

import itertools

import numpy as np

from ..errors import MeshError
from ..mechanics.mesh import Mesh, boundary_facets, quadratic
from .anatomy import anatomy
from .fascia import fascia_edges
from .morph import Dimensions
from .section import (
    bone_field,
    contours,
    even,
    hole_field,
    onto_hole,
    project,
    section_bones,
    section_morph,
    skin_field,
    skin_line,
)
from .spacing import DEEP, DORSAL, PLANTAR, graded, placed, wanted_mm

ON_BONE_MM = 0.05
_LARGEST_BOW = 0.12


def section_mesh(name: str, size_mm: float = 4.0, fascia: bool = False) -> Mesh:
    """Mesh a section of the reference foot.

    Parameters
    ----------
    name : {"sagittal", "rearfoot"}
    size_mm : float
        Element size of the sagittal section (0.62 of it in the rearfoot section): 0.8 of it at the
        bones, 0.6 of it at the sole, up to 1.5 of it on the dorsal skin.
    fascia : bool
        Whether the plantar fascia is a region of its own (sagittal only).

    Returns
    -------
    Mesh
        Regions ``tissue`` and, if asked for, ``fascia``; facets ``skin`` and ``plantar`` (in order,
        heel to toe or medial to lateral); nodes ``bone:<name>`` for each bone and ``shank_cut``.
        The same call gives the same mesh to the last bit.

    Raises
    ------
    MeshError
        When the mesh has a cell of non-positive size.
    """
    if fascia and name != "sagittal":
        raise ValueError("the fascia is a region of the sagittal section only")
    skin, hole = skin_field(name), hole_field(name)
    share_mm = size_mm * anatomy().table["sections"][name]["size_share"]
    plan = _Plan()
    outer = _outer_loop(plan, name, share_mm, skin, hole)
    line = _closed_hole(name, hole)
    want = graded(line, wanted_mm(name, line, skin, share_mm, DEEP), closed=True)
    if fascia:
        surfaces = _with_fascia(plan, outer, line, want, share_mm)
    else:
        ring = plan.add(onto_hole(name, placed(line, want)[:-1]))
        surfaces = [("tissue", [outer, [*ring, ring[0]]])]
    points, triangles, region, names = _triangulate(np.array(plan.points), surfaces)
    points, cells = quadratic(points, triangles)
    mesh = _tagged(name, points, cells, region, names, skin)
    if cell_quality(mesh.points, mesh.cells).min() <= 0.0:
        raise MeshError(f"the {name} section at {size_mm:g} mm has an inverted cell")
    return mesh


def morphed(mesh: Mesh, name: str, dimensions: Dimensions) -> Mesh:
    """Return the section mesh of a person: the reference mesh, nodes moved, numbering kept."""
    return mesh.moved(section_morph(name, mesh.points, dimensions))


def cell_quality(points: np.ndarray, cells: np.ndarray) -> np.ndarray:
    """Return the scaled Jacobian (m,) of quadratic triangles: 1 equilateral, <= 0 inverted.

    The smallest, over the six nodes, of det J / (longest column product) x 2/sqrt(3), where the
    columns are the derivatives along the two edges at a corner.
    """
    x = points[cells]
    worst = np.full(len(cells), np.inf)
    for r, s in ((0, 0), (1, 0), (0, 1), (0.5, 0), (0.5, 0.5), (0, 0.5)):
        t = 1 - r - s
        dr = np.array([1 - 4 * t, 4 * r - 1, 0, 4 * (t - r), 4 * s, -4 * s])
        ds = np.array([1 - 4 * t, 0, 4 * s - 1, -4 * r, 4 * r, 4 * (t - s)])
        a, b = np.einsum("k,mkd->md", dr, x), np.einsum("k,mkd->md", ds, x)
        det = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
        sides = [np.linalg.norm(v, axis=1) for v in (a, b, b - a)]
        scale = np.max([sides[0] * sides[1], sides[1] * sides[2], sides[0] * sides[2]], axis=0)
        worst = np.minimum(worst, det / scale * (2 / np.sqrt(3)))
    return worst


class _Plan:
    """The points of the outlines, in the order they were added."""

    def __init__(self):
        self.points: list[np.ndarray] = []

    def add(self, points) -> list[int]:
        first = len(self.points)
        self.points.extend(points)
        return list(range(first, len(self.points)))


def _outer_loop(plan, name, size_mm, skin, hole) -> list[int]:
    line = skin_line(name)
    want = graded(line, wanted_mm(name, line, hole, size_mm, DORSAL), closed=False)
    points = placed(line, want)
    points[1:-1] = project(skin, points[1:-1])
    top = placed(line[[-1, 0]], np.minimum(want[[-1, 0]], size_mm))
    ids = plan.add(points) + plan.add(top[1:-1])
    return [*ids, ids[0]]


def _closed_hole(name, hole) -> np.ndarray:
    """Return the outline of bones and joint spaces, anticlockwise, first point repeated.

    A pocket between three bones, closed off by their joint spaces, belongs to the hole.
    """
    line = contours(name, hole)[0]
    line = onto_hole(name, even(line, 0.6))
    x, y = line.T
    line = line[::-1] if (x[:-1] * y[1:] - x[1:] * y[:-1]).sum() < 0 else line
    line[-1] = line[0]
    return line


def _with_fascia(plan, outer, line, want, size_mm):
    """Return the three surfaces that the strip makes: strip, pocket above it, and the rest."""
    lower, upper = fascia_edges()
    corners = [lower[0], upper[0], upper[-1], lower[-1]]
    arcs = _arcs(line, want, corners)
    heel_low, heel_up, toe_up, toe_low = ids = plan.add(corners)
    runs = []
    for k, (arc, spacing) in enumerate(arcs):
        if k in (0, 2):  # the strip's own ends
            spacing = np.minimum(spacing, 0.5 * PLANTAR * size_mm)
        inner = plan.add(onto_hole("sagittal", placed(arc, spacing)[1:-1]))
        runs.append([ids[k], *inner, ids[(k + 1) % 4]])
    edges = []
    for edge, (start, end) in ((lower, (heel_low, toe_low)), (upper, (heel_up, toe_up))):
        spacing = np.full(len(edge), PLANTAR * size_mm)
        edges.append([start, *plan.add(placed(edge, spacing)[1:-1]), end])
    low, up = edges
    strip = runs[0] + up[1:] + runs[2][1:] + low[::-1][1:]
    pocket = runs[1] + up[::-1][1:]
    rest = runs[3] + low[1:]
    return [("tissue", [outer, rest]), ("tissue", [pocket]), ("fascia", [strip])]


def _arcs(line, want, corners):
    """Split a closed line at points on it, given in the order they are met."""
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    at = [length[np.linalg.norm(line - corner, axis=1).argmin()] for corner in corners]
    for k, corner in enumerate(corners):
        near = np.flatnonzero(np.abs(length - at[k]) < 2.0)
        fine = np.linspace(length[near[0]], length[near[-1]], 400)
        dense = np.column_stack([np.interp(fine, length, line[:, c]) for c in (0, 1)])
        at[k] = fine[np.linalg.norm(dense - corner, axis=1).argmin()]
    total, arcs = length[-1], []
    for k, start in enumerate(at):
        run = (at[(k + 1) % len(at)] - start) % total
        s = (length[:-1] - start) % total
        inside = np.flatnonzero((s > 0.2) & (s < run - 0.2))
        inside = inside[np.argsort(s[inside])]
        arc = np.vstack([corners[k], line[inside], corners[(k + 1) % len(at)]])
        ends = np.interp([start, (start + run) % total], length, want)
        arcs.append((arc, np.concatenate([ends[:1], want[inside], ends[1:]])))
    return arcs


def _refuse_crossing(points, surfaces):
    """Raise MeshError when two outlines cross: gmsh would search for a triangulation for ever."""
    edges = np.unique(np.sort([pair for _, loops in surfaces for loop in loops
                               for pair in itertools.pairwise(loop)], axis=1), axis=0)
    a, b = points[edges[:, 0]], points[edges[:, 1]]

    def side(p, q, r):
        return np.sign((q[..., 0] - p[..., 0]) * (r[..., 1] - p[..., 1])
                       - (q[..., 1] - p[..., 1]) * (r[..., 0] - p[..., 0]))

    start, end = a[:, None], b[:, None]
    across = side(start, end, a[None]) * side(start, end, b[None])
    crossing = np.argwhere(np.triu((across < 0) & (across.T < 0)))
    if len(crossing):
        x, y = points[edges[crossing[0, 0], 0]]
        raise MeshError(f"the outlines of the section cross near ({x:.1f}, {y:.1f}) mm")


def _triangulate(points, surfaces):
    """Triangulate plane surfaces bounded by loops of point numbers; loops keep their points."""
    import gmsh

    _refuse_crossing(points, surfaces)
    started = not gmsh.isInitialized()
    if started:
        gmsh.initialize(interruptible=False, readConfigFiles=False)
    gmsh.option.setNumber("General.Terminal", 0)
    for option, value in (("General.NumThreads", 1), ("Mesh.Algorithm", 6),
                          ("Mesh.MeshSizeExtendFromBoundary", 1), ("Mesh.MeshSizeFromPoints", 0),
                          ("Mesh.MeshSizeFromCurvature", 0), ("Mesh.Smoothing", 10),
                          ("Mesh.RandomSeed", 1), ("Mesh.ElementOrder", 1)):
        gmsh.option.setNumber(option, value)
    gmsh.model.add("fefoot section")
    try:
        geo, lines = gmsh.model.geo, {}
        tags = [geo.addPoint(float(p[0]), float(p[1]), 0.0) for p in points]

        def line(a, b):
            if (b, a) in lines:
                return -lines[b, a]
            if (a, b) not in lines:
                lines[a, b] = geo.addLine(tags[a], tags[b])
                geo.mesh.setTransfiniteCurve(lines[a, b], 2)
            return lines[a, b]

        faces = []
        for _, loops in surfaces:
            curves = [geo.addCurveLoop([line(a, b) for a, b in itertools.pairwise(loop)])
                      for loop in loops]
            faces.append(geo.addPlaneSurface(curves))
        geo.synchronize()
        gmsh.model.mesh.generate(2)
        node_tags, coordinates, _ = gmsh.model.mesh.getNodes()
        triangles = [gmsh.model.mesh.getElementsByType(2, face)[1].reshape(-1, 3).astype(int)
                     for face in faces]
    except Exception as error:
        raise MeshError(f"the section could not be meshed: {error}") from error
    finally:
        gmsh.model.remove()
        if started:
            gmsh.finalize()
    names = tuple(dict.fromkeys(region for region, _ in surfaces))
    region = np.concatenate([np.full(len(t), names.index(r), int)
                             for t, (r, _) in zip(triangles, surfaces, strict=True)])
    row = np.empty(int(node_tags.max()) + 1, int)
    row[node_tags.astype(int)] = np.arange(len(node_tags))
    used, inverse = np.unique(row[np.vstack(triangles)], return_inverse=True)
    points = coordinates.reshape(-1, 3)[used, :2]
    return points, inverse.reshape(-1, 3), region, names


def _tagged(name, points, cells, region, names, skin) -> Mesh:
    """Put mid-side nodes on the outlines and name the outer facets and bone nodes."""
    facets, _ = boundary_facets(cells)
    top = anatomy().skin.top_mm
    on_top = (np.abs(points[facets[:, :2], 1] - top) < 1e-9).all(axis=1)
    on_skin = (np.abs(skin(points[facets[:, :2].ravel()])) < 1e-6).reshape(-1, 2).all(axis=1)
    on_skin &= ~on_top
    on_hole = ~on_top & ~on_skin
    points = points.copy()
    middle = facets[on_skin, 2]
    points[middle] = project(skin, points[middle])
    middle = facets[on_hole, 2]
    edge = np.linalg.norm(points[facets[on_hole, 1]] - points[facets[on_hole, 0]], axis=1)
    points[middle] = onto_hole(name, points[middle], _LARGEST_BOW * edge)
    inner = np.unique(facets[on_hole])
    nodes = {
        f"bone:{bone}": inner[np.abs(bone_field(name, bone)(points[inner])) < ON_BONE_MM]
        for bone in section_bones(name)
    }
    nodes["shank_cut"] = np.unique(facets[on_top])
    outer = _chain(facets[on_skin])
    return Mesh(points, cells, region, names,
                {"skin": outer, "plantar": _plantar(points, outer)}, nodes)


def _chain(facets: np.ndarray) -> np.ndarray:
    """Order the facets of an open line from its first node to its last."""
    after = {int(f[0]): f for f in facets}
    node = (set(after) - {int(f[1]) for f in facets}).pop()
    chain = []
    while node in after:
        chain.append(after[node])
        node = int(after[node][1])
    return np.array(chain)


def _plantar(points: np.ndarray, skin: np.ndarray) -> np.ndarray:
    """Return the longest unbroken run of skin facets whose outward normal points down."""
    edge = points[skin[:, 1]] - points[skin[:, 0]]
    down = np.concatenate([[False], edge[:, 0] > 0.0, [False]])
    change = np.flatnonzero(down[1:] != down[:-1]).reshape(-1, 2)
    run = np.linalg.norm(edge, axis=1)
    first, last = max(change.tolist(), key=lambda r: run[r[0] : r[1]].sum())
    return skin[first:last]

"""Closed surface meshes of skin and hole, from their signed distances."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from fefoot.errors import MeshError
from fefoot.foot.anatomy import (
    anatomy,
    bone_distance,
    bone_names,
    plantar_height_mm,
    skin_distance,
)
from fefoot.foot.shape import smoothstep

ACROSS, FINEST = 1.6, 0.55
"""Largest edge length in parts of the local thickness of the tissue; finest in parts of the size."""
GRID_MM, CLEAR = 1.0, 0.25
BOX_MM = np.array([[-6.0, -6.0, -56.0], [262.0, 92.0, 60.0]])
TOP_MM = anatomy().skin.top_mm


def skin_field(points: np.ndarray) -> np.ndarray:
    """Return the signed distance of the uncut skin."""
    return skin_distance(points, cut=False)


def gradient(field: Callable, points: np.ndarray) -> np.ndarray:
    """Return the gradient (n, 3) of a field by central differences."""
    steps = 1e-4 * np.eye(3)
    return np.column_stack([(field(points + s) - field(points - s)) / 2e-4 for s in steps])


def project(field: Callable, points: np.ndarray, level: bool | np.ndarray = False) -> np.ndarray:
    """Newton-project points (n, 3) onto the zero surface; those with ``level`` keep their height."""
    points = points.copy()
    for _ in range(15):
        value = field(points)
        if np.abs(value).max() < 1e-10:
            break
        slope = gradient(field, points)
        slope[:, 1] = np.where(level, 0.0, slope[:, 1])
        points -= slope * (value / np.maximum((slope**2).sum(1), 0.05))[:, None]
    return points


def isosurface(field: Callable) -> tuple[np.ndarray, np.ndarray]:
    """Return points and triangles (outward) of the zero surface; open where the shank is cut."""
    import pyvista

    axes = [np.arange(a, b + GRID_MM / 2, GRID_MM) for a, b in BOX_MM.T]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)
    values = np.concatenate([field(slab.reshape(-1, 3)) for slab in grid])
    # keep crossings away from grid points: no slivers; the points are projected anyway
    values = np.copysign(np.maximum(np.abs(values), CLEAR * GRID_MM), values)
    image = pyvista.ImageData(dimensions=grid.shape[:3], spacing=(GRID_MM,) * 3, origin=BOX_MM[0])
    image["value"] = values.reshape(grid.shape[:3]).ravel(order="F")
    surface = image.contour([0.0], scalars="value", method="flying_edges").clean()
    surface = surface.connectivity("largest")
    points = np.array(surface.points, float)
    triangles = outward(field, points, np.array(surface.faces.reshape(-1, 4)[:, 1:]))
    return onto(field, points, triangles), triangles


def outward(field, points, triangles) -> np.ndarray:
    """Turn all triangles so that the field rises along the normals of most."""
    normal = np.cross(*(points[triangles[:, k]] - points[triangles[:, 0]] for k in (1, 2)))
    rises = np.einsum("ij,ij->i", normal, gradient(field, points[triangles].mean(1)))
    return triangles if np.sign(rises).sum() > 0 else triangles[:, ::-1].copy()


def edge_length_mm(points, other: Callable, size_mm: float, near: float, far: float) -> np.ndarray:
    """Return the wanted edge length (n,) at surface points."""
    height = points[:, 1] - plantar_height_mm(points[:, 0], points[:, 2])
    share = near + (far - near) * smoothstep((height - 10.0) / 30.0)
    thickness = np.abs(other(points))
    return np.clip(size_mm * share, None, np.maximum(ACROSS * thickness, FINEST * size_mm))


def to_next_bone(points: np.ndarray) -> np.ndarray:
    """Return the thickness of the tissue over points of the hole: to the skin or the second bone."""
    second = np.sort([bone_distance(bone, points) for bone in bone_names()], axis=0)[1]
    return np.minimum(np.abs(skin_field(points)), np.maximum(second, 3.0))


def remesh(points, triangles, wanted_mm, hausdorff_mm) -> tuple[np.ndarray, np.ndarray]:
    """Remesh a surface to the wanted edge lengths."""
    try:
        from mmgpy import MmgMeshS
    except ImportError as error:
        raise SystemExit("building meshes needs a surface remesher: pip install mmgpy") from error
    mesh = MmgMeshS(points, triangles.astype(np.int32))
    mesh.set_field("metric", wanted_mm.reshape(-1, 1))
    mesh.remesh(hausd=hausdorff_mm, hgrad=1.25, ar=175.0, verbose=-1)
    return np.array(mesh.get_vertices()), np.array(mesh.get_triangles(), int)


def onto(field, points, triangles) -> np.ndarray:
    """Project a surface's nodes onto its field; undo where a triangle turns by more than 60 deg."""
    points, level = points.copy(), np.zeros(len(points), bool)
    level[open_edge(triangles)] = True
    points[level, 1] = TOP_MM
    moved = project(field, points, level)
    normal = [np.cross(*(p[triangles[:, k]] - p[triangles[:, 0]] for k in (1, 2)))
              for p in (points, moved)]
    size = np.linalg.norm(normal, axis=2)
    turned = np.einsum("ij,ij->i", *normal) < 0.5 * size[0] * size[1]
    moved[np.unique(triangles[turned])] = points[np.unique(triangles[turned])]
    return moved


def open_edge(triangles: np.ndarray) -> np.ndarray:
    """Return the nodes of the one open edge of a surface, in order; none of a closed one."""
    edges = triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    forward = set(map(tuple, edges.tolist()))
    after = {a: b for a, b in forward if (b, a) not in forward}
    if not after:
        return np.zeros(0, int)
    loop = [min(after)]
    while after[loop[-1]] != loop[0]:
        loop.append(after[loop[-1]])
    if len(loop) != len(after):
        raise MeshError("the skin is open elsewhere than at the shank cut")
    return np.array(loop)


def capped(points, triangles, gmsh) -> tuple[np.ndarray, np.ndarray]:
    """Close the shank cut by plane triangles."""
    loop = open_edge(triangles)
    gmsh.model.add("cap")
    tags = [gmsh.model.geo.addPoint(*points[n]) for n in loop]
    lines = [gmsh.model.geo.addLine(a, b) for a, b in zip(tags, [*tags[1:], tags[0]], strict=True)]
    for line in lines:
        gmsh.model.geo.mesh.setTransfiniteCurve(line, 2)
    face = gmsh.model.geo.addPlaneSurface([gmsh.model.geo.addCurveLoop(lines)])
    gmsh.model.geo.synchronize()
    gmsh.model.mesh.generate(2)
    node, xyz, _ = gmsh.model.mesh.getNodes()
    xyz = xyz.reshape(-1, 3)
    xyz[:, 1] = TOP_MM
    cap = gmsh.model.mesh.getElementsByType(2, face)[1].reshape(-1, 3).astype(int)
    gmsh.model.remove()
    number = {}
    fresh = []
    for tag, at in zip(node.astype(int), xyz, strict=True):
        distance = np.linalg.norm(points[loop] - at, axis=1)
        if distance.min() < 1e-6:
            number[tag] = loop[distance.argmin()]
        else:
            number[tag] = len(points) + len(fresh)
            fresh.append(at)
    cap = np.array([[number[t] for t in row] for row in cap])
    points = np.vstack([points, fresh])
    normal = np.cross(*(points[cap[:, k]] - points[cap[:, 0]] for k in (1, 2)))
    cap[normal[:, 1] < 0] = cap[normal[:, 1] < 0][:, ::-1]
    return points, np.vstack([triangles, cap])

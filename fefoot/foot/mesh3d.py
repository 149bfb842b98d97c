"""The whole foot as a mesh of quadratic tetrahedra, read from ``meshes/`` and moved to a person.

The tissue is what lies inside the skin and outside the bones and joint spaces. Bones are rigid and not
meshed. The space between two articulating bones is a void, as in the sections: a tissue layer of 3 mm
between two rigid bones would be a stiffer joint than the joint. The voids link all bones, so that the
tissue has one inner boundary, the *hole*.
"""

from __future__ import annotations

import functools
from pathlib import Path
from zipfile import BadZipFile

import numpy as np

from ..errors import MeshError, unknown_name
from ..mechanics.mesh import Mesh, boundary_facets
from .anatomy import anatomy, bone_distance, bone_names, skin_distance
from .morph import Dimensions, morph
from .reference import mesh_folder
from .shape import smooth_maximum, smooth_minimum

SIZES = ("coarse", "middle", "default")
ON_BONE_MM = 0.15
"""Nodes of the hole nearer than this to a bone's surface ride on that bone."""
_CAPSULE_MM = 3.0
_GAP_STEP_MM = 2.0
_HEEL_TO_MM, _HEEL_HEIGHT_MM, _SOLE_HEIGHT_MM = 85.0, 32.0, 25.0
_SIDE, _DOWN = 0.3, 0.0


def reference_mesh(size: str = "default") -> Mesh:
    """Return the committed mesh of the reference foot.

    Parameters
    ----------
    size : {"coarse", "middle", "default"}

    Returns
    -------
    Mesh
        Region ``tissue``; facets ``skin`` and ``plantar`` (the part of it that ground or device may
        touch); nodes ``bone:<name>`` for each bone and ``shank_cut``. Hole nodes on no bone line a
        joint space and are free.

    Raises
    ------
    InputError
        For an unknown size.
    MeshError
        When the file is missing or damaged.
    """
    if size not in SIZES:
        raise unknown_name("mesh size", size, SIZES)
    return _read(size)


@functools.cache
def _read(size: str) -> Mesh:
    path = mesh_file(size)
    if not path.is_file():
        raise MeshError(f"{path.name} is not in {path.parent}; python -m meshes.build writes it")
    try:
        with path.open("rb") as stream, np.load(stream) as file:
            points, cells = file["points"], file["cells"].astype(int)
    except (OSError, ValueError, KeyError, EOFError, BadZipFile) as problem:
        raise MeshError(f"{path} is damaged ({problem}); install fefoot again, or write the file with "
                        "python -m meshes.build") from None
    return tagged(points, cells)


def mesh_file(size: str) -> Path:
    """Return the file of a reference mesh."""
    return mesh_folder() / f"foot3d_{size}.npz"


def morphed3d(mesh: Mesh, dimensions: Dimensions) -> Mesh:
    """Return the mesh of a person's right foot: the reference mesh, nodes moved, numbering kept."""
    return mesh.moved(morph(mesh.points, dimensions))


def mirrored(mesh: Mesh) -> Mesh:
    """Return the mirror image z -> -z of a 3D mesh; the node order keeps volumes positive."""
    return Mesh(
        mesh.points * [1.0, 1.0, -1.0], mesh.cells[:, [0, 2, 1, 3, 6, 5, 4, 7, 9, 8]],
        mesh.region, mesh.region_names,
        {name: f[:, [0, 2, 1, 5, 4, 3]] for name, f in mesh.facets.items()}, mesh.nodes)


def tagged(points: np.ndarray, cells: np.ndarray) -> Mesh:
    """Name the outer facets and bone nodes of a mesh (n, 3), (m, 10) of the reference foot."""
    facets, _ = boundary_facets(cells)
    corners = points[facets[:, :3]]
    centre = corners.mean(axis=1)
    on_top = (corners[..., 1] == anatomy().skin.top_mm).all(axis=1)
    on_skin = ~on_top & (np.abs(skin_distance(centre, cut=False)) < np.abs(hole_distance(centre)))
    nodes = _bone_nodes(points, facets[~on_top & ~on_skin])
    nodes["shank_cut"] = np.unique(facets[on_top])
    skin = facets[on_skin]
    return Mesh(points, cells, np.zeros(len(cells), int), ("tissue",),
                {"skin": skin, "plantar": skin[_touchable(corners[on_skin])]}, nodes)


def surface_error_mm(mesh: Mesh) -> float:
    """Return how far the corners of the reference mesh's surface are from the present anatomy's."""
    facets, _ = boundary_facets(mesh.cells)
    skin = np.unique(mesh.facets["skin"][:, :3])
    inner = np.setdiff1d(facets[:, :3], np.union1d(skin, mesh.nodes["shank_cut"]))
    return float(max(np.abs(skin_distance(mesh.points[skin], cut=False)).max(),
                     np.abs(hole_distance(mesh.points[inner])).max()))


def _bone_nodes(points: np.ndarray, hole: np.ndarray) -> dict[str, np.ndarray]:
    """Return the nodes of hole facets (k, 6) that ride on each bone.

    A corner rides on the bone whose surface it lies on, a mid-side node on that of both its corners.
    """
    corners = np.unique(hole[:, :3])
    distances = np.abs([bone_distance(bone, points[corners]) for bone in bone_names()])
    owner = np.full(len(points), -1)
    owner[corners] = np.where(distances.min(axis=0) < ON_BONE_MM, distances.argmin(axis=0), -1)
    start, end = hole[:, [0, 1, 2]], hole[:, [1, 2, 0]]
    owner[hole[:, 3:]] = np.where(owner[start] == owner[end], owner[start], -1)
    return {f"bone:{bone}": np.flatnonzero(owner == k) for k, bone in enumerate(bone_names())}


def _touchable(corners: np.ndarray) -> np.ndarray:
    """Return which skin triangles (k, 3, 3) ground or device may touch (k,)."""
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    up = normal[:, 1] / np.linalg.norm(normal, axis=1)
    x, y, _ = corners.mean(axis=1).T
    heel = (x < _HEEL_TO_MM) & (y < _HEEL_HEIGHT_MM) & (up < _SIDE)
    return heel | ((y < _SOLE_HEIGHT_MM) & (up < _DOWN))


@functools.cache
def joint_widths_mm() -> dict[tuple[str, str], float]:
    """Return the width of the blend across the gap of each pair of articulating bones.

    The blend min(a, b) - h^2/(4k) with k = 2 gap + 3 mm is negative between the bones where the
    distances add up to less than the gap + 1.5 mm on the middle line, and equals the nearer bone's
    own distance where the other bone is more than k away.
    """
    low, high = np.array([-4.0, 0.0, -48.0]), np.array([250.0, 92.0, 52.0])
    axes = [np.arange(a, b + _GAP_STEP_MM / 2, _GAP_STEP_MM) for a, b in zip(low, high, strict=True)]
    points = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    outside = {bone: np.maximum(bone_distance(bone, points), 0.0) for bone in bone_names()}
    return {(a, b): 2.0 * float((outside[a] + outside[b]).min()) + _CAPSULE_MM
            for a, b in anatomy().table["joints"]["pairs"]}


def hole_distance(points: np.ndarray) -> np.ndarray:
    """Return a field (n,) mm of points (n, 3), negative in the bones and joint spaces."""
    bones = {bone: bone_distance(bone, points) for bone in bone_names()}
    out = np.min(list(bones.values()), axis=0)
    for (a, b), width in joint_widths_mm().items():
        space = smooth_minimum(bones[a], bones[b], width)
        cut = [bone for bone in (anatomy().bones[a], anatomy().bones[b]) if bone.top_mm is not None]
        if len(cut) == 2:
            top = min(bone.top_mm for bone in cut)
            blend = min(bone.top_blend_mm for bone in cut)
            space = smooth_maximum(space, points[:, 1] - top, blend)
        np.minimum(out, space, out=out)
    return out


@functools.cache
def _samples() -> np.ndarray:
    """Gradients (s, 10, 3) of the quadratic shape functions at nodes and quadrature points."""
    from ..mechanics.element import quadrature, shape

    corners = np.vstack([np.zeros(3), np.eye(3)])
    pairs = np.array([[0, 1], [1, 2], [2, 0], [0, 3], [1, 3], [2, 3]])
    middle = corners[pairs].mean(axis=1)
    return shape(4, np.vstack([corners, middle, quadrature(4, 4)[0]]))[1]


def tetra_quality(points: np.ndarray, cells: np.ndarray) -> np.ndarray:
    """Return the scaled Jacobian (m,) of quadratic tetrahedra: 1 regular, <= 0 inverted.

    The smallest, over nodes and quadrature points, of sqrt(2) det J / (largest product of the three
    edge derivatives that meet at a corner).
    """
    size = len(_samples())
    x = np.ascontiguousarray(points[cells].transpose(1, 0, 2)).reshape(10, -1)
    a, b, c = (x_of.reshape(size, -1, 3) for x_of in _samples().transpose(2, 0, 1) @ x)
    (ax, ay, az), (bx, by, bz), (cx, cy, cz) = (np.moveaxis(v, -1, 0) for v in (a, b, c))
    det = ax * (by * cz - bz * cy) + ay * (bz * cx - bx * cz) + az * (bx * cy - by * cx)
    a, b, c, ab, bc, ca = (np.sqrt(np.einsum("smi,smi->sm", v, v))
                           for v in (a, b, c, b - a, c - b, a - c))
    scale = np.maximum(np.maximum(a * b * c, a * ab * ca), np.maximum(b * ab * bc, c * bc * ca))
    return (np.sqrt(2.0) * det / scale).min(axis=0)

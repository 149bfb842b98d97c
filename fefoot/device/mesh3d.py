"""Quadratic tetrahedra over the plan of a device: a mapped grid of prisms between height fields.

The outline is cut into four sides (back, front, medial, lateral) and filled by transfinite
interpolation (Gordon & Hall 1973, IJNME 7:461-477, recalled). With the sides M(u), L(u) along and
B(v), F(v) across, u, v in 0..1, and the corners between them,

    X(u, v) = (1 - v) M + v L + (1 - u) B + u F
              - (1 - u)(1 - v) X_00 - (1 - u) v X_01 - u (1 - v) X_10 - u v X_11.

Nodes of a column share a place in plan, mid-side nodes stand halfway in plan, and heights come from
the device's height fields: exactly at corners, at mid-side nodes as far as a layer's thickness stays
close to linear along the edge.
"""

from __future__ import annotations

import numpy as np

from ..errors import MeshError
from ..mechanics.mesh import Mesh
from .device import Device, FootLandmarks
from .outline import edges_z_mm, front_x_mm, margin_mm
from .surface import heights, interfaces_mm

LEAST_ROWS = 1
LEAST_COLUMNS = 4
MOST_BULGE = 0.1
_DENSE = 801
_LEGS = np.array([[0, 1], [1, 2], [2, 0]])


def device_mesh(device: Device, foot: FootLandmarks, size_mm: float = 6.0,
                like: Device | None = None) -> Mesh:
    """Mesh a device.

    Parameters
    ----------
    device : Device
    foot : FootLandmarks
    size_mm : float
        Wanted element size in plan, measured along the top surface. A layer has a row of elements
        per ``size_mm`` of its mean thickness, at least one.
    like : Device, optional
        A device of the same outline and layers whose nodes and elements are taken, moved to the
        heights of this one.

    Returns
    -------
    Mesh
        Points (x, y, z) mm, the underside of a flat device at y = 0; regions
        ``device:<material>``; facets ``device_top`` and ``device_bottom``, outward.

    Raises
    ------
    MeshError
        When an element is inverted or a layer has no thickness.
    """
    plan, triangles = plan_mesh(like or device, foot, size_mm)
    field, faces, thickness = _layers(device, foot, plan, triangles)
    material, names = field.material, field.material_names
    thick = thickness if like is None else _layers(like, foot, plan, triangles)[2]
    rows = np.maximum(LEAST_ROWS, np.rint(thick.mean(axis=1) / size_mm).astype(int))
    height = [faces[-1]]
    for layer in reversed(range(len(rows))):
        share = np.arange(1, 2 * rows[layer] + 1)[:, None] / (2 * rows[layer])
        height.extend(faces[layer + 1] + thickness[layer] * share)
    height = np.array(height)
    levels, count = height.shape
    points = np.stack(
        [np.broadcast_to(plan[:, 0], height.shape), height,
         np.broadcast_to(plan[:, 1], height.shape)], axis=-1).reshape(-1, 3)
    cells = np.concatenate([_prisms(triangles, count, level) for level in range(0, levels - 1, 2)])
    cells = _positive(points, cells)
    used, cells = np.unique(cells, return_inverse=True)
    number = np.full(len(points), -1)
    number[used] = np.arange(len(used))
    layer_of = np.repeat(np.arange(len(rows)), rows)[::-1]
    of_layer = material[:, triangles].reshape(len(rows), len(triangles), 6)[..., 3:].max(axis=-1)
    kind = np.repeat(of_layer[layer_of].reshape(-1), 3)
    kinds, region = np.unique(kind, return_inverse=True)
    up = triangles[:, [0, 2, 1, 5, 4, 3]]
    mesh = Mesh(
        points[used], cells.reshape(-1, 10), region.reshape(-1),
        tuple(f"device:{names[k]}" for k in kinds),
        {"device_top": number[up + (levels - 1) * count], "device_bottom": number[triangles]})
    worst = smallest_jacobian(mesh)
    if not worst > 0.0:
        raise MeshError(f"elements of the device {device.name!r} are inverted")
    return mesh


def _layers(device, foot, plan, triangles):
    """Height fields, interfaces (layers + 1, n) and thicknesses (layers, n) at plan points."""
    field = heights(device, foot, plan[:, 0], plan[:, 1])
    faces = _straightened(interfaces_mm(device, field), triangles)
    thickness = faces[:-1] - faces[1:]
    if not thickness.min() > 0.0:
        raise MeshError(f"a layer of the device {device.name!r} has no thickness")
    return field, faces, thickness


def top_above_mm(device: Device, foot: FootLandmarks, x, z) -> np.ndarray:
    """Return the height (n,) of the device's top at plan points (n,), 0 beside the device, mm."""
    medial, lateral = edges_z_mm(device, foot, x)
    with np.errstate(invalid="ignore"):
        inside = (z >= medial) & (z <= lateral) & (x <= front_x_mm(device, foot, z))
    out = np.zeros(np.shape(x))
    out[inside] = heights(device, foot, x[inside], z[inside]).top_mm
    return out


def plan_mesh(device: Device, foot: FootLandmarks, size_mm: float) -> tuple[np.ndarray, np.ndarray]:
    """Return plan points (n, 2) as (x, z) and straight quadratic triangles (m, 6).

    Turning from x to z, so that their normal looks down in (x, y, z).
    """
    back, front, medial, lateral = _sides(device, foot)
    columns = _count(0.5 * (_length(medial) + _length(lateral)), size_mm)
    rows = _count(_length(np.array([medial[len(medial) // 2], lateral[len(lateral) // 2]])), size_mm)

    def surface(u, v):
        at = _coons(back, front, medial, lateral, u, v)
        y = heights(device, foot, at[..., 0], at[..., 1]).top_mm
        return np.concatenate([at, y[..., None]], axis=-1)

    fine = np.linspace(0.0, 1.0, _DENSE // 4)
    middle = surface(fine, np.full_like(fine, 0.5))
    columns = max(columns, _count(_length(middle), size_mm))
    u = _evenly(middle, fine, columns)
    across = surface(u[:, None], fine[None, :])
    rows = max(rows, _count(max(map(_length, across[len(across) // 8:-1])), size_mm))
    v = np.stack([_evenly(line, fine, rows) for line in across])
    corners = _coons(back, front, medial, lateral, u[:, None], v)
    return _quadratic_plan(corners)


def _sides(device, foot):
    """Back, front, medial and lateral side of the outline, each (k, 2) with even arc length.

    Back and front run from medial to lateral, the others forwards. A round end goes as far as the
    outline runs more across than along.
    """
    margin = margin_mm(device)
    turn = np.linspace(0.0, np.pi, 8 * _DENSE)
    x = -margin + (foot.length_mm + margin) * 0.5 * (1.0 - np.cos(turn))
    edges = []
    for z in edges_z_mm(device, foot, x):
        edge = np.column_stack([x, z])
        edge[[0, -1], 1] = 0.0
        edges.append(edge[x <= front_x_mm(device, foot, edge[:, 1])])
    cut = [_first_along(edge) for edge in edges]
    back = np.vstack([edges[0][cut[0]::-1], edges[1][1:cut[1] + 1]])
    if device.length == "full":
        end = [len(edge) - 1 - _first_along(edge[::-1]) for edge in edges]
        front = np.vstack([edges[0][end[0]:], edges[1][end[1]:-1][::-1]])
    else:
        end = [len(edge) - 1 for edge in edges]
        z = np.linspace(edges[0][-1, 1], edges[1][-1, 1], _DENSE)
        front = np.column_stack([front_x_mm(device, foot, z), z])
        front[[0, -1]] = edges[0][-1], edges[1][-1]
    sides = back, front, *(edge[a:b + 1] for edge, a, b in zip(edges, cut, end, strict=True))
    return tuple(_resampled(side) for side in sides)


def _first_along(edge):
    """First point from which an edge (k, 2) runs more along than across."""
    step = np.abs(np.diff(edge, axis=0))
    return int(np.argmax(step[:, 0] > step[:, 1]))


def _arc(line):
    return np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=-1))])


def _length(line) -> float:
    return float(_arc(line)[-1])


def _count(length, size_mm) -> int:
    return max(LEAST_COLUMNS, int(np.ceil(length / size_mm)))


def _resampled(line):
    arc = _arc(line)
    at = np.linspace(0.0, arc[-1], _DENSE)
    return np.column_stack([np.interp(at, arc, c) for c in line.T])


def _evenly(line, parameter, count):
    """Parameters (count + 1,) at equal steps of arc length along a line (k, 3)."""
    arc = _arc(line)
    return np.interp(np.linspace(0.0, arc[-1], count + 1), arc, parameter)


def _at(side, t):
    grid = np.linspace(0.0, 1.0, len(side))
    return np.stack([np.interp(t, grid, c) for c in side.T], axis=-1)


def _coons(back, front, medial, lateral, u, v):
    """Transfinite interpolation (..., 2) at u, v (broadcast)."""
    u, v = np.broadcast_arrays(u, v)
    p, q = u[..., None], v[..., None]
    return ((1 - q) * _at(medial, u) + q * _at(lateral, u) + (1 - p) * _at(back, v)
            + p * _at(front, v) - (1 - p) * (1 - q) * back[0] - (1 - p) * q * back[-1]
            - p * (1 - q) * front[0] - p * q * front[-1])


def _quadratic_plan(corners):
    """Cut a grid of plan points (a, b, 2) into straight quadratic triangles."""
    a, b, _ = corners.shape
    number = np.arange(a * b).reshape(a, b)
    points = corners.reshape(-1, 2)
    quad = np.stack([number[:-1, :-1], number[1:, :-1], number[1:, 1:], number[:-1, 1:]], -1)
    quad = quad.reshape(-1, 4)
    cuts = np.stack([quad[:, [[0, 1, 2], [0, 2, 3]]], quad[:, [[0, 1, 3], [1, 2, 3]]]], 1)
    quality = _quality(points[cuts]).min(axis=-1)
    pick = np.argmax(quality + 1e-9 * np.array([1.0, 0.0]), axis=1)
    triangles = cuts[np.arange(len(quad)), pick].reshape(-1, 3)
    pairs = np.sort(triangles[:, _LEGS].reshape(-1, 2), axis=1)
    unique, inverse = np.unique(pairs, axis=0, return_inverse=True)
    middle = points[unique].mean(axis=1)
    return np.vstack([points, middle]), np.hstack(
        [triangles, len(points) + inverse.reshape(-1, 3)])


def _quality(corner):
    """Twice the area of triangles (..., 3, 2) over their longest side squared; < 0 turned over."""
    a, b = corner[..., 1, :] - corner[..., 0, :], corner[..., 2, :] - corner[..., 0, :]
    longest = np.max(np.sum((corner - np.roll(corner, 1, axis=-2)) ** 2, -1), -1)
    return (a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]) / longest


def _straightened(faces, triangles):
    """Draw the interfaces (layers + 1, n) towards the chord at middles where a layer bulges too much.

    A tetrahedron holds the product of height and thickness only where thickness is linear, so that
    a layer's thickness may differ from its ends' mean by `MOST_BULGE` of the thinner end.
    """
    edge = triangles[:, _LEGS].reshape(-1, 2).T
    middle = triangles[:, 3:].reshape(-1)
    chord = faces[:, edge].mean(axis=1)
    bulge = faces[:, middle] - chord
    thin = (faces[:-1] - faces[1:])[:, edge].min(axis=1)
    share = MOST_BULGE * thin / np.maximum(np.abs(np.diff(bulge, axis=0)), 1e-300)
    out = faces.copy()
    out[:, middle] = chord + np.minimum(share.min(axis=0), 1.0) * bulge
    return out


def _prisms(triangles, count, level):
    """Cut the prisms over plan triangles (m, 6) between two levels into tetrahedra (3 m, 10).

    With the corners sorted, a < b < c below and a', b', c' above, they are a b c c', a b b' c' and
    a a' b' c': every side face is cut from its lower number below to its higher above, whichever
    prism it is seen from.
    """
    order = np.argsort(triangles[:, :3], axis=1)
    corner = np.take_along_axis(triangles[:, :3], order, axis=1)
    middle = np.empty((len(triangles), 3, 3), int)
    for side, (i, j) in enumerate(_LEGS):
        middle[:, i, j] = middle[:, j, i] = triangles[:, 3 + side]
    row = np.arange(len(triangles))
    out = []
    for tet in (((0, 0), (1, 0), (2, 0), (2, 2)), ((0, 0), (1, 0), (1, 2), (2, 2)),
                ((0, 0), (0, 2), (1, 2), (2, 2))):
        nodes = [corner[:, c] + (level + h) * count for c, h in tet]
        for i, j in ((0, 1), (1, 2), (2, 0), (0, 3), (1, 3), (2, 3)):
            (c, h), (d, k) = tet[i], tet[j]
            place = corner[:, c] if c == d else middle[row, order[:, c], order[:, d]]
            nodes.append(place + (level + (h + k) // 2) * count)
        out.append(np.stack(nodes, axis=1))
    return np.stack(out, axis=1).reshape(-1, 10)


def _positive(points, cells):
    """Turn over the tetrahedra whose corners run the wrong way."""
    legs = points[cells[:, 1:4]] - points[cells[:, :1]]
    flip = np.linalg.det(legs) < 0
    cells[flip] = cells[flip][:, [0, 2, 1, 3, 6, 5, 4, 7, 9, 8]]
    return cells


def smallest_jacobian(mesh: Mesh) -> float:
    """Return the smallest ratio of an element's least Jacobian determinant to its mean one."""
    from ..mechanics.element import quadrature, shape

    corner = np.vstack([np.zeros(3), np.eye(3)])
    where = np.vstack([corner, quadrature(4, 4)[0]])
    slopes = shape(4, where)[1]
    det = np.linalg.det(np.einsum("mai,qaj->mqij", mesh.points[mesh.cells], slopes))
    return float((det.min(axis=1) / np.abs(det.mean(axis=1))).min())

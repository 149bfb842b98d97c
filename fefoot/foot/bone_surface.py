"""Closed surfaces of the bones of the whole foot, for pictures: the solve knows bones by nodes alone.

Each bone's signed distance is sampled on a grid of its own. Every grid cell that the surface passes
gets one vertex, the mean of where its edges are cut; every cut grid edge gets one quadrilateral between
the four cells round it (surface nets: Gibson 1998, MICCAI 888-898, recalled). The vertices are then
moved along the gradient onto the surface.
"""

from __future__ import annotations

import functools

import numpy as np

from .anatomy import bone_distance, bone_names

SEARCH_MM, FINEST_MM, COARSEST_MM, ACROSS = 3.0, 1.6, 3.0, 8.0
"""Grid on which bones are found; least and largest step on a bone; steps over its narrowest side."""
BOX_MM = np.array([[-6.0, 0.0, -56.0], [262.0, 100.0, 60.0]])
_CORNERS = np.array(np.meshgrid([0, 1], [0, 1], [0, 1], indexing="ij")).reshape(3, -1).T


@functools.cache
def bone_surfaces() -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Return points (n, 3) mm and outward triangles (k, 3) of each bone of the reference foot."""
    step = SEARCH_MM
    grid = _grid(*BOX_MM, step).reshape(-1, 3)
    out = {}
    for bone in bone_names():
        near = grid[bone_distance(bone, grid) < step]
        low, high = near.min(axis=0) - 2 * step, near.max(axis=0) + 2 * step
        fine = float(np.clip(np.ptp(near, axis=0).min() / ACROSS, FINEST_MM, COARSEST_MM))
        field = functools.partial(bone_distance, bone)
        nodes = _grid(low, high, fine)
        values = field(nodes.reshape(-1, 3)).reshape(nodes.shape[:3])
        points, triangles = surface_net(values, low, fine)
        for _ in range(2):
            points = _onto(field, points)
        out[bone] = points, triangles
    return out


def _grid(low, high, step) -> np.ndarray:
    axes = [np.arange(a, b + step, step) for a, b in zip(low, high, strict=True)]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1)


def _onto(field, points) -> np.ndarray:
    value, steps = field(points), 1e-3 * np.eye(3)
    slope = np.column_stack([(field(points + s) - field(points - s)) / 2e-3 for s in steps])
    return points - slope * (value / np.maximum((slope**2).sum(axis=1), 0.25))[:, None]


def surface_net(values: np.ndarray, origin, step: float) -> tuple[np.ndarray, np.ndarray]:
    """Return points (n, 3) and triangles (k, 3) where a field on a grid changes sign.

    Parameters
    ----------
    values : (a, b, c) array
        Positive on the border of the grid.
    origin : (3,) sequence
        Place of the first grid point, mm.
    step : float
        Spacing, mm.

    Returns
    -------
    points, triangles
        The surface is closed; triangles turn outward, to where the field is positive.
    """
    inside = values < 0
    size = np.array(values.shape) - 1
    corner = np.stack([inside[tuple(slice(o, o + n) for o, n in zip(c, size, strict=True))]
                       for c in _CORNERS])
    passed = corner.any(axis=0) & ~corner.all(axis=0)
    number = np.full(passed.shape, -1)
    number[passed] = np.arange(passed.sum())
    total, count = np.zeros((passed.sum(), 3)), np.zeros(passed.sum())
    triangles = []
    for axis in range(3):
        first = np.moveaxis(values, axis, 0)[:-1]
        second = np.moveaxis(values, axis, 0)[1:]
        at = np.argwhere((first < 0) != (second < 0))
        a, b = first[tuple(at.T)], second[tuple(at.T)]
        order = [axis, *(k for k in range(3) if k != axis)]
        node = np.empty_like(at)
        node[:, order] = at
        cut = node.astype(float)
        cut[:, axis] += a / (a - b)
        side = [k for k in range(3) if k != axis]
        around = []
        for back in ((1, 1), (0, 1), (0, 0), (1, 0)):
            cell = node.copy()
            cell[:, side] -= back
            mine = number[tuple(cell.T)]
            np.add.at(total, mine, cut)
            np.add.at(count, mine, 1.0)
            around.append(mine)
        quad = np.stack(around, axis=1)
        turn = (a >= 0) != (axis == 1)
        quad[turn] = quad[turn][:, ::-1]
        triangles += [quad[:, [0, 1, 2]], quad[:, [0, 2, 3]]]
    return np.asarray(origin) + step * total / count[:, None], np.concatenate(triangles)

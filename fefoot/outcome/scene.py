"""The loaded whole foot as surfaces and cables in space, for a view that can be turned."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

ARRAYS = ("skin", "sole_triangles", "upper_triangles", "pressure_kPa", "rest_sole_mm", "bones",
          "bone_triangles", "device", "device_triangles")
_SPLIT = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]])


@dataclass(frozen=True)
class Scene:
    """Surfaces in the model's axes, loaded, mm; single precision, which holds them to 0.02 micrometres.

    Attributes
    ----------
    skin : (n, 3) float32 array
    sole_triangles, upper_triangles : (k, 3) int32 arrays
        The part of the skin that ground or device may touch, and the rest; outward.
    pressure_kPa : (n,) float32 array
        Contact pressure at the skin's points, averaged over a patch; zero off the sole.
    rest_sole_mm : (n, 2) float32 array
        Where the skin's points lie in plan (x, z) in the unloaded foot.
    bones : (b, 3) float32 array
    bone_triangles : (j, 3) int32 array
    device : (d, 3) float32 array
        Empty without a device.
    device_triangles : (i, 3) int32 array
    cables : dict of cable name -> ((p, 3) float32 array, float)
        Path, and tension in N.
    ground_y_mm : float
    """

    skin: np.ndarray
    sole_triangles: np.ndarray
    upper_triangles: np.ndarray
    pressure_kPa: np.ndarray
    rest_sole_mm: np.ndarray
    bones: np.ndarray
    bone_triangles: np.ndarray
    device: np.ndarray
    device_triangles: np.ndarray
    cables: dict[str, tuple[np.ndarray, float]]
    ground_y_mm: float


def flat_triangles(facets: np.ndarray) -> np.ndarray:
    """Return the four straight triangles (4 k, 3) in each quadratic facet (k, 6)."""
    return facets[:, _SPLIT].reshape(-1, 3)


def renumbered(*triangles: np.ndarray) -> tuple[np.ndarray, list[np.ndarray]]:
    """Return the nodes (n,) that triangles use, and the triangles over these, int32."""
    used = np.unique(np.concatenate([t.ravel() for t in triangles]))
    return used, [np.searchsorted(used, t).astype(np.int32) for t in triangles]


def cut_above(path: np.ndarray, top_mm: float) -> np.ndarray:
    """Return a path (p, 3) without what lies before or after it above a height.

    The ends that stand higher are moved along the path down to the height; a path that lies wholly
    above comes back whole.
    """
    if (path[:, 1] > top_mm).all():
        return path
    for _ in range(2):
        first = int(np.argmax(path[:, 1] <= top_mm))
        if first:
            a, b = path[first - 1], path[first]
            share = (top_mm - a[1]) / (b[1] - a[1])
            path = np.vstack([a + share * (b - a), path[first:]])
        path = path[::-1]
    return path


def parted(triangles: np.ndarray, values: np.ndarray, level: float):
    """Part triangles (k, 3) along the line on which values (n,) at their points reach a level.

    Returns
    -------
    above, below : (j, 3) int arrays
        Triangles over the points, then the further points, turned like the given ones.
    ends : (m, 2) int array
    share : (m,) array
        Further points: each lies at this share of the way between two points.
    """
    above, below, ends = [], [], []
    high = values[triangles] >= level
    for count, whole, rest in ((1, above, below), (2, below, above)):
        mine = triangles[high.sum(axis=1) == count]
        alone = (high[high.sum(axis=1) == count] == (count == 1)).argmax(axis=1)
        a, b, c = (mine[np.arange(len(mine)), (alone + k) % 3] for k in range(3))
        first = len(values) + sum(map(len, ends)) + np.arange(len(mine))
        second = first + len(mine)
        ends += [np.column_stack([a, b]), np.column_stack([a, c])]
        whole.append(np.column_stack([a, first, second]))
        rest += [np.column_stack([first, b, c]), np.column_stack([first, c, second])]
    above.append(triangles[high.all(axis=1)])
    below.append(triangles[~high.any(axis=1)])
    pairs = np.concatenate(ends)
    start, end = values[pairs].T
    return (np.concatenate(above), np.concatenate(below), pairs,
            (level - start) / np.where(start == end, 1.0, end - start))

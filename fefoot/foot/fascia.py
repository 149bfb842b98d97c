"""The plantar fascia in the sagittal section: its centre line, edges and direction."""

from __future__ import annotations

import functools

import numpy as np

from .anatomy import anatomy
from .morph import REFERENCE, Dimensions
from .section import hole_field, section_morph


@functools.cache
def _centre():
    from scipy.interpolate import PchipInterpolator

    return PchipInterpolator(*np.array(anatomy().table["fascia"]["centre_mm"], float).T)


@functools.lru_cache(maxsize=64)
def fascia_centre(dimensions: Dimensions = REFERENCE) -> tuple[np.ndarray, np.ndarray]:
    """Return points (k, 2) mm of a person's centre line and unit tangents (k, 2), heel to toe."""
    centre = _centre()
    x = np.linspace(centre.x[0], centre.x[-1], 700)
    line = section_morph("sagittal", np.column_stack([x, centre(x)]), dimensions)
    slope = np.gradient(line, axis=0, edge_order=2)
    return line, slope / np.linalg.norm(slope, axis=1, keepdims=True)


def fascia_direction(points: np.ndarray, dimensions: Dimensions = REFERENCE) -> np.ndarray:
    """Return unit tangents (n, 2) of a person's centre line nearest to points (n, 2) mm."""
    line, tangent = fascia_centre(dimensions)
    points = np.asarray(points, float)
    out = np.empty_like(points)
    for start in range(0, len(points), 4096):
        part = points[start : start + 4096]
        distance = ((part[:, None] - line[None]) ** 2).sum(axis=2)
        out[start : start + 4096] = tangent[distance.argmin(axis=1)]
    return out


def fascia_edges() -> tuple[np.ndarray, np.ndarray]:
    """Return the lower and upper edge (k, 2) mm of the reference strip, heel to toe.

    Both begin on the calcaneus and end on the toe; between, the strip has the thickness of the
    anatomy file.
    """
    line, tangent = fascia_centre()
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    half = 0.5 * anatomy().table["fascia"]["thickness_mm"]
    return _outside(line - half * normal), _outside(line + half * normal)


def _outside(edge: np.ndarray) -> np.ndarray:
    """Cut an edge where it enters a bone at either end."""
    hole = hole_field("sagittal")
    free = hole(edge) > 0.0
    middle = len(edge) // 2
    first = middle - np.flatnonzero(~free[:middle][::-1])[0]
    last = middle + np.flatnonzero(~free[middle:])[0] - 1
    start, end = _crossing(hole, edge[first - 1], edge[first]), _crossing(
        hole, edge[last + 1], edge[last])
    return np.vstack([start, edge[first : last + 1], end])


def _crossing(field, inside: np.ndarray, outside: np.ndarray) -> np.ndarray:
    for _ in range(60):
        middle = 0.5 * (inside + outside)
        if field(middle[None])[0] < 0.0:
            inside = middle
        else:
            outside = middle
    return 0.5 * (inside + outside)

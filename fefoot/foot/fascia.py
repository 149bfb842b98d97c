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


def person_fascia(dimensions: Dimensions, stiffness_N_per_mm: float):
    """Return the material of a meshed fascia and its fibre directions.

    The strip of thickness t and depth w(s) along its length s is given the fibre modulus
    E = k int ds / (t w), so that as a whole it is as stiff as the cable it stands for.

    Returns
    -------
    material : Material
        The shipped fascia with that fibre modulus.
    fibre : callable
        Points (m, q, 2) of the unloaded section -> unit vectors (m, q, 3).
    """
    from dataclasses import replace

    from ..material.table import material
    from .section import thickness_mm

    line, _ = fascia_centre(dimensions)
    step = np.linalg.norm(np.diff(line, axis=0), axis=1)
    depth = thickness_mm("sagittal", 0.5 * (line[1:, 0] + line[:-1, 0]), dimensions)
    thick = anatomy().table["fascia"]["thickness_mm"]
    modulus = stiffness_N_per_mm * float((step / (thick * depth)).sum())
    base = material("fascia")

    def fibre(points):
        flat = fascia_direction(points.reshape(-1, 2), dimensions)
        return np.column_stack([flat, np.zeros(len(flat))]).reshape(*points.shape[:-1], 3)

    return replace(base, constants=base.constants | {"E_fibre_MPa": modulus}), fibre

"""Signed distances of simple solids, negative inside, and their smooth unions.

Points are (n, 3) mm, distances (n,) mm. The round cone is exact; the ellipsoid is exact on its
surface and first-order accurate near it.
"""

from __future__ import annotations

import numpy as np


def smoothstep(t):
    """Return the quintic step S(t): 0 below 0, 1 above 1, with two smooth derivatives."""
    t = np.clip(t, 0.0, 1.0)
    return t * t * t * (10.0 + t * (6.0 * t - 15.0))


def smooth_minimum(a: np.ndarray, b: np.ndarray, width_mm: float) -> np.ndarray:
    """Return min(a, b) - h^2 / (4 k), h = max(k - |a - b|, 0), k the width.

    Equal to the minimum where a and b differ by more than the width.
    """
    h = np.maximum(width_mm - np.abs(a - b), 0.0)
    return np.minimum(a, b) - h * h / (4.0 * width_mm)


def smooth_maximum(a: np.ndarray, b: np.ndarray, width_mm: float) -> np.ndarray:
    """Return the mirror image of `smooth_minimum`."""
    return -smooth_minimum(-a, -b, width_mm)


def round_cone(points: np.ndarray, a, b, radius_a: float, radius_b: float) -> np.ndarray:
    """Return the distance to the hull of two spheres.

    In the plane of the axis (t along, r across) the flank is the line with normal (s, c),
    s = (ra - rb) / L; in front of and behind it the spheres are nearer.
    """
    a, b = np.asarray(a, float), np.asarray(b, float)
    axis = b - a
    length = float(np.linalg.norm(axis))
    s = (radius_a - radius_b) / length
    c = np.sqrt(1.0 - s * s)
    local = points - a
    t = local @ (axis / length)
    square = np.einsum("ij,ij->i", local, local)
    r = np.sqrt(np.maximum(square - t * t, 0.0))
    along = c * t - s * r
    flank = s * t + c * r - radius_a
    start = np.sqrt(square) - radius_a
    end = np.hypot(t - length, r) - radius_b
    return np.where(along < 0.0, start, np.where(along > c * length, end, flank))


def ellipsoid(points: np.ndarray, centre, radii) -> np.ndarray:
    """Return k0 (k0 - 1) / k1, k0 = |p / r|, k1 = |p / r^2|: near the surface, the distance."""
    scaled = (points - np.asarray(centre, float)) / np.asarray(radii, float)
    k0 = np.sqrt(np.einsum("ij,ij->i", scaled, scaled))
    twice = scaled / np.asarray(radii, float)
    k1 = np.sqrt(np.einsum("ij,ij->i", twice, twice))
    centre_depth = -float(np.min(radii))
    return np.where(k1 > 0.0, k0 * (k0 - 1.0) / np.where(k1 > 0.0, k1, 1.0), centre_depth)

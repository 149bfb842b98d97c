"""From triangles to heights over a regular plan grid: what is seen from below, or from above."""

from __future__ import annotations

import numpy as np

from ..device.facets import Facets
from ..device.grid import HeightGrid
from .order import subdivided

STEP_MM = 0.5
PATCH_MM = 2.0
"""Triangles are cut to this size, so that each covers few grid points."""
FACING = {False: np.cos(np.radians(45.0)), True: 0.02}
"""Least cosine between a triangle's normal and the line of sight: a sole faces down within 45
degrees, the top of a device is all that can be seen from above."""
SMOOTH_MM = 1.5
"""Width of the Gaussian that smooths the sole of a foot."""
BEYOND_MM, EXTENDED = 12.0, 2


def height_grid(facets: Facets, is_top: bool, margin_mm: float = 0.0) -> HeightGrid:
    """Return the sole (seen from below) or the top (seen from above) of an outward surface, mm.

    Grid points that no triangle covers take the height of the nearest that has one, so that the
    surface goes on level beside it; a top first goes on straight for `EXTENDED` points, so that it is
    right up to its edge. A sole is smoothed and its lowest height is zero.
    """
    from scipy.ndimage import distance_transform_edt, gaussian_filter

    normal = facets.normals_mm2()
    size = np.linalg.norm(normal, axis=1)
    up = normal[:, 1] / np.where(size > 0.0, size, 1.0)
    seen = (up if is_top else -up) > FACING[is_top]
    low = facets.points_mm.min(axis=0) - BEYOND_MM
    high = facets.points_mm.max(axis=0) + BEYOND_MM
    low, high = np.floor(low), np.ceil(high)
    shape = tuple(np.rint((high - low)[[0, 2]] / STEP_MM).astype(int) + 1)
    corners = subdivided(Facets(facets.points_mm, facets.triangles[seen]), PATCH_MM)
    heights = _covered(corners, low, shape, -1.0 if is_top else 1.0)
    for _ in range(EXTENDED if is_top else 0):
        heights = _extended(heights)
    known = np.isfinite(heights)
    i, j = distance_transform_edt(~known, return_distances=False, return_indices=True)
    heights = heights[i, j]
    if not is_top:
        heights = gaussian_filter(heights, SMOOTH_MM / STEP_MM, mode="nearest")
        heights = heights - heights[known].min()
    return HeightGrid(float(low[0]), float(low[2]), STEP_MM, heights, is_top, margin_mm)


def _extended(heights):
    """Return heights with unknown points beside known ones set by going on straight, 8 ways."""
    pad = np.pad(heights, 2, constant_values=np.nan)
    nx, nz = heights.shape
    total, count = np.zeros(heights.shape), np.zeros(heights.shape)
    for i in (-1, 0, 1):
        for j in (-1, 0, 1):
            if (i, j) == (0, 0):
                continue
            near, far = (pad[2 + k * i:2 + k * i + nx, 2 + k * j:2 + k * j + nz] for k in (1, 2))
            straight = 2.0 * near - far
            known = np.isfinite(straight)
            total[known] += straight[known]
            count[known] += 1.0
    new = ~np.isfinite(heights) & (count > 0.0)
    out = heights.copy()
    out[new] = total[new] / count[new]
    return out


def _covered(corners, low, shape, sign) -> np.ndarray:
    """Return the least of sign * height over each grid point times sign; nan where nothing is."""
    out = np.full(shape, np.inf)
    u = (corners[..., 0] - low[0]) / STEP_MM
    v = (corners[..., 2] - low[2]) / STEP_MM
    y = sign * corners[..., 1]
    first_u, first_v = np.ceil(u.min(axis=1) - 1e-9), np.ceil(v.min(axis=1) - 1e-9)
    across_u = int((u.max(axis=1) - first_u).max(initial=0.0) + 1e-9) + 1
    across_v = int((v.max(axis=1) - first_v).max(initial=0.0) + 1e-9) + 1
    du, dv = u[:, 1:] - u[:, :1], v[:, 1:] - v[:, :1]
    det = du[:, 0] * dv[:, 1] - du[:, 1] * dv[:, 0]
    keep = np.abs(det) > 1e-12
    u, v, y, du, dv, det, first_u, first_v = (
        a[keep] for a in (u, v, y, du, dv, det, first_u, first_v))
    for i in range(across_u):
        for j in range(across_v):
            pu, pv = first_u + i - u[:, 0], first_v + j - v[:, 0]
            s = (pu * dv[:, 1] - pv * du[:, 1]) / det
            t = (pv * du[:, 0] - pu * dv[:, 0]) / det
            inside = (s >= -1e-9) & (t >= -1e-9) & (s + t <= 1.0 + 1e-9)
            height = y[:, 0] + s * (y[:, 1] - y[:, 0]) + t * (y[:, 2] - y[:, 0])
            at = (first_u[inside].astype(int) + i, first_v[inside].astype(int) + j)
            np.minimum.at(out, at, height[inside])
    return np.where(np.isfinite(out), sign * out, np.nan)

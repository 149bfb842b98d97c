"""Quadratic triangles over a section of a device: a mapped grid of columns and rows."""

from __future__ import annotations

import numpy as np

from ..errors import MeshError
from ..mechanics.mesh import Mesh
from .section import Section

LEAST_ROWS = 2
LEAST_COLUMNS = 8
MOST_BULGE = 0.25
# The nine nodes of a quad's 3 x 3 patch are numbered column by column from the bottom:
# corners 0 2 8 6, middles 1 5 7 3, centre 4. Both ways of cutting it, counter-clockwise.
_RISING = np.array([[0, 6, 8, 3, 7, 4], [0, 8, 2, 4, 5, 1]])
_FALLING = np.array([[0, 6, 2, 3, 4, 1], [6, 8, 2, 7, 5, 4]])


def section_mesh(section: Section, size_mm: float = 2.5) -> Mesh:
    """Mesh a section.

    Columns are spaced evenly along the top profile's arc length, so that steep rims are resolved;
    each layer has rows by its mean thickness, at least two. Each quad is cut along the diagonal
    that leaves the larger smallest Jacobian ratio; equal ones alternate. Corner nodes lie on the
    section's profiles, mid-side nodes as far as a layer's thickness stays close to linear.

    Parameters
    ----------
    section : Section
    size_mm : float
        Wanted element size.

    Returns
    -------
    Mesh
        Points (s, y) mm; regions ``device:<material>``; facets ``device_top`` and
        ``device_bottom`` listed in order of s, each oriented with its normal outward.

    Raises
    ------
    MeshError
        When an element is inverted.
    """
    s = _columns(section, size_mm)
    y, rows = _rows(section, s, size_mm)
    nodes = np.arange(y.size).reshape(y.shape)
    points = np.column_stack([np.repeat(s, y.shape[1]), y.ravel()])
    columns, levels = (len(s) - 1) // 2, (y.shape[1] - 1) // 2
    patch = np.stack([
        nodes[i : i + 2 * columns : 2, j : j + 2 * levels : 2] for i in range(3) for j in range(3)
    ], axis=-1)
    cells = _cut(points, patch)
    ratio = jacobian_ratio(points, cells.reshape(-1, 6))
    if not ratio.min() > 0.0:
        raise MeshError(f"{np.sum(ratio <= 0)} elements of a device section are inverted")
    layer_of_level = np.repeat(np.arange(len(rows)), rows)[::-1]
    material = section.material_at(s[1::2])[layer_of_level].T
    used = np.unique(material)
    region = np.repeat(np.searchsorted(used, material)[..., None], 2, axis=-1)
    top = np.column_stack([nodes[2::2, -1], nodes[:-1:2, -1], nodes[1::2, -1]])
    bottom = np.column_stack([nodes[:-1:2, 0], nodes[2::2, 0], nodes[1::2, 0]])
    return Mesh(
        points, cells.reshape(-1, 6), region.ravel(),
        tuple(f"device:{section.material_names[m]}" for m in used),
        {"device_top": top, "device_bottom": bottom},
    )


def jacobian_ratio(points: np.ndarray, cells: np.ndarray) -> np.ndarray:
    """Return for each quadratic triangle (m, 6) its smallest over its mean Jacobian determinant.

    The determinant is a quadratic polynomial; its six Bernstein coefficients bound it from below,
    so a positive ratio proves the element valid everywhere. A straight triangle has ratio 1.
    """
    d = _determinants(points[cells])
    middle = 2.0 * d[:, 3:] - 0.5 * (d[:, :3] + np.roll(d[:, :3], -1, axis=1))
    coefficients = np.concatenate([d[:, :3], middle], axis=1)
    return coefficients.min(axis=1) / np.abs(coefficients.mean(axis=1))


def _determinants(corners):
    """Jacobian determinants (m, 6) at the six nodes of quadratic triangles (m, 6, 2)."""
    r = np.array([0.0, 1.0, 0.0, 0.5, 0.5, 0.0])
    t = np.array([0.0, 0.0, 1.0, 0.0, 0.5, 0.5])
    q = 1.0 - r - t
    zero = np.zeros(6)
    by_r = np.stack([1 - 4 * q, 4 * r - 1, zero, 4 * (q - r), 4 * t, -4 * t])
    by_t = np.stack([1 - 4 * q, zero, 4 * t - 1, -4 * r, 4 * r, 4 * (q - t)])
    a, b = np.einsum("mnd,nk->mkd", corners, by_r), np.einsum("mnd,nk->mkd", corners, by_t)
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def _columns(section, size_mm):
    """Positions of all node columns (2 columns + 1): corners by arc length, middles halfway."""
    s, top = section.s_mm, section.interfaces_mm[0]
    arc = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(s), np.diff(top)))])
    count = max(LEAST_COLUMNS, int(np.ceil(arc[-1] / size_mm)))
    corners = np.interp(np.linspace(0.0, arc[-1], count + 1), arc, s)
    corners[0], corners[-1] = s[0], s[-1]
    return np.sort(np.concatenate([corners, 0.5 * (corners[1:] + corners[:-1])]))


def _rows(section, s, size_mm):
    """Node heights (columns, 2 levels + 1) from the bottom up, and the rows per layer."""
    faces = _straightened(section.interfaces_at(s))
    thickness = faces[:-1] - faces[1:]
    if not thickness.min() > 0.0:
        raise MeshError("a layer of a device section has no thickness")
    rows = np.maximum(LEAST_ROWS, np.rint(thickness.mean(axis=1) / size_mm).astype(int))
    heights = [faces[-1][:, None]]
    for layer in reversed(range(len(rows))):
        share = np.arange(1, 2 * rows[layer] + 1) / (2 * rows[layer])
        heights.append(faces[layer + 1][:, None] + thickness[layer][:, None] * share)
    return np.hstack(heights), rows


def _straightened(faces):
    """Draw interfaces (layers + 1, columns) towards the chord in middle columns that bulge too much.

    A triangle of a patch holds the product of height and thickness only where thickness is linear, so
    that a layer's thickness may differ from its ends' mean by `MOST_BULGE` of the thinner end.
    """
    ends = np.stack([faces[:, :-2:2], faces[:, 2::2]])
    chord = ends.mean(axis=0)
    bulge = faces[:, 1::2] - chord
    thin = (ends[:, :-1] - ends[:, 1:]).min(axis=0)
    share = MOST_BULGE * thin / np.maximum(np.abs(np.diff(bulge, axis=0)), 1e-300)
    out = faces.copy()
    out[:, 1::2] = chord + np.minimum(share.min(axis=0), 1.0) * bulge
    return out


def _cut(points, patch):
    """Cut each 3 x 3 patch (columns, levels, 9) into two triangles (columns, levels, 2, 6)."""
    rising, falling = patch[..., _RISING], patch[..., _FALLING]
    worst = [
        _worst(points, cells.reshape(-1, 6)).reshape(cells.shape[:3]).min(axis=-1)
        for cells in (rising, falling)
    ]
    odd = np.add.outer(np.arange(patch.shape[0]), np.arange(patch.shape[1])) % 2 == 1
    gain = worst[1] - worst[0]
    swap = np.where(np.abs(gain) < 1e-6, odd, gain > 0)
    return np.where(swap[..., None, None], falling, rising)


def _worst(points, cells):
    """Smallest Jacobian of a quadratic triangle over its longest edge squared."""
    corners = points[cells[:, :3]]
    longest = np.max(np.sum((corners - np.roll(corners, 1, axis=1)) ** 2, axis=-1), axis=1)
    return _determinants(points[cells]).min(axis=1) / longest

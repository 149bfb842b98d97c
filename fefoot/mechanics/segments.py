"""Integration points of the contact surface, split where the target's facets meet.

A function that is smooth on each target facet is integrated exactly only if no integration cell
straddles two of them: on a line the cells end where rays reach the target's vertices (and at the
middle node, where the hat functions have a kink); on a triangle they are the polygons that target
and own facet share, fanned into triangles.
"""

from __future__ import annotations

import numpy as np

from .element import facet_monomials, facet_place, quadrature
from .surface import correction

SETTLED = 1e-9
"""Last step of Newton's method in facet parameters."""
ONCE = 0.5 + 1e-3
"""Parametric area of a facet that target facets, none behind another, can cover."""


def points_on(x, facets, vertex, normals, target, margin_mm):
    """Return facet (n,), parameters (n, d - 1), parametric weights (n,) and the target's facet (n,).

    The target's facet is a first guess, -1 where it has to be searched for. Facets farther than
    ``margin_mm`` from the target keep one undivided cell.
    """
    if x.shape[1] == 2:
        return _line_points(x, facets, vertex, normals, target, margin_mm)
    return _face_points(x, facets, vertex, normals, target, margin_mm)


def _line_points(x, facets, vertex, normals, target, margin_mm):
    ends = x[np.unique(target[:, :2])]
    edge = x[facets]
    half = np.linalg.norm(edge[:, 1] - edge[:, 0], axis=1) / 2
    apart = 0.5 * (edge[:, 0] + edge[:, 1])[:, None] - ends
    owner, number = np.nonzero((apart**2).sum(2) <= (half[:, None] + margin_mm) ** 2)
    point = ends[number]
    start, end, middle = (normals[vertex[owner, i]].T for i in range(3))
    before, after = 2.0 * (middle - start), 2.0 * (end - middle)
    coefficients, point = facet_monomials(edge)[:, :, owner], point.T
    s = np.full(len(owner), 0.5)
    for _ in range(8):
        place, (tangent,) = facet_place(coefficients, s[None])
        offset, turn = place - point, np.where(s > 0.5, after, before)
        ray = middle + (s - 0.5) * turn
        slope = _cross(tangent, ray) + _cross(offset, turn)
        step = _cross(offset, ray) / np.where(np.abs(slope) < 1e-12, 1e-12, slope)
        s = np.clip(s - step, -1.0, 2.0)
        if np.abs(step).max(initial=0.0) < 1e-9:
            break
    inside = (s > 1e-7) & (s < 1 - 1e-7)
    count = np.arange(len(facets))
    owner = np.concatenate([count, count, count, owner[inside]])
    s = np.concatenate([*(np.full(len(facets), v) for v in (0.0, 0.5, 1.0)), s[inside]])
    order = np.lexsort((s, owner))
    owner, s = owner[order], s[order]
    cell = np.flatnonzero((owner[1:] == owner[:-1]) & (np.diff(s) > 1e-9))
    low, width = s[cell], s[cell + 1] - s[cell]
    where, weight = quadrature(2, 5)
    points = low[:, None] + width[:, None] * where[:, 0]
    return (np.repeat(owner[cell], len(weight)), points.reshape(-1, 1),
            (width[:, None] * weight).ravel(), np.full(points.size, -1))


def _cross(a, b):
    return a[0] * b[1] - a[1] * b[0]


def _face_points(x, facets, vertex, normals, target, margin_mm):
    from scipy.spatial import cKDTree

    own, other = x[facets[:, :3]], x[target[:, :3]]
    reach = np.linalg.norm(own - own.mean(1, keepdims=True), axis=2).max(1)
    size = np.linalg.norm(other - other.mean(1, keepdims=True), axis=2).max()
    near = cKDTree(other.mean(1)).query_ball_point(own.mean(1), reach + size + margin_mm)
    owner = np.repeat(np.arange(len(facets)), [len(n) for n in near])
    partner = np.concatenate([np.asarray(n, int) for n in near]) if len(owner) else owner
    polygon, count = _clip(_parameters(own[owner], normals[vertex[owner, :3]], other[partner]))
    area = _areas(polygon, count)
    keep = area > 1e-10
    owner, partner, polygon, count, area = (
        v[keep] for v in (owner, partner, polygon, count, area))
    covered = np.bincount(owner, area, len(facets))
    # where target facets lie behind one another the first of them is not known
    partner[covered[owner] > ONCE] = -1
    piece, triangles = _fan(polygon, count)
    owner, partner = owner[piece], partner[piece]
    # a facet that the target covers completely or not at all needs no special care; the part of a
    # facet that sees no target carries no pressure, so that it needs no points
    alone = np.flatnonzero(covered < 1e-10)
    whole = np.broadcast_to(np.array([[0, 0], [1, 0], [0, 1]], float), (len(alone), 3, 2))
    owner = np.concatenate([owner, alone])
    partner = np.concatenate([partner, np.full(len(alone), -1)])
    triangles = np.concatenate([triangles, whole])
    where, weight = quadrature(3, 4)
    base = np.concatenate([1 - where.sum(1, keepdims=True), where], axis=1)
    points = np.einsum("qv,tvi->tqi", base, triangles).reshape(-1, 2)
    legs = triangles[:, 1:] - triangles[:, :1]
    scale = np.abs(np.linalg.det(legs))
    owner, partner = (np.repeat(v, len(weight)) for v in (owner, partner))
    return owner, points, (scale[:, None] * weight).ravel(), partner


def _parameters(own, normals, points):
    """Facet parameters (n, 3, 2) of three points seen along the interpolated normals.

    ``own``, ``normals`` and ``points`` are (n, 3, 3): corner or point, then axis.
    """
    own, normals, points = (v.transpose(2, 1, 0) for v in (own, normals, points))
    start, a, b = own[:, :1], own[:, 1:2] - own[:, :1], own[:, 2:] - own[:, :1]
    first, turn_a, turn_b = (
        normals[:, :1], normals[:, 1:2] - normals[:, :1], normals[:, 2:] - normals[:, :1])
    s, g = np.full((2, *points.shape[1:]), 1 / 3), np.zeros(points.shape[1:])
    for _ in range(6):
        ray = first + s[0] * turn_a + s[1] * turn_b
        miss = start + s[0] * a + s[1] * b + g * ray - points
        along, step = correction((a + g * turn_a, b + g * turn_b), ray, miss)
        s, g = np.clip(s - along, -20, 20), g + step
        if np.abs(along).max(initial=0.0) < SETTLED:
            break
    return s.transpose(2, 1, 0)


def _clip(triangle):
    """Clip triangles (n, 3, 2) by the unit triangle: polygons (n, 8, 2) and vertex counts (n,)."""
    n = len(triangle)
    legs = triangle[:, 1:] - triangle[:, :1]
    turned = np.linalg.det(legs) < 0
    triangle = np.where(turned[:, None, None], triangle[:, ::-1], triangle)
    polygon = np.zeros((n, 8, 2))
    polygon[:, :3] = triangle
    count = np.full(n, 3)
    for side in (lambda p: p[..., 0], lambda p: p[..., 1], lambda p: 1 - p[..., 0] - p[..., 1]):
        out, size = np.zeros_like(polygon), np.zeros(n, int)
        rows = np.arange(n)
        for k in range(7):
            here = k < count
            a, b = polygon[:, k], polygon[rows, np.where(k + 1 < count, k + 1, 0)]
            fa, fb = side(a), side(b)
            keep = here & (fa >= 0)
            out[rows[keep], size[keep]] = a[keep]
            size[keep] += 1
            cross = here & (fa * fb < 0)
            t = fa[cross] / (fa[cross] - fb[cross])
            out[rows[cross], size[cross]] = a[cross] + t[:, None] * (b[cross] - a[cross])
            size[cross] += 1
        polygon, count = out, size
    return polygon, count


def _areas(polygon, count):
    area = np.zeros(len(polygon))
    for k in range(1, 7):
        good = k + 1 < count
        a, b = polygon[:, k] - polygon[:, 0], polygon[:, k + 1] - polygon[:, 0]
        area += np.where(good, 0.5 * _cross(a.T, b.T), 0.0)
    return area


def _fan(polygon, count):
    """Split polygons into triangles from their first vertex: polygon (t,), triangles (t, 3, 2)."""
    numbers, triangles = [], []
    for k in range(1, 7):
        good = np.flatnonzero(k + 1 < count)
        numbers.append(good)
        triangles.append(np.stack([polygon[good, 0], polygon[good, k], polygon[good, k + 1]], 1))
    return np.concatenate(numbers), np.concatenate(triangles)

"""Quadratic reference elements: shape functions and quadrature.

Nodes are corners, then middles of edges: of a line (0, 1, 01), a triangle (01, 12, 02), a tetrahedron
(01, 12, 02, 03, 13, 23), as in :mod:`fefoot.mechanics.mesh`.
"""

from __future__ import annotations

import math
from functools import cache

import numpy as np

_EDGES = {2: ((0, 1),), 3: ((0, 1), (1, 2), (0, 2)),
          4: ((0, 1), (1, 2), (0, 2), (0, 3), (1, 3), (2, 3))}
_MIDDLE, _CORNER = (1 - math.sqrt(0.6)) / 2, (5 - math.sqrt(5)) / 20
_RULES = {
    (2, 5): ((5 / 18, (_MIDDLE,)), (4 / 9, (0.5,)), (5 / 18, (1 - _MIDDLE,))),
    (3, 2): tuple((1 / 6, p) for p in ((1 / 6, 1 / 6), (2 / 3, 1 / 6), (1 / 6, 2 / 3))),
    (3, 4): tuple((w, p) for w, a, b in (
        (0.111690794839006, 0.445948490915965, 0.10810301816807),
        (0.054975871827661, 0.0915762135097705, 0.816847572980459))
        for p in ((a, b), (b, a), (a, a))),
    (4, 2): tuple((1 / 24, tuple(1 - 3 * _CORNER if i == k else _CORNER for i in range(3)))
                  for k in range(4)),
}
"""Weights and points by (corners, degree): Gauss; Strang & Fix 1973; Dunavant 1985, Int J Numer Meth
Eng 21:1129-1148; Keast 1986, Comput Methods Appl Mech Eng 55:339-348 (all recalled)."""


@cache
def quadrature(corners: int, degree: int) -> tuple[np.ndarray, np.ndarray]:
    """Return points (q, d) and weights (q,) exact to ``degree`` on the unit simplex.

    ``corners`` is 2 (unit interval), 3 (triangle) or 4 (tetrahedron). The rules of the solver stand
    here; any other comes from scikit-fem.
    """
    if (corners, degree) in _RULES:
        weights, points = zip(*_RULES[corners, degree], strict=True)
        return np.array(points), np.array(weights)
    from skfem.quadrature import get_quadrature
    from skfem.refdom import RefLine, RefTet, RefTri

    points, weights = get_quadrature({2: RefLine, 3: RefTri, 4: RefTet}[corners], degree)
    return np.ascontiguousarray(points.T), np.array(weights)


def shape(corners: int, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return quadratic shape functions (q, n) and their reference gradients (q, n, d).

    With barycentric coordinates L: L_i (2 L_i - 1) at corners, 4 L_i L_k at middles.
    """
    d = corners - 1
    L = np.column_stack([1 - points.sum(1), points])
    slope = np.vstack([-np.ones(d), np.eye(d)])
    i, k = np.array(_EDGES[corners]).T
    values = np.hstack([L * (2 * L - 1), 4 * L[:, i] * L[:, k]])
    slopes = np.concatenate([
        (4 * L - 1)[:, :, None] * slope,
        4 * (L[:, i, None] * slope[k] + L[:, k, None] * slope[i])], axis=1)
    return values, slopes


def line_shape(s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Quadratic line (corner, corner, middle) on s in [0, 1]: values, first, second derivatives.

    N0 = (1-s)(1-2s), N1 = s(2s-1), N2 = 4s(1-s): shapes (..., 3), (..., 3) and (3,).
    """
    values, slopes = np.empty((2, *s.shape, 3))
    values[..., 0] = (1 - s) * (1 - 2 * s)
    values[..., 1] = s * (2 * s - 1)
    values[..., 2] = 4 * s * (1 - s)
    slopes[..., 0] = 4 * s - 3
    slopes[..., 1] = 4 * s - 1
    slopes[..., 2] = 4 - 8 * s
    return values, slopes, np.array([4.0, 4.0, -8.0])


def face_shape(s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Quadratic triangle at s (..., 2): values (..., 6), gradient (..., 6, 2), Hessian (6, 2, 2)."""
    a, b = s[..., 0], s[..., 1]
    c = 1 - a - b
    values = np.stack(
        [c * (2 * c - 1), a * (2 * a - 1), b * (2 * b - 1), 4 * c * a, 4 * a * b, 4 * b * c], -1
    )
    zero = np.zeros_like(a)
    grad = np.stack(
        [
            np.stack([1 - 4 * c, 4 * a - 1, zero, 4 * (c - a), 4 * b, -4 * b], -1),
            np.stack([1 - 4 * c, zero, 4 * b - 1, -4 * a, 4 * a, 4 * (c - b)], -1),
        ],
        -1,
    )
    hess = np.array(
        [[[4, 4], [4, 4]], [[4, 0], [0, 0]], [[0, 0], [0, 4]],
         [[-8, -4], [-4, 0]], [[0, 4], [4, 0]], [[0, -4], [-4, -8]]], float,
    )
    return values, grad, hess


def facet_shape(s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Shape of a boundary facet at parameters s (n, 1) or (n, 2).

    Returns values (n, k), gradients (n, k, d), Hessians (1, k, d, d).
    """
    if s.shape[-1] == 1:
        values, grad, hess = line_shape(s[..., 0])
        return values, grad[..., None], hess[None, :, None, None]
    values, grad, hess = face_shape(s)
    return values, grad, hess[None]


def facet_monomials(corner: np.ndarray) -> np.ndarray:
    """Return the coefficients (k, d, m) of the positions on quadratic facets (m, k, d).

    Of 1, s, s^2 along a line; of 1, a, b, a^2, a b, b^2 on a triangle.
    """
    n = np.ascontiguousarray(corner.transpose(1, 2, 0))
    if len(n) == 3:
        return np.stack([n[0], 4 * n[2] - 3 * n[0] - n[1], 2 * (n[0] + n[1] - 2 * n[2])])
    return np.stack([
        n[0], 4 * n[3] - 3 * n[0] - n[1], 4 * n[5] - 3 * n[0] - n[2], 2 * (n[0] + n[1] - 2 * n[3]),
        4 * (n[0] - n[3] + n[4] - n[5]), 2 * (n[0] + n[2] - 2 * n[5])])


def facet_place(c: np.ndarray, s: np.ndarray) -> tuple[np.ndarray, list[np.ndarray]]:
    """Return positions (d, n) and tangents, d - 1 of (d, n), at parameters s (d - 1, n).

    ``c`` (k, d, n) are each point's coefficients from :func:`facet_monomials`.
    """
    if len(s) == 1:
        bent = s[0] * c[2]
        return c[0] + s[0] * (c[1] + bent), [c[1] + 2 * bent]
    a, b = s
    first, mixed, second = a * c[3], b * c[4], b * c[5]
    return (c[0] + a * (c[1] + first + mixed) + b * (c[2] + second),
            [c[1] + 2 * first + mixed, c[2] + a * c[4] + 2 * second])


def hat_shape(s: np.ndarray) -> np.ndarray:
    """Piecewise linear functions (n, k) of all nodes of a quadratic facet at parameters s (n, d).

    The facet is split at its middle nodes: a line in two, a triangle in four. Each function is one
    at its node, zero at the others and nowhere negative, unlike the quadratic ones.
    """
    if s.shape[-1] == 1:
        t = 2.0 * s[..., 0] - 1.0
        values = np.empty((*t.shape, 3))
        np.maximum(-t, 0.0, out=values[..., 0])
        np.maximum(t, 0.0, out=values[..., 1])
        np.subtract(1.0, np.abs(t), out=values[..., 2])
        return values
    a, b = s[..., 0], s[..., 1]
    c = 1.0 - a - b

    def middle(p, q, r):
        return np.where(p > 0.5, 2 * q, np.where(
            q > 0.5, 2 * p, np.where(r > 0.5, 0.0, 1.0 - 2 * r)))

    return np.stack([*(np.maximum(2 * v - 1, 0.0) for v in (c, a, b)),
                     middle(c, a, b), middle(a, b, c), middle(b, c, a)], -1)

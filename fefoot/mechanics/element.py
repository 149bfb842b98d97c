"""Quadratic reference elements: shape functions and quadrature, both from scikit-fem.

scikit-fem's node order is permuted to the order of :mod:`fefoot.mechanics.mesh`.
"""

from __future__ import annotations

from functools import cache

import numpy as np

# scikit-fem keeps the middle nodes of tetra10 in the order 01, 12, 02, 03, 13, 23 like meshio,
# and those of triangle6 in the order 01, 12, 02; line3 is (corner, corner, middle).


@cache
def quadrature(corners: int, degree: int) -> tuple[np.ndarray, np.ndarray]:
    """Return points (q, d) and weights (q,) exact to ``degree`` on the unit simplex.

    ``corners`` is 2 (unit interval), 3 (triangle) or 4 (tetrahedron).
    """
    from skfem.quadrature import get_quadrature
    from skfem.refdom import RefLine, RefTet, RefTri

    points, weights = get_quadrature({2: RefLine, 3: RefTri, 4: RefTet}[corners], degree)
    return np.ascontiguousarray(points.T), np.array(weights)


def shape(corners: int, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return quadratic shape functions (q, n) and their reference gradients (q, n, d)."""
    from skfem import ElementLineP2, ElementTetP2, ElementTriP2

    element = {2: ElementLineP2, 3: ElementTriP2, 4: ElementTetP2}[corners]()
    nodes = {2: 3, 3: 6, 4: 10}[corners]
    pairs = [element.lbasis(np.ascontiguousarray(points.T), i) for i in range(nodes)]
    size = len(points)
    values = np.stack([np.broadcast_to(value, (size,)) for value, _ in pairs], axis=1)
    slopes = np.stack(
        [np.broadcast_to(np.asarray(grad).reshape(points.shape[1], -1), (points.shape[1], size)).T
         for _, grad in pairs], axis=1,
    )
    return np.ascontiguousarray(values), np.ascontiguousarray(slopes)


def line_shape(s: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Quadratic line (corner, corner, middle) on s in [0, 1]: values, first, second derivatives.

    N0 = (1-s)(1-2s), N1 = s(2s-1), N2 = 4s(1-s); each result has shape (..., 3).
    """
    values, slopes = np.empty((2, *s.shape, 3))
    values[..., 0] = (1 - s) * (1 - 2 * s)
    values[..., 1] = s * (2 * s - 1)
    values[..., 2] = 4 * s * (1 - s)
    slopes[..., 0] = 4 * s - 3
    slopes[..., 1] = 4 * s - 1
    slopes[..., 2] = 4 - 8 * s
    return values, slopes, np.broadcast_to([4.0, 4.0, -8.0], (*s.shape, 3))


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

    Returns values (n, k), gradients (n, k, d), Hessians (n or 1, k, d, d).
    """
    if s.shape[-1] == 1:
        values, grad, hess = line_shape(s[..., 0])
        return values, grad[..., None], hess[..., None, None]
    values, grad, hess = face_shape(s)
    return values, grad, hess[None]


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

"""Pressure on a surface: the potential p V of the enclosed volume.

In 2D V = 1/2 int x cross x_s ds, in 3D V = 1/3 int x . (x_s cross x_t). Where the surface is open
its
edge must lie on planes through the origin (symmetry planes) or be held; then the gradient is the
follower force - p n dA and the Hessian is symmetric.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .element import facet_shape, quadrature


@dataclass(frozen=True)
class Pressure:
    """Pressure ``value_MPa`` times the load factor, against the outward normal of ``facets``."""

    facets: np.ndarray
    value_MPa: float
    thickness_mm: float = 1.0

    def evaluate(self, x: np.ndarray):
        """Return volume, dofs (k, m d), gradient (k, m d) and Hessian (k, m d, m d) of it."""
        d = x.shape[1]
        where, weight = quadrature(d, 5)
        N, G, _ = facet_shape(where)
        weight = weight * self.thickness_mm
        xe = x[self.facets]
        k, n = self.facets.shape
        dofs = (self.facets[:, :, None] * d + np.arange(d)).reshape(k, -1)
        if d == 2:
            A = np.einsum("q,qa,qb->ab", weight, N, G[:, :, 0])
            A = 0.5 * (A - A.T)
            H = np.zeros((n, 2, n, 2))
            H[:, 0, :, 1], H[:, 1, :, 0] = A, -A
            H = H.reshape(2 * n, 2 * n)
            v = xe.reshape(k, -1)
            grad = v @ H
            return 0.5 * float(np.sum(grad * v)), dofs, grad, np.broadcast_to(H, (k, 2 * n, 2 * n))
        e = np.zeros((3, 3, 3))
        e[0, 1, 2] = e[1, 2, 0] = e[2, 0, 1] = 1
        e[0, 2, 1] = e[2, 1, 0] = e[1, 0, 2] = -1
        T = np.einsum("q,qa,qb,qc->abc", weight, N, G[:, :, 0], G[:, :, 1]) / 3
        T = sum(s * T.transpose(p) for p, s in (
            ((0, 1, 2), 1), ((1, 2, 0), 1), ((2, 0, 1), 1),
            ((0, 2, 1), -1), ((2, 1, 0), -1), ((1, 0, 2), -1)))
        H = np.einsum("abc,ijk,mck->maibj", T, e, xe).reshape(k, 3 * n, 3 * n)
        v = xe.reshape(k, -1)
        grad = np.einsum("mij,mj->mi", H, v) / 2
        return float(np.sum(grad * v)) / 3, dofs, grad, H

"""Soft solids: total-Lagrangian quadratic elements, evaluated in cache-sized batches.

With F = sum x_a (x) dN_a/dX, E = (F^T F - 1)/2 and the second Piola-Kirchhoff stress S(E),

    gradient  f_a  = sum_q w F S dN_a
    Hessian   K_ab = sum_q w B_a^T D B_b + (dN_a . S dN_b) 1

(Bonet & Wood, Nonlinear Continuum Mechanics for Finite Element Analysis, 2nd ed., ch. 9). Plane
strain is the same with F33 = 1 and the quadrature weight multiplied by a thickness.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from functools import cache

import numpy as np

from .element import quadrature, shape

CHUNK = 512
VOIGT = {2: ((0, 0), (1, 1), (0, 1)), 3: ((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (0, 2))}
IN_PLANE = {2: np.array([0, 1, 3]), 3: np.arange(6)}


@cache
def pool() -> ThreadPoolExecutor:
    """Return the worker threads shared by all solids."""
    return ThreadPoolExecutor(max_workers=max(1, len(os.sched_getaffinity(0))
                                              if hasattr(os, "sched_getaffinity")
                                              else (os.cpu_count() or 1)))


class Solid:
    """Cells of one material.

    Parameters
    ----------
    points : (n, d) float array
        Reference node positions, mm.
    cells : (m, 6) or (m, 10) int array
    response : callable
        ``response(C, fibre=..., tangent=...) -> (W, S, D)``, see :mod:`fefoot.material.laws`.
    thickness_mm : (m, q) array or float
        Only in 2D.
    fibre : (m, q, 3) unit vectors, optional
    degree : int
        Polynomial degree integrated exactly. The default 2 integrates the stiffness of a
        straight-sided element exactly.
    """

    def __init__(self, points, cells, response, *, thickness_mm=1.0, fibre=None, degree=2):
        self.cells = np.asarray(cells)
        self.dim = points.shape[1]
        self.response = response
        where, weights = quadrature(self.dim + 1, degree)
        values, slopes = shape(self.dim + 1, where)
        corner = points[self.cells]
        jacobian = np.einsum("mai,qaj->mqij", corner, slopes)
        self.det = np.linalg.det(jacobian)
        self.slopes = np.ascontiguousarray(
            np.einsum("qaj,mqjk->mqak", slopes, np.linalg.inv(jacobian))
        )
        self.where = np.einsum("qa,mai->mqi", values, corner)
        if callable(thickness_mm):
            thickness_mm = thickness_mm(self.where)
        self.volume = self.det * weights * thickness_mm
        self.fibre = fibre(self.where) if callable(fibre) else fibre
        d = self.dim
        self.dofs = (self.cells[:, :, None] * d + np.arange(d)).reshape(len(self.cells), -1)
        self._parts = [slice(i, min(i + CHUNK, len(self.cells)))
                       for i in range(0, len(self.cells), CHUNK)]

    def deformation(self, x: np.ndarray, part=slice(None)) -> np.ndarray:
        """Return F (m, q, d, d)."""
        xe = x[self.cells[part]].transpose(0, 2, 1)[:, None]
        return np.matmul(xe, self.slopes[part])

    def _cauchy_green(self, F):
        """Return C component-first (6, m q)."""
        flat = F.reshape(-1, self.dim, self.dim)
        rows = [np.ascontiguousarray(flat[:, i, j]) for i in range(self.dim)
                for j in range(self.dim)]
        d = self.dim
        C = np.zeros((6, len(flat)))
        for slot, (i, j) in zip(IN_PLANE[d], VOIGT[d], strict=True):
            C[slot] = sum(rows[k * d + i] * rows[k * d + j] for k in range(d))
        if d == 2:
            C[2] = 1.0
        return C

    def _batch(self, x, part, tangent):
        d, F = self.dim, self.deformation(x, part)
        m, q = F.shape[:2]
        if np.linalg.det(F).min() <= 0 if d == 3 else (
            (F[..., 0, 0] * F[..., 1, 1] - F[..., 0, 1] * F[..., 1, 0]).min() <= 0
        ):
            return np.inf, None, None
        fibre = None if self.fibre is None else self.fibre[part].reshape(-1, 3).T
        W, S, D = self.response(self._cauchy_green(F), fibre=fibre, tangent=tangent)
        weight, G = self.volume[part], self.slopes[part]
        energy = float(W.reshape(m, q).ravel() @ weight.ravel())
        Sm = np.empty((m, q, d, d))
        for slot, (i, j) in zip(IN_PLANE[d], VOIGT[d], strict=True):
            Sm[..., i, j] = Sm[..., j, i] = S[slot].reshape(m, q) * weight
        nodes = G.shape[2]
        GS = np.matmul(G, Sm)
        # gradient: sum_q (G S) F^T
        grad = np.matmul(
            GS.transpose(0, 2, 1, 3).reshape(m, nodes, q * d),
            F.transpose(0, 1, 3, 2).reshape(m, q * d, d),
        )
        if not tangent:
            return energy, grad, None
        B = np.empty((m, q, len(VOIGT[d]), nodes, d))
        Ft = F.transpose(0, 1, 3, 2)
        for row, (i, j) in enumerate(VOIGT[d]):
            np.multiply(G[..., :, None, i], Ft[:, :, None, j], out=B[:, :, row])
            if i != j:
                B[:, :, row] += G[..., :, None, j] * Ft[:, :, None, i]
        keep = IN_PLANE[d]
        Dm = np.empty((m, q, len(keep), len(keep)))
        for a, i in enumerate(keep):
            for b, j in enumerate(keep):
                np.multiply(D[i, j].reshape(m, q), weight, out=Dm[..., a, b])
        B = B.reshape(m, q, len(keep), nodes * d)
        DB = np.matmul(Dm, B).reshape(m, q * len(keep), nodes * d)
        K = np.matmul(B.reshape(m, -1, nodes * d).transpose(0, 2, 1), DB)
        geo = np.matmul(
            GS.transpose(0, 2, 1, 3).reshape(m, nodes, q * d),
            G.transpose(0, 1, 3, 2).reshape(m, q * d, nodes),
        )
        view = K.reshape(m, nodes, d, nodes, d)
        for i in range(d):
            view[:, :, i, :, i] += geo
        return energy, grad, K

    def evaluate(self, x: np.ndarray, tangent: bool = True):
        """Return energy (N mm), cell gradients (m, k d), cell Hessians (m, k d, k d) or None.

        The energy is ``inf`` and the rest None when an element is inverted.
        """
        parts = list(pool().map(lambda p: self._batch(x, p, tangent), self._parts))
        energy = sum(p[0] for p in parts)
        if not np.isfinite(energy):
            return np.inf, None, None
        grad = np.concatenate([p[1] for p in parts]).reshape(len(self.cells), -1)
        return energy, grad, np.concatenate([p[2] for p in parts]) if tangent else None

    def stress(self, x: np.ndarray):
        """Return Cauchy stress (m, q, 3, 3) MPa, J (m, q), and energy density (m, q) MPa."""
        F = self.deformation(x)
        m, q, d = F.shape[:3]
        fibre = None if self.fibre is None else self.fibre.reshape(-1, 3).T
        W, S, _ = self.response(self._cauchy_green(F), fibre=fibre, tangent=False)
        F3 = np.zeros((m, q, 3, 3))
        F3[..., 2, 2] = 1.0
        F3[..., :d, :d] = F
        S3 = np.empty((m, q, 3, 3))
        for slot, (i, j) in enumerate(VOIGT[3]):
            S3[..., i, j] = S3[..., j, i] = S[slot].reshape(m, q)
        J = np.linalg.det(F3)
        return F3 @ S3 @ F3.swapaxes(-1, -2) / J[..., None, None], J, W.reshape(m, q)

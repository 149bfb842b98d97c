"""Soft solids: total-Lagrangian quadratic elements, evaluated in cache-sized batches.

With the gradient pulled to the reference simplex (coordinates xi, d/dX = A d/dxi), let F be the
deformation gradient, S the second Piola-Kirchhoff stress, D its tangent, and for node a and axis i

    B_(ij)   = sym(F_iI A_jJ)           so that  dE_IJ = B_(ij)IJ dx_ai dN_a/dxi_j
    f_ai     = sum_q w (B_(ij) : S) dN_a/dxi_j
    K_ai,bk  = sum_q w (B_(ij) : D : B_(kl) + delta_ik A_jI S_IL A_lL) dN_a/dxi_j dN_b/dxi_l

(Bonet & Wood, Nonlinear Continuum Mechanics for Finite Element Analysis, 2nd ed., ch. 9, whose B
is the product B_(ij) dN_a/dxi_j here). The slopes dN/dxi are the same in all cells, so that both
sums are products of one small constant matrix with all cells side by side. Plane strain is the same
with F33 = 1 and the quadrature weight multiplied by a thickness.
"""

from __future__ import annotations

import numpy as np

from ..errors import MeshError
from ..material.tensor import PAIRS
from .element import quadrature, shape
from .threads import spread

BATCH = 5200
"""Quadrature points of a batch: its arrays fit the cache, and its work outweighs the calls."""
BLAS_WORK = 2**18
"""Multiplications of one product below which BLAS starts no threads of its own."""
VOIGT = {2: ((0, 0), (1, 1), (0, 1)), 3: ((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (0, 2))}
IN_PLANE = {2: (0, 1, 3), 3: tuple(range(6))}
AXES = {d: tuple((i, k) for i in range(d) for k in range(i, d)) for d in (2, 3)}
"""Pairs of axes i <= k whose part of the Hessian is stored; the rest is its mirror image."""


def determinant(F: np.ndarray) -> np.ndarray:
    """Return the determinants (n,) of component-first matrices (d, d, n)."""
    if len(F) == 2:
        return F[0, 0] * F[1, 1] - F[0, 1] * F[1, 0]
    (a, b, c), (d, e, f), (g, h, i) = F
    return a * (e * i - f * h) + b * (f * g - d * i) + c * (d * h - e * g)


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

    Raises
    ------
    MeshError
        When a cell is inverted or flat at a quadrature point.
    """

    def __init__(self, points, cells, response, *, thickness_mm=1.0, fibre=None, degree=2):
        self.cells = np.asarray(cells)
        self.dim = d = points.shape[1]
        self.response = response
        where, weights = quadrature(d + 1, degree)
        values, slopes = shape(d + 1, where)
        corner = points[self.cells]
        jacobian = np.einsum("mai,qaj->mqij", corner, slopes)
        det = np.linalg.det(jacobian)
        if not (det > 0).all():
            bad = np.flatnonzero(~(det > 0).all(1))
            raise MeshError(
                f"{len(bad)} of {len(self.cells)} cells are inverted or flat; the first is "
                f"cell {bad[0]} near {np.round(corner[bad[0]].mean(0), 3).tolist()} mm")
        self.where = np.einsum("qa,mai->mqi", values, corner)
        if callable(thickness_mm):
            thickness_mm = thickness_mm(self.where)
        self.volume = det * weights * thickness_mm
        self.fibre = fibre = fibre(self.where) if callable(fibre) else fibre
        self.dofs = (self.cells[:, :, None] * d + np.arange(d)).reshape(len(self.cells), -1)
        nodes = slopes.shape[1]
        # rows (j, q): slopes of every node, and their products for every pair of nodes
        self._slope = np.ascontiguousarray(slopes.transpose(2, 0, 1).reshape(-1, nodes))
        self._product = np.einsum("qaj,qbl->jlqab", slopes, slopes).reshape(-1, nodes * nodes)
        self._run = max(1, BLAS_WORK // self._product.size)
        inverse = np.linalg.inv(jacobian)
        self._batches = []
        size = max(1, BATCH // len(weights))
        for start in range(0, len(self.cells), size):
            part = slice(start, min(start + size, len(self.cells)))
            self._batches.append((
                part, np.ascontiguousarray(self.cells[part].T),
                inverse[part].transpose(2, 3, 1, 0).reshape(d, d, -1),
                self.volume[part].T.ravel(),
                None if fibre is None else fibre[part].transpose(2, 1, 0).reshape(3, -1)))

    def _deformation(self, x, cells, inverse):
        """Return F (d, d, p) of the p points (quadrature point, cell) of a batch; x is (d, n)."""
        d = self.dim
        F = np.matmul(self._slope, x.take(cells, axis=1))
        return np.einsum("ijp,jJp->iJp", F.reshape(d, d, -1), inverse)

    def _cauchy_green(self, F):
        """Return C (6, p), in 2D (4, p)."""
        d = self.dim
        C = np.empty((2 * d, F.shape[2]))
        for slot, (i, j) in zip(IN_PLANE[d], VOIGT[d], strict=True):
            np.einsum("kp,kp->p", F[:, i], F[:, j], out=C[slot])
        if d == 2:
            C[2] = 1.0
        return C

    def _batch(self, x, batch, force, blocks):
        """Return the energy of a batch; write its part of ``force`` and ``blocks``."""
        part, cells, inverse, weight, fibre = batch
        d, n, keep = self.dim, cells.shape[1], IN_PLANE[self.dim]
        F = self._deformation(x, cells, inverse)
        if not (determinant(F) > 0).all():
            return np.inf
        with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
            W, S, D = self.response(self._cauchy_green(F), fibre=fibre, tangent=blocks is not None)
            energy = float(W @ weight)
        if not np.isfinite(energy):  # inverted, or so distorted that the law overflows
            return np.inf
        S = [S[row] * weight for row in keep]
        B = np.empty((len(keep), d, d, len(weight)))
        for row, (i, j) in zip(B, VOIGT[d], strict=True):
            np.multiply(F[:, None, i], inverse[None, :, j], out=row)
            if i != j:
                row += F[:, None, j] * inverse[None, :, i]
        stress = np.einsum("vijp,vp->ijp", B, np.array(S)).reshape(d, -1, n)
        np.matmul(stress.transpose(0, 2, 1), self._slope, out=force[:, part])
        if blocks is None:
            return energy
        DB, weighted = np.empty_like(B), np.empty((len(keep), len(weight)))
        for out, v in zip(DB, keep, strict=True):
            for row, w in zip(weighted, keep, strict=True):
                np.multiply(D[v, w], weight, out=row)
            np.einsum("wp,wklp->klp", weighted, B, out=out)
        H = np.empty((len(AXES[d]), d, d, len(weight)))
        for out, (i, k) in zip(H, AXES[d], strict=True):
            np.einsum("vjp,vlp->jlp", B[:, i], DB[:, k], out=out)
        full = np.empty((d, d, len(weight)))
        for row, (i, j) in zip(S, VOIGT[d], strict=True):
            full[i, j] = full[j, i] = row
        geometric = np.einsum("jIp,ILp->jLp", inverse, full)
        geometric = np.einsum("jLp,lLp->jlp", geometric, inverse)
        for out, (i, k) in zip(H, AXES[d], strict=True):
            if i == k:
                out += geometric
        H = H.reshape(len(H), -1, n).transpose(0, 2, 1)
        for first in range(0, n, self._run):
            run = slice(first, min(first + self._run, n))
            np.matmul(H[:, run], self._product,
                      out=blocks[:, part.start + run.start:part.start + run.stop])
        return energy

    def derivatives(self, x: np.ndarray, tangent: bool = True):
        """Return the energy (N mm), its gradient and its Hessian by pairs of nodes.

        Returns
        -------
        energy : float
            ``inf`` when an element is inverted or the law overflows; the rest is then None.
        gradient : (m, k d) array
            On ``dofs``.
        blocks : (d (d + 1) / 2, m, k k) array or None
            d2W / dx_ai dx_bk of the pairs of axes (i, k) in ``AXES`` and of all pairs of nodes
            (a, b), a running slower.
        """
        m, k = self.cells.shape
        x = np.ascontiguousarray(x.T)
        force = np.empty((self.dim, m, k))
        blocks = np.empty((len(AXES[self.dim]), m, k * k)) if tangent else None
        energy = sum(spread(lambda b: self._batch(x, b, force, blocks), self._batches))
        if not np.isfinite(energy):
            return np.inf, None, None
        return energy, force.transpose(1, 2, 0).reshape(m, -1), blocks

    def matrices(self, blocks: np.ndarray) -> np.ndarray:
        """Return the Hessians (m, k d, k d) on ``dofs`` of cells given by their ``blocks``."""
        d, m, k = self.dim, blocks.shape[1], self.cells.shape[1]
        out = np.empty((m, k, d, k, d))
        for block, (i, j) in zip(blocks, AXES[d], strict=True):
            block = block.reshape(m, k, k)
            out[:, :, i, :, j] = block
            out[:, :, j, :, i] = block.transpose(0, 2, 1)
        return out.reshape(m, k * d, k * d)

    def evaluate(self, x: np.ndarray, tangent: bool = True):
        """Return energy (N mm), cell gradients (m, k d), cell Hessians (m, k d, k d) or None.

        The energy is ``inf`` and the rest None when an element is inverted or the law overflows.
        """
        energy, gradient, blocks = self.derivatives(x, tangent)
        return energy, gradient, None if blocks is None else self.matrices(blocks)

    def deformation(self, x: np.ndarray) -> np.ndarray:
        """Return the deformation gradients (m, q, d, d)."""
        m, q = self.volume.shape
        F = np.empty((m, q, self.dim, self.dim))
        for part, cells, inverse, _, _ in self._batches:
            here = self._deformation(x.T, cells, inverse)
            F[part] = here.reshape(self.dim, self.dim, q, -1).transpose(3, 2, 0, 1)
        return F

    def stress(self, x: np.ndarray):
        """Return Cauchy stress (m, q, 3, 3) MPa, J (m, q), and energy density (m, q) MPa."""
        m, q = self.volume.shape
        stress, J, energy = np.empty((m, q, 3, 3)), np.empty((m, q)), np.empty((m, q))
        for part, cells, inverse, _, fibre in self._batches:
            F = np.zeros((3, 3, inverse.shape[2]))
            F[2, 2] = 1.0
            F[:self.dim, :self.dim] = self._deformation(x.T, cells, inverse)
            C = self._cauchy_green(F[:self.dim, :self.dim])
            W, S, _ = self.response(C, fibre=fibre, tangent=False)
            S3 = np.empty_like(F)
            S3[:2, 2] = S3[2, :2] = 0.0
            for row, (i, j) in zip(S, PAIRS, strict=False):
                S3[i, j] = S3[j, i] = row
            det = determinant(F)
            sigma = np.einsum("iIp,IJp,jJp->ijp", F, S3, F) / det
            stress[part] = sigma.reshape(3, 3, q, -1).transpose(3, 2, 0, 1)
            J[part], energy[part] = det.reshape(q, -1).T, W.reshape(q, -1).T
        return stress, J, energy

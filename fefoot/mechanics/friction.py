"""Coulomb friction at the vertices of a contact surface.

The mean slip since the last accepted step, s_A = 1/w_A sum_q W phi_A (1 - n n)(du_s - du_t), gives
the
trial traction tau0_A + eps s_A, cut to |tau_A| <= mu p_A; a rough contact does not cut it. Its
virtual work is
sum_A w_A tau_A . ds_A. Sticking vertices have a symmetric tangent, slipping ones do not.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy.sparse as sp

from .pairs import Pairs


@dataclass(frozen=True)
class Slip:
    """Tractions (v, d) MPa on the contact surface's opposite, and their derivatives."""

    traction_MPa: np.ndarray
    gradient: np.ndarray
    point_force_N: np.ndarray
    rows: sp.csr_matrix
    local: np.ndarray
    coupling: np.ndarray

    def hessian(self, gap_rows, live, penalty, area) -> sp.csr_matrix:
        """Return the sparse tangent; ``gap_rows`` (v, size) are the integrated gap slopes."""
        v, d = self.traction_MPa.shape
        blocks = sp.block_diag(list(self.local), format="csr") if v else None
        stick = self.rows.T @ (blocks @ self.rows)
        # pressure changes by -penalty/area times the integrated gap slope
        push = sp.csr_matrix(
            ((-self.coupling * np.where(live, penalty / area, 0.0)[:, None]).ravel(),
             (np.arange(v * d), np.repeat(np.arange(v), d))), shape=(v * d, v))
        return (stick + self.rows.T @ (push @ gap_rows)).tocsr()


def slip(x, memory, pressure, pair: Pairs, area, friction, penalty, size, stick) -> Slip:
    """Evaluate friction for pressures (v,) MPa and positions ``x``.

    With infinite friction the vertices marked by ``stick`` (v,) hold, the others are free.
    """
    v, d = len(pressure), x.shape[1]
    project = np.eye(d) - pair.normal[:, :, None] * pair.normal[:, None, :]
    move = (x - memory.x)[pair.nodes]
    relative = -np.einsum("nk,nki->ni", pair.sign, move)
    tangential = np.einsum("nij,nj->ni", project, relative)
    vertex, share = pair.vertex, pair.share
    # rows: derivative of w_A s_A, one per vertex and direction
    w = pair.dofs.shape[1]
    slope = -(pair.sign[:, None, :, None] * project[:, :, None, :]).reshape(-1, d, w)
    entry = share[:, :, None, None] * slope[:, None]
    row = np.broadcast_to((vertex[:, :, None] * d + np.arange(d))[..., None], entry.shape)
    col = np.broadcast_to(pair.dofs[:, None, None, :], entry.shape)
    rows = sp.csr_matrix((entry.ravel(), (row.ravel(), col.ravel())), shape=(v * d, size))
    mean = np.stack(
        [np.bincount(vertex.ravel(), (share * tangential[:, i, None]).ravel(), v)
         for i in range(d)], 1) / area[:, None]
    mean[area < 1e-12] = 0.0
    trial = memory.traction_MPa + penalty * mean
    rough = np.isinf(friction)
    limit = np.where(stick, np.inf, 0.0) if rough else friction * pressure
    norm = np.maximum(np.linalg.norm(trial, axis=1), 1e-300)
    sliding = norm > limit
    unit = trial / norm[:, None]
    sliding &= np.isfinite(limit)
    cap = np.where(sliding, limit, 0.0)
    traction = np.where(sliding[:, None], cap[:, None] * unit, trial)
    traction[limit <= 0] = 0.0
    eye = np.eye(d)[None]
    around = eye - unit[:, :, None] * unit[:, None, :]
    local = np.where(sliding[:, None, None], (cap / norm)[:, None, None] * around, eye)
    local = local * np.where(limit > 0, penalty / area, 0.0)[:, None, None]
    coupling = np.zeros_like(unit)
    if not rough:
        coupling[sliding & (limit > 0)] = friction * unit[sliding & (limit > 0)]
    gradient = rows.T @ traction.ravel()
    point = np.einsum("nv,nvi->ni", share, traction[vertex])
    point = np.einsum("nij,nj->ni", project, point)
    return Slip(traction, gradient, point, rows, local, coupling)

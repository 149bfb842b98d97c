r"""Friction at the vertices of a contact surface, in two forms.

*Grip* depends on the whole slip s_A since the unloaded state, not on the way there,

    tau_A = mu p_A s_A / sqrt(s_A^2 + s_0^2),

Coulomb's law with a build-up over the length s_0 (the shear of skin and sock before they slide). The
answer has no history, so that it depends neither on load steps nor on the penalty.

*Coulomb* follows the slip step by step. The mean slip since the last accepted step,
s_A = 1/w_A sum_q W phi_A (1 - n n)(du_s - du_t), gives the trial traction tau0_A + eps s_A, cut to
|tau_A| <= mu p_A; a rough contact does not cut it. Its virtual work is sum_A w_A tau_A . ds_A.
Sticking vertices have a symmetric tangent, slipping ones do not.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from .pairs import Pairs


@dataclass(frozen=True)
class Slip:
    """Friction at one state.

    Attributes
    ----------
    traction_MPa : (v, d)
        On the contact surface's opposite.
    point_force_N : (n, d)
        Its work-conjugate force at the integration points.
    holds : (v,) bool
        Vertices that can carry traction.
    normal : (n, d)
        Direction of each point across which slip is measured.
    slopes : callable
        Made on demand: the derivatives of the traction with w_A s_A (v, d, d), MPa/mm^3, and with
        the pressure (v, d), and what is missing in each point's slip because it wanders over the
        target (n, d, d), over the relative displacement, or None.
    """

    traction_MPa: np.ndarray
    point_force_N: np.ndarray
    holds: np.ndarray
    normal: np.ndarray
    slopes: Callable[[], tuple[np.ndarray, np.ndarray, np.ndarray | None]]


def slip(x, memory, pressure, pair: Pairs, area, friction, penalty, stick) -> Slip:
    """Evaluate friction for pressures (v,) MPa and positions ``x``.

    With infinite friction the vertices marked by ``stick`` (v,) hold, the others are free.
    """
    d, vertex, share = x.shape[1], pair.vertex, pair.share
    mean = _mean_slip(x - memory.x, pair, pair.normal, area)
    trial = memory.traction_MPa + penalty * mean
    rough = np.isinf(friction)
    limit = np.where(stick, np.inf, 0.0) if rough else friction * pressure
    norm = np.maximum(np.linalg.norm(trial, axis=1), 1e-300)
    sliding = (norm > limit) & np.isfinite(limit)
    unit = trial / norm[:, None]
    cap = np.where(sliding, limit, 0.0)
    traction = np.where(sliding[:, None], cap[:, None] * unit, trial)
    holds = limit > 0
    traction[~holds] = 0.0

    def slopes():
        eye = np.eye(d)[None]
        around = eye - unit[:, :, None] * unit[:, None, :]
        local = np.where(sliding[:, None, None], (cap / norm)[:, None, None] * around, eye)
        local = local * np.where(holds, penalty / area, 0.0)[:, None, None]
        coupling = np.zeros_like(unit)
        if not rough:
            coupling[sliding & holds] = friction * unit[sliding & holds]
        return local, coupling, None

    point = across(pair.normal, np.einsum("nv,nvi->ni", share, traction[vertex]))
    return Slip(traction, point, holds, pair.normal, slopes)


def grip(x, reference, pressure, pair: Pairs, area, friction, build_up_mm) -> Slip:
    """Evaluate friction from the slip since the positions ``reference`` (n, d).

    The direction of the rays, frozen like them, serves as normal.
    """
    slipped = _mean_slip(x - reference, pair, pair.direction, area)
    length = np.sqrt((slipped**2).sum(1) + build_up_mm**2)
    ratio = slipped / length[:, None]
    traction = friction * pressure[:, None] * ratio
    holds = (pressure > 0) & (area > 1e-12)
    point = np.einsum("nv,nvi->ni", pair.share, traction[pair.vertex])

    def slopes():
        local = np.eye(x.shape[1]) - ratio[:, :, None] * ratio[:, None, :]
        local = local * np.where(holds, friction * pressure / (length * area), 0.0)[:, None, None]
        # a point that wanders over the target meets there another displacement
        drift = np.einsum("nij,njk->nik", pair.target_gradient(x - reference), pair.dual())
        return local, friction * ratio, drift - _along(pair.direction, drift)

    return Slip(traction, across(pair.direction, point), holds, pair.direction, slopes)


def _along(normal, matrices):
    """Return the part of matrices' columns (n, d, d) along the normals."""
    return normal[:, :, None] * np.einsum("ni,nij->nj", normal, matrices)[:, None]


def _mean_slip(move, pair: Pairs, normal, area):
    """Return the slip (v, d) of the surface over the target for displacements (n, d)."""
    relative = across(normal, -np.einsum("nk,nki->ni", pair.sign, move[pair.nodes]))
    mean = np.stack(
        [np.bincount(pair.vertex.ravel(), (pair.share * part[:, None]).ravel(), len(area))
         for part in relative.T], 1) / area[:, None]
    mean[area < 1e-12] = 0.0
    return mean


def across(normal: np.ndarray, vectors: np.ndarray) -> np.ndarray:
    """Return the part of vectors (n, d) across the unit normals (n, d)."""
    return vectors - np.einsum("ni,ni->n", normal, vectors)[:, None] * normal

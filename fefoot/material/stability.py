"""The check that a material is stable over the stretches a case needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from .table import Material

PATHS = ("uniaxial", "equibiaxial", "plane_strain")


@dataclass(frozen=True)
class StabilityReport:
    """Result of `stability`.

    Attributes
    ----------
    material : str
    asked : (float, float)
        Stretch interval asked for.
    stable_range : (float, float)
        Largest part of it around 1 that is stable on every path.
    paths : dict of path name to (float, float)
        The same for each path.
    """

    material: str
    asked: tuple[float, float]
    stable_range: tuple[float, float]
    paths: dict[str, tuple[float, float]]

    @property
    def stable(self) -> bool:
        """Whether the whole interval asked for is stable."""
        return self.stable_range == self.asked

    def sentence(self) -> str:
        """Return the result in words."""
        low, high = self.stable_range
        if self.stable:
            return f"{self.material} is stable for stretches from {low:g} to {high:g}"
        worst = max(self.paths, key=lambda p: self.paths[p][0] - self.paths[p][1])
        return (f"{self.material} is stable only for stretches from {low:.3g} to {high:.3g}, "
                f"not {self.asked[0]:g} to {self.asked[1]:g} (narrowest on the {worst} path)")


def stability(
    material: Material, stretch_min: float, stretch_max: float, steps: int = 120
) -> StabilityReport:
    """Check Hill's inequality along three homogeneous paths.

    Stable means that Kirchhoff stress does positive work on every increment of logarithmic strain,
    d tau : d ln V > 0 (Hill R, J Mech Phys Solids 16 (1968) 229-242; the strengthened form of
    Drucker's postulate for elastic solids; recalled). For fixed principal axes this is positive
    definiteness of H_ab = d tau_a / d ln l_b = c_a c_b D_aabb + 2 delta_ab c_a S_a, c = l^2, and
    for turning axes (tau_a - tau_b) / (ln l_a - ln l_b) > 0. The stretches free of load are found
    from zero lateral stress, followed from rest. Fibres, if any, lie along the first axis.

    Parameters
    ----------
    material : Material
    stretch_min, stretch_max : float
        Interval, 0 < stretch_min < 1 < stretch_max; raises InputError otherwise.
    steps : int
        Steps from 1 to either end; the bounds reported are good to one step.
    """
    if not 0 < stretch_min < 1 < stretch_max < np.inf:
        raise InputError("a stability check needs a stretch interval around 1",
                         key=material.name, value=(stretch_min, stretch_max),
                         allowed="0 < stretch_min < 1 < stretch_max")
    ends = [_follow(material, float(end), steps) for end in (stretch_min, stretch_max)]
    paths = {path: (ends[0][i], ends[1][i]) for i, path in enumerate(PATHS)}
    low, high = max(p[0] for p in paths.values()), min(p[1] for p in paths.values())
    return StabilityReport(material.name, (float(stretch_min), float(stretch_max)), (low, high),
                           paths)


def _stretches(driven: float, free: np.ndarray) -> np.ndarray:
    """Return log stretches (3, 3 paths) from the driven and the free log stretch of each path."""
    return np.array([
        [driven, driven, driven],
        [free[0], driven, free[2]],
        [free[0], free[1], 0.0],
    ])


FREE_AXES = ((1, 2), (2,), (1,))


def _state(material: Material, logs: np.ndarray):
    """Return Kirchhoff stresses (3, n) and H (3, 3, n) at log stretches (3, n) along the axes."""
    C = np.zeros((6, logs.shape[1]))
    C[:3] = np.exp(2.0 * logs)
    fibre = np.zeros((3, logs.shape[1]))
    fibre[0] = 1.0
    _, S, D = material.response(C, fibre)
    tau = C[:3] * S[:3]
    H = C[:3, None] * C[None, :3] * D[:3, :3]
    for a in range(3):
        H[a, a] += 2.0 * tau[a]
    return tau, H


def _follow(material: Material, end: float, steps: int) -> list[float]:
    """Walk the three paths from stretch 1 to ``end``; return the last stable stretch of each."""
    stretches = np.linspace(1.0, end, steps + 1)
    scale = material.moduli()[0]
    last, alive, free = [1.0] * 3, [True] * 3, np.zeros(3)
    for stretch in stretches:
        driven = float(np.log(stretch))
        free, solved = _release(material, driven, free, scale)
        tau, H = _state(material, _stretches(driven, free))
        for path in range(3):
            logs = _stretches(driven, free)[:, path]
            alive[path] = alive[path] and solved[path] and _positive(tau[:, path], H[..., path],
                                                                     logs, scale)
            if alive[path]:
                last[path] = float(stretch)
        if not any(alive):
            break
        free = np.where(alive, free, 0.0)
    return last


def _release(material, driven, free, scale):
    """Newton's method for zero lateral stress on the three paths; says which converged."""
    for _ in range(30):
        tau, H = _state(material, _stretches(driven, free))
        residual = np.array([tau[axes[0], p] for p, axes in enumerate(FREE_AXES)])
        solved = np.abs(residual) <= 1e-9 * scale
        if solved.all():
            break
        slope = np.array([sum(H[axes[0], a, p] for a in axes) for p, axes in enumerate(FREE_AXES)])
        move = np.where(solved | (slope == 0.0), 0.0, -residual / np.where(slope == 0, 1.0, slope))
        free = np.clip(free + np.clip(move, -0.2, 0.2), -4.0, 4.0)
    return free, solved


def _positive(tau, H, logs, scale) -> bool:
    if np.linalg.eigvalsh(0.5 * (H + H.T))[0] <= 0.0:
        return False
    for a, b in ((0, 1), (1, 2), (0, 2)):
        apart = logs[a] - logs[b]
        if abs(apart) > 1e-6 and (tau[a] - tau[b]) / apart <= -1e-9 * scale:
            return False
    return True

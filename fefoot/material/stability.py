"""The check that a material is stable over the stretches a case needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from .table import Material

PATHS = ("uniaxial", "equibiaxial", "plane_strain")
STRIDE = 20
"""Steps of a path that are solved side by side."""


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
    last = _follow(material, np.array([stretch_min, stretch_max], float), steps)
    paths = {path: (float(last[0, i]), float(last[1, i])) for i, path in enumerate(PATHS)}
    low, high = max(p[0] for p in paths.values()), min(p[1] for p in paths.values())
    return StabilityReport(material.name, (float(stretch_min), float(stretch_max)), (low, high),
                           paths)


def _stretches(path: np.ndarray, driven: np.ndarray, free: np.ndarray) -> np.ndarray:
    """Return log stretches (3, n) from path number, driven and free log stretch (n,) of states."""
    return np.stack([driven, np.where(path == 1, driven, free), np.where(path == 2, 0.0, free)])


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


def _follow(material: Material, ends: np.ndarray, steps: int) -> np.ndarray:
    """Walk the three paths from stretch 1 to both ends; return the last stable stretches (2, 3).

    Many steps are solved side by side, from the state before the first of them.
    """
    stretches = np.linspace(1.0, ends, steps + 1)
    last, free, alive = np.ones((2, 3)), np.zeros((2, 3)), np.ones((2, 3), bool)
    first, count = 0, STRIDE
    while first <= steps and alive.any():
        end, path = np.nonzero(alive)
        part = stretches[first:first + count, end]
        found, solved, stable = _states(
            material, np.broadcast_to(path, part.shape), np.log(part), free[alive])
        if count > 1 and not solved.all():
            count = 1
            continue
        good = np.logical_and.accumulate(solved & stable)
        reached = good.sum(axis=0)
        some = np.flatnonzero(reached)
        last[end[some], path[some]] = part[reached[some] - 1, some]
        free[end, path] = found[-1]
        alive[end, path] = good[-1]
        first, count = first + len(part), STRIDE if solved.all() else 1
    return last


def _states(material, path, driven, free):
    """Find the free log stretches of states (k, n) from guesses (n,); which are solved and stable."""
    shape, scale = path.shape, material.moduli()[0]
    path, driven = path.ravel(), driven.ravel()
    free, solved = _release(material, path, driven, np.broadcast_to(free, shape).ravel(), scale)
    logs = _stretches(path, driven, free)
    tau, H = _state(material, logs)
    stable = np.linalg.eigvalsh(0.5 * (H + H.transpose(1, 0, 2)).transpose(2, 0, 1))[:, 0] > 0.0
    for a, b in ((0, 1), (1, 2), (0, 2)):
        apart = logs[a] - logs[b]
        far = np.abs(apart) > 1e-6
        stable &= ~far | ((tau[a] - tau[b]) / np.where(far, apart, 1.0) > -1e-9 * scale)
    return free.reshape(shape), solved.reshape(shape), stable.reshape(shape)


def _release(material, path, driven, free, scale):
    """Newton's method for zero lateral stress of states (n,); says which converged."""
    axis, states = np.where(path == 1, 2, 1), np.arange(len(path))
    for _ in range(30):
        tau, H = _state(material, _stretches(path, driven, free))
        residual = tau[axis, states]
        solved = np.abs(residual) <= 1e-9 * scale
        if solved.all():
            break
        slope = H[axis, axis, states] + np.where(path == 0, H[1, 2], 0.0)
        move = np.where(solved | (slope == 0.0), 0.0, -residual / np.where(slope == 0, 1.0, slope))
        free = np.clip(free + np.clip(move, -0.2, 0.2), -4.0, 4.0)
    return free, solved

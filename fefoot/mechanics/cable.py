"""Tension-only cables that slide without friction through an ordered list of nodes.

A cable has one tension T(L) along its whole length L = sum |x_{i+1} - x_i|. Its energy is the
integral of T, so

    gradient = T dL,   Hessian = T d2L + T' dL dL^T,   d2L per segment = (1 - t t^T) / l.

Ligaments, tendons and the plantar fascia are cables whose nodes ride on bones.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Cable:
    """A cable through ``nodes``.

    Attributes
    ----------
    name : str
    nodes : tuple of int
        Ordered, at least two.
    stiffness_N_per_mm : float
        dT/dL once taut.
    slack_length_mm : float
        Length below which the cable carries nothing of itself.
    toe_mm : float
        Elongation over which the stiffness rises linearly from zero to its full value.
    tension_N : float
        A prescribed tension (of a muscle) that is added.
    """

    name: str
    nodes: tuple[int, ...]
    stiffness_N_per_mm: float = 0.0
    slack_length_mm: float = 0.0
    toe_mm: float = 0.0
    tension_N: float = 0.0

    def length_mm(self, x: np.ndarray) -> float:
        """Return the current length."""
        return float(np.linalg.norm(np.diff(x[list(self.nodes)], axis=0), axis=1).sum())

    def law(self, length_mm: float) -> tuple[float, float, float]:
        """Return energy (N mm), tension (N) and its slope (N/mm) at a length."""
        active = self.tension_N
        e, k, toe = length_mm - self.slack_length_mm, self.stiffness_N_per_mm, self.toe_mm
        if e <= 0:
            return active * length_mm, active, 0.0
        if e < toe:
            energy, tension, slope = k * e**3 / (6 * toe), k * e**2 / (2 * toe), k * e / toe
        else:
            s = e - toe / 2
            energy, tension, slope = k * (s**2 / 2 + toe**2 / 24), k * s, k
        return energy + active * length_mm, tension + active, slope

    def tension(self, x: np.ndarray) -> float:
        """Return the current tension, N."""
        return self.law(self.length_mm(x))[1]

    def length_slope(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return dofs (k d,) and the derivative (k d,) of the length."""
        nodes = list(self.nodes)
        leg = np.diff(x[nodes], axis=0)
        t = leg / np.linalg.norm(leg, axis=1)[:, None]
        slope = np.zeros_like(x[nodes])
        slope[:-1] -= t
        slope[1:] += t
        d = x.shape[1]
        return (np.array(nodes)[:, None] * d + np.arange(d)).ravel(), slope.ravel()

    def evaluate(self, x: np.ndarray):
        """Return energy, dofs (k d,), gradient (k d,) and Hessian (k d, k d)."""
        p = x[list(self.nodes)]
        n, d = p.shape
        leg = np.diff(p, axis=0)
        size = np.linalg.norm(leg, axis=1)
        t = leg / size[:, None]
        energy, tension, slope = self.law(float(size.sum()))
        slope_of_length = np.zeros((n, d))
        slope_of_length[:-1] -= t
        slope_of_length[1:] += t
        curl = (np.eye(d) - t[:, :, None] * t[:, None, :]) / size[:, None, None]
        hess = np.zeros((n, d, n, d))
        for i in range(n - 1):
            hess[i, :, i] += curl[i]
            hess[i + 1, :, i + 1] += curl[i]
            hess[i, :, i + 1] -= curl[i]
            hess[i + 1, :, i] -= curl[i]
        g = slope_of_length.ravel()
        dofs = (np.array(self.nodes)[:, None] * d + np.arange(d)).ravel()
        return energy, dofs, tension * g, tension * hess.reshape(n * d, -1) + slope * np.outer(g, g)

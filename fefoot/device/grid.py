"""A measured surface over (x, z): heights on a regular grid, linear between its points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True, eq=False)
class HeightGrid:
    """Heights over a regular grid of plan points, right foot, mm.

    Attributes
    ----------
    x0_mm, z0_mm, step_mm : float
        First point and spacing.
    heights_mm : (nx, nz) array
        Height above the ground; known everywhere.
    is_top : bool
        Whether it is the top of a device, rather than the sole of a foot.
    margin_mm : float
        How far a device's outline stands outside the foot's own round the heel.
    """

    x0_mm: float
    z0_mm: float
    step_mm: float
    heights_mm: np.ndarray
    is_top: bool = False
    margin_mm: float = 0.0

    def __eq__(self, other):
        if not isinstance(other, HeightGrid):
            return NotImplemented
        mine, theirs = ((g.x0_mm, g.z0_mm, g.step_mm, g.is_top, g.margin_mm) for g in (self, other))
        return mine == theirs and np.array_equal(self.heights_mm, other.heights_mm)

    __hash__ = None

    def at(self, x, z) -> np.ndarray:
        """Return the height at plan points x, z (any one shape), mm; beyond the edge that of it."""
        nx, nz = self.heights_mm.shape
        u = np.clip((np.asarray(x, float) - self.x0_mm) / self.step_mm, 0.0, nx - 1.0)
        v = np.clip((np.asarray(z, float) - self.z0_mm) / self.step_mm, 0.0, nz - 1.0)
        u, v = np.broadcast_arrays(u, v)
        i = np.minimum(u.astype(int), nx - 2)
        j = np.minimum(v.astype(int), nz - 2)
        p, q, h = u - i, v - j, self.heights_mm
        return ((1 - p) * ((1 - q) * h[i, j] + q * h[i, j + 1])
                + p * ((1 - q) * h[i + 1, j] + q * h[i + 1, j + 1]))

"""Dimensions of a person's foot from its scan in place."""

from __future__ import annotations

import functools
from dataclasses import replace

import numpy as np

from ..device.grid import HeightGrid
from ..foot.anatomy import skin_distance
from ..foot.morph import REFERENCE, Dimensions, dimension_range_mm, morph, width_scale

HEEL_SHARE, ARCH_SHARE, BALL_SHARES = 34.0 / 255.0, 110.0 / 255.0, (0.6, 0.8)
"""Where along the foot the heel's width, the arch's height and the forefoot's width are taken."""
ARCH_Z_SHARE = -25.0 / 98.0
"""Where across the foot the arch's height is taken, of the forefoot's width."""
SOLE_MM = 45.0
"""Below this height heel and forefoot are measured, so that the ankle does not count."""
BAND_MM, PATCH_MM = 4.0, 4.0
MEASURED = ("length_mm", "heel_width_mm", "forefoot_width_mm", "navicular_height_mm")
"""What a scan of the skin can give; the pads under the bones it cannot."""


def widths_mm(points: np.ndarray) -> dict[str, float]:
    """Return length, heel and forefoot width of a foot's points (n, 3) in place, mm.

    Heel back to longest toe along x; across at the heel's centre; and across the metatarsal heads,
    from the most medial to the most lateral point.
    """
    low = points[points[:, 1] < SOLE_MM]
    back = float(low[:, 0].min())
    length = float(low[:, 0].max()) - back
    x = (low[:, 0] - back) / length
    heel = low[np.abs(x - HEEL_SHARE) < BAND_MM / length, 2]
    ball = low[(x > BALL_SHARES[0]) & (x < BALL_SHARES[1]), 2]
    return {"length_mm": length, "heel_width_mm": float(np.ptp(heel)) if len(heel) else 0.0,
            "forefoot_width_mm": float(np.ptp(ball)) if len(ball) else 0.0}


def arch_height_mm(grid: HeightGrid, length_mm: float, forefoot_width_mm: float) -> float:
    """Return the mean height of the sole over a patch under the navicular, mm."""
    x = ARCH_SHARE * length_mm + np.linspace(-PATCH_MM, PATCH_MM, 9)
    z = ARCH_Z_SHARE * forefoot_width_mm + np.linspace(-PATCH_MM, PATCH_MM, 9)
    return float(grid.at(x[:, None], z[None, :]).mean())


def navicular_height_mm(arch_mm: float, widths: dict[str, float]) -> float | None:
    """Return the navicular height at which the model's foot has this arch, mm; None beyond its range.

    The skin does not show the bone: the model's own relation between the two is turned round. The
    patch of the reference foot's skin that `arch_height_mm` looks at is morphed with each height.
    """
    low, high = dimension_range_mm("navicular_height_mm")
    sized = model_dimensions(widths, None)
    x = ARCH_SHARE * REFERENCE.length_mm + np.linspace(-PATCH_MM, PATCH_MM, 9)
    z = ARCH_Z_SHARE * sized.forefoot_width_mm / width_scale(x.mean(), sized)
    x, z = (a.ravel() for a in np.meshgrid(x, z + np.linspace(-PATCH_MM, PATCH_MM, 9)))
    skin = np.column_stack([x, reference_sole_mm(x, z) - reference_lowest_mm(), z])
    heights = np.linspace(low, high, 21)
    arches = [float(morph(skin, replace(sized, navicular_height_mm=float(h)))[:, 1].mean())
              for h in heights]
    if not arches[0] <= arch_mm <= arches[-1]:
        return None
    return float(np.interp(arch_mm, arches, heights))


def reference_sole_mm(x, z) -> np.ndarray:
    """Return the height of the reference foot's skin seen from below at points x, z (n,), mm.

    By bisection of the signed distance between 5 mm under the ground and 30 mm above.
    """
    low, high = np.full(np.shape(x), -5.0), np.full(np.shape(x), 30.0)
    for _ in range(24):
        middle = 0.5 * (low + high)
        inside = skin_distance(np.column_stack([x, middle, z])) < 0.0
        low, high = np.where(inside, low, middle), np.where(inside, middle, high)
    return 0.5 * (low + high)


@functools.cache
def reference_lowest_mm() -> float:
    """Return the height of the reference foot's lowest point, mm: its heel or its ball."""
    x, z = np.meshgrid(np.r_[20.0:60.0:2.0, 150.0:200.0:2.0], np.arange(-30.0, 42.0, 3.0))
    return float(reference_sole_mm(x.ravel(), z.ravel()).min())


def model_dimensions(widths: dict[str, float], navicular_mm: float | None) -> Dimensions:
    """Return the nearest dimensions that the model's foot can have."""
    values = {**widths, "navicular_height_mm": navicular_mm or REFERENCE.navicular_height_mm}
    return Dimensions(**{name: float(np.clip(value, *dimension_range_mm(name)))
                         for name, value in values.items()})

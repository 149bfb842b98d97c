"""Regions of the sole, by where a point of the unloaded foot lies."""

from __future__ import annotations

import numpy as np

SAGITTAL = {"heel": (0.0, 0.31), "midfoot": (0.31, 0.60), "shafts": (0.60, 0.72),
            "forefoot": (0.72, 0.82), "toes": (0.82, 1.2)}
"""Bounds as shares of foot length from the back of the heel (common practice, no source)."""

TISSUE_OF = {"heel": "heel_pad", "midfoot": "midfoot_sole", "shafts": "shaft_sole",
             "forefoot": "metatarsal_pad",
             "toes": "toe_pads"}
"""The tissue whose pressure a region reports."""


def masks(model: str, points: np.ndarray, length_mm: float) -> dict[str, np.ndarray]:
    """Return for each region which of the points (n, 2), in the unloaded foot, lie in it."""
    if model == "rearfoot":
        return {"heel": np.ones(len(points), bool)}
    s = points[:, 0] / length_mm
    return {name: (s >= low) & (s < high) if low else s < high
            for name, (low, high) in SAGITTAL.items()}

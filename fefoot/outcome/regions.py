"""Regions of the sole, by where a point of the unloaded foot lies."""

from __future__ import annotations

import numpy as np

from ..device.device import FootLandmarks

SAGITTAL = {"heel": (0.0, 0.31), "midfoot": (0.31, 0.60), "shafts": (0.60, 0.72),
            "forefoot": (0.72, 0.82), "toes": (0.82, 1.2)}
"""Bounds as shares of foot length from the back of the heel (common practice, no source)."""

TISSUE_OF = {"heel": "heel_pad", "midfoot": "midfoot_sole", "shafts": "shaft_sole",
             "forefoot": "metatarsal_pad",
             "toes": "toe_pads"}
"""The tissue whose pressure a region reports."""

RAYS = range(1, 6)
HEADS = {f"head_{ray}": f"metatarsal_pad_{ray}" for ray in RAYS}
"""Regions below single metatarsal heads, parts of the forefoot, and the tissues they report."""


def masks(model: str, points: np.ndarray, length_mm: float) -> dict[str, np.ndarray]:
    """Return for each region which of the points (n, 2), in the unloaded foot, lie in it."""
    if model == "rearfoot":
        return {"heel": np.ones(len(points), bool)}
    return _between(points[:, 0], points[:, 0], length_mm)


def masks3d(points: np.ndarray, marks: FootLandmarks) -> dict[str, np.ndarray]:
    """Return for each region of the whole foot which of the points (n, 3) lie in it.

    The bounds of the sections hold along the second ray; those in front and behind the metatarsal
    heads follow the head line across the foot. The forefoot is parted half-way between neighbouring
    heads into one region for each.
    """
    x, z = points[:, 0], points[:, 2]
    heads = np.array(marks.metatarsal_head_z_mm)
    across = np.clip(z, heads[0], heads[-1])
    ahead = marks.metatarsal_line_x_mm(across) - marks.metatarsal_line_x_mm(heads[1])
    found = _between(x, x - ahead, marks.length_mm)
    ray = np.searchsorted(0.5 * (heads[1:] + heads[:-1]), z)
    return found | {name: found["forefoot"] & (ray == number) for number, name in enumerate(HEADS)}


def _between(x: np.ndarray, front_x: np.ndarray, length_mm: float) -> dict[str, np.ndarray]:
    """Part the foot by ``x``, round the metatarsal heads by ``front_x``; each point has one region."""
    names = list(SAGITTAL)
    part = np.zeros(len(x), int)
    for number, name in enumerate(names[1:], start=1):
        place = front_x if name in ("forefoot", "toes") else x
        part[place / length_mm >= SAGITTAL[name][0]] = number
    return {name: part == number for number, name in enumerate(names)}

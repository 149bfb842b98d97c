"""How far the arch has sunk between heel and forefoot."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

HEIGHT = 1
"""Axis of space that points up."""


def navicular_drop_mm(rest, place, supports: Sequence[np.ndarray], tip_rest, tip) -> float:
    """Return the height a point of the midfoot has lost above the sole under heel and forefoot, mm.

    The height is counted from the line (the plane) through the lowest point of each support. On level
    ground that is the ground; on a device it is what lies under the foot, whatever the foot has sunk
    into it or been lifted by it.

    Parameters
    ----------
    rest, place : (v, d) arrays
        Points of the sole in the unloaded and in the loaded foot, mm.
    supports : masks (v,)
        Two in a section (heel, forefoot), three in space (heel, first and fifth head).
    tip_rest, tip : (d,)
        The point of the midfoot, unloaded and loaded.
    """
    return _height(rest, supports, tip_rest) - _height(place, supports, tip)


def _height(sole, supports, tip) -> float:
    lowest = np.array([sole[inside][np.argmin(sole[inside, HEIGHT])] for inside in supports])
    level = np.linalg.solve(_with_one(np.delete(lowest, HEIGHT, axis=1)), lowest[:, HEIGHT])
    plan = np.delete(np.atleast_2d(np.asarray(tip, float)), HEIGHT, axis=1)
    return float(tip[HEIGHT] - (_with_one(plan) @ level)[0])


def _with_one(plan: np.ndarray) -> np.ndarray:
    return np.column_stack([np.ones(len(plan)), plan])

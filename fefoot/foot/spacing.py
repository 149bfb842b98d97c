"""Node spacing along the outlines of a section."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from .anatomy import plantar_height_mm
from .section import lift
from .shape import smoothstep

PLANTAR, DEEP, DORSAL = 0.6, 0.8, 1.5
"""Spacing at the sole, at the bones away from it, and at the dorsal skin, in parts of the size."""
_TURN_RAD, _GROWTH, _SMALLEST = 0.5, 0.25, 0.2


def wanted_mm(name: str, line: np.ndarray, other: Callable, size_mm: float, far: float):
    """Return the spacing (k,) mm wanted along a dense line (k, 2).

    It rises from that of the sole to ``far`` times the size with the height above the sole, stays
    below the distance to the outline on the other side of the tissue (``other``) and turns by at
    most half a radian per edge.
    """
    place = lift(name, line)
    height = place[:, 1] - plantar_height_mm(place[:, 0], place[:, 2])
    grade = PLANTAR + (far - PLANTAR) * smoothstep((height - 9.0) / 22.0)
    wanted = np.minimum(size_mm * grade, np.abs(other(line)))
    edge = np.diff(line, axis=0)
    length = np.linalg.norm(edge, axis=1)
    angle = np.unwrap(np.arctan2(edge[:, 1], edge[:, 0]))
    curvature = np.zeros(len(line))
    curvature[2:-2] = np.abs(angle[3:] - angle[:-3]) / (1.5 * (length[1:-2] + length[2:-1]))
    wanted = np.minimum(wanted, _TURN_RAD / np.maximum(curvature, 1e-6))
    return np.maximum(wanted, _SMALLEST * size_mm)


def graded(line: np.ndarray, wanted: np.ndarray, closed: bool) -> np.ndarray:
    """Limit the growth of the spacing along a line, in both directions and round the end."""
    length = np.linalg.norm(np.diff(line, axis=0), axis=1)
    out = wanted.copy()
    for _ in range(2 if closed else 1):
        for k in range(len(length)):
            out[k + 1] = min(out[k + 1], out[k] + _GROWTH * length[k])
        for k in range(len(length) - 1, -1, -1):
            out[k] = min(out[k], out[k + 1] + _GROWTH * length[k])
        if closed:
            out[0] = out[-1] = min(out[0], out[-1])
    return out


def placed(line: np.ndarray, spacing: np.ndarray) -> np.ndarray:
    """Return points along a line (k, 2), both ends included, at the given spacing (k,)."""
    length = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    density = 1.0 / spacing
    count = np.concatenate(
        [[0.0], np.cumsum(0.5 * (density[1:] + density[:-1]) * np.diff(length))])
    at = np.interp(np.linspace(0.0, count[-1], max(1, round(count[-1])) + 1), count, length)
    return np.column_stack([np.interp(at, length, line[:, k]) for k in (0, 1)])

"""Contact pressure along the sole."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .quantities import PATCH_MM


@dataclass(frozen=True)
class Sole:
    """The sole's vertices in order along the section.

    Attributes
    ----------
    rest, place : (v, 2) arrays
        Unloaded and current position, mm.
    arc_mm : (v,) array
        Current position along the sole.
    pressure_kPa : (v,) array
        True (per current area) contact pressure against everything underneath.
    force_N, area_mm2 : (v,) arrays
        Contact force and current area of each vertex.
    """

    rest: np.ndarray
    place: np.ndarray
    arc_mm: np.ndarray
    pressure_kPa: np.ndarray
    force_N: np.ndarray
    area_mm2: np.ndarray

    def patch_pressure_kPa(self) -> np.ndarray:
        """Return the pressure averaged over a patch round each vertex (v,), kPa."""
        s, p = self.arc_mm, self.pressure_kPa
        total = np.concatenate([[0.0], np.cumsum(0.5 * (p[1:] + p[:-1]) * np.diff(s))])

        def integral(at):
            i = np.clip(np.searchsorted(s, at, "right") - 1, 0, len(s) - 2)
            t = np.clip(at - s[i], 0.0, s[i + 1] - s[i])
            slope = (p[i + 1] - p[i]) / (s[i + 1] - s[i])
            return total[i] + p[i] * t + 0.5 * slope * t * t

        return (integral(s + PATCH_MM / 2) - integral(s - PATCH_MM / 2)) / PATCH_MM


def sole(contacts, statuses, x: np.ndarray) -> Sole:
    """Add up the contacts whose soft side is the sole.

    Parameters
    ----------
    contacts, statuses : sequences
        Contacts with the same facets, and their status.
    x : (n, 2) array
        Current positions.
    """
    first = contacts[0]
    facets = first.facets
    order = np.append(np.column_stack([facets[:, 0], facets[:, 2]]).ravel(), facets[-1, 1])
    local = np.searchsorted(first.vertices, order)
    nominal = sum(s.pressure_MPa for s in statuses)[local]
    force = sum(s.pressure_MPa * s.area_mm2 for s in statuses)[local]
    rest, place = first.points[order], x[order]

    def share(points):
        size = np.linalg.norm(np.diff(points, axis=0), axis=1)
        return 0.5 * (np.append(size, 0.0) + np.append(0.0, size))

    stretch = share(place) / share(rest)
    depth = first.thickness_mm(rest) if callable(first.thickness_mm) else first.thickness_mm
    arc = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(place, axis=0), axis=1))])
    return Sole(rest, place, arc, 1e3 * nominal / stretch, force, share(place) * depth)

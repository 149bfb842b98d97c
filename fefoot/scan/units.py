"""The unit of a scan, from how large it is."""

from __future__ import annotations

import numpy as np

from ..errors import InputError

MM = {"mm": 1.0, "cm": 10.0, "m": 1000.0, "inch": 25.4}
"""How many mm each unit has."""
SIZE_MM = {"foot": (180.0, 450.0), "cast": (180.0, 450.0), "device": (130.0, 330.0)}
"""Longest side that a scan of a kind can have. The ranges are narrow enough that a number fits one
unit only: the largest foot in inches reads 17.7, the smallest in centimetres 18."""


def unit_of(points: np.ndarray, kind: str, unit: str, file: str) -> tuple[str, str]:
    """Return the unit of points (n, 3), and the sentence that states it.

    ``unit`` is the unit given, or "guess". The longest side is the longest side of the box along the
    principal axes of the points.

    Raises
    ------
    InputError
        When the size fits no unit, or not the one given.
    """
    longest = longest_side(points)
    low, high = SIZE_MM[kind]
    fitting = [name for name, mm in MM.items() if low <= longest * mm <= high]
    allowed = f"a {kind} {low:g} to {high:g} mm long"
    if unit != "guess" and unit not in fitting:
        raise InputError(
            "the scan has the wrong scale for its unit", file=file, key="scan.unit",
            value=f"{longest:.4g} {unit} long", allowed=allowed,
            hint=f"write unit = {fitting[0]!r}" if fitting else "check the unit of the export")
    if not fitting:
        raise InputError(
            "the scan has a wrong scale: its size fits no unit", file=file, key="scan.file",
            value=f"longest side {longest:.4g}", allowed=f"{allowed}, in mm, cm, m or inch",
            hint="export it in mm, and only the foot up to the ankle, cast or device itself")
    name = unit if unit != "guess" else fitting[0]
    how = "as given" if unit != "guess" else "guessed from its size"
    return name, f"Unit {name} ({how}): the longest side is {longest:.4g} {name}."


def longest_side(points: np.ndarray) -> float:
    """Return the longest side of the box along the principal axes of points (n, 3)."""
    centred = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(centred.T @ centred)
    return float(np.ptp(centred @ axes, axis=0).max())

"""The pressure under the whole foot as a map on its outline, seen from above with the toes up."""

from __future__ import annotations

import numpy as np

from ..outcome.scene import Scene
from ..outcome.values import Outcome
from .pictures import Limits
from .style import INK, QUIET, drawing, stress_map

INCHES_PER_MM = 1 / 52
EDGE_MM, FOOT_TINT = 6.0, "#f1ebe4"
NAMED_SHARE, APART_MM = 0.12, 22.0
"""Least peak that is written, as a share of the colour range, and least distance between two."""


def print_map(outcome: Outcome, limits: Limits, side: str):
    """Return a figure with the pressure on the sole of one condition.

    A right foot's medial side is on the left, a left foot's on the right. The largest pressures are
    written beside their places; a cross marks the centre of pressure along the foot.

    Parameters
    ----------
    outcome : Outcome
        With a scene.
    limits : Limits
        From `shared_limits` over all conditions of the instant; its ``up_mm`` is across the foot.
    side : {"right", "left"}
    """
    from matplotlib.figure import Figure

    scene = outcome.picture.scene
    flip = 1.0 if side == "right" else -1.0
    plan = np.column_stack([flip * scene.skin[:, 2], scene.skin[:, 0]]).astype(float)
    across = sorted(flip * edge for edge in limits.up_mm)
    low, high = limits.across_mm
    size = (across[1] - across[0] + 2 * EDGE_MM, high - low + 2 * EDGE_MM)
    with drawing():
        figure = Figure(figsize=tuple(INCHES_PER_MM * part for part in size))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        axes.set_xlim(across[0] - EDGE_MM, across[1] + EDGE_MM)
        axes.set_ylim(low - EDGE_MM, high + EDGE_MM)
        axes.set_axis_off()
        outline(axes, plan, np.vstack([scene.sole_triangles, scene.upper_triangles]))
        _pressure(axes, plan, scene, limits)
        for x, y, value in peaks(plan, scene.pressure_kPa, NAMED_SHARE * limits.stress_kPa):
            axes.text(x, y, f"{value:.0f}", fontsize=7.5, ha="center", va="center", color=INK,
                      bbox={"fc": "white", "ec": "none", "pad": 0.8, "alpha": 0.8})
        _centre(axes, plan, scene)
    return figure


def outline(axes, plan: np.ndarray, triangles: np.ndarray) -> None:
    """Draw the silhouette (n, 2) of a surface: its triangles filled over the same with thick edges."""
    from matplotlib.collections import PolyCollection

    for colour, width, order in ((QUIET, 1.8, 1), (FOOT_TINT, 0.3, 2)):
        axes.add_collection(PolyCollection(plan[triangles], facecolors=colour, edgecolors=colour,
                                           linewidths=width, zorder=order))


def _pressure(axes, plan, scene: Scene, limits: Limits) -> None:
    sole = scene.sole_triangles
    value = np.clip(scene.pressure_kPa, 0.0, limits.stress_kPa)
    pressed = sole[(value[sole] > 0.0).any(axis=1)]
    if len(pressed):
        axes.tripcolor(plan[:, 0], plan[:, 1], pressed, value, shading="gouraud", cmap=stress_map(),
                       vmin=0.0, vmax=limits.stress_kPa, zorder=3)


def peaks(plan: np.ndarray, pressure_kPa: np.ndarray, least_kPa: float) -> list[tuple]:
    """Return (x, y, value) of the largest pressures, `APART_MM` from each other, largest first."""
    found: list[tuple] = []
    for node in np.argsort(-pressure_kPa, kind="stable"):
        value = float(pressure_kPa[node])
        if value < least_kPa or value <= 0.0:
            break
        x, y = plan[node]
        if all(np.hypot(x - a, y - b) >= APART_MM for a, b, _ in found):
            near = np.hypot(*(plan - plan[node]).T) < 0.5 * APART_MM
            if pressure_kPa[near].max() == pressure_kPa[node]:
                found.append((float(x), float(y), value))
    return found


def _centre(axes, plan, scene: Scene) -> None:
    weight = np.zeros(len(plan))
    corners = plan[scene.sole_triangles]
    legs = corners[:, 1:] - corners[:, :1]
    area = 0.5 * np.abs(legs[:, 0, 0] * legs[:, 1, 1] - legs[:, 0, 1] * legs[:, 1, 0])
    np.add.at(weight, scene.sole_triangles.ravel(), np.repeat(area / 3, 3))
    weight *= scene.pressure_kPa
    if weight.sum() > 0:
        axes.plot(*(weight @ plan / weight.sum()), "+", color=INK, ms=11, mew=1.6, zorder=5)

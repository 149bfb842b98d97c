"""Drawings of a device for the build sheet: plan with dimensions, and sections to the same scale.

The plan is seen from above with the toes up; sections across are seen from behind. A right foot's
medial side is on the left then, a left foot's on the right.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..device.device import Device, FootLandmarks
from ..device.mesh3d import plan_mesh
from ..device.outline import edges_z_mm, ends_x_mm, front_x_mm, margin_mm
from ..device.surface import heights, interfaces_mm
from ..report.style import GRID, INK, QUIET, drawing

LAYERS = ("#dfe7ea", "#a3b6c0", "#6d8795", "#475d6a", "#2d3d47")
"""Fill of the layers from the skin down; further ones begin again."""
PLAN_MM, PLAN_ACROSS_MM, WIDEST_PLAN_MM = 3.0, 150.0, 88.0
"""Spacing of the plan's points; how much of the floor the plan shows across, and how wide at most."""
CONTOUR_MM, OFF_LEVEL_MM = 2.0, 0.07
"""Step of the contour lines, and how far they are moved off a level floor, which has no line."""
ALONG_MM, ACROSS_MM, NUMBER_MM = 96.0, 76.0, 3.3
"""Width of a section on the page, and what a number on it needs above the line."""
DIMENSION = "#9c3d08"
MM_PER_INCH = 25.4


@dataclass(frozen=True)
class Cut:
    """One section: its letter, what it is, positions along it and the layer interfaces, mm.

    ``interfaces_mm`` is (layers + 1, n), ``across`` says whether it runs from side to side.
    """

    letter: str
    title: str
    s_mm: np.ndarray
    interfaces_mm: np.ndarray
    across: bool
    x_mm: float = 0.0


def cuts(device: Device, foot: FootLandmarks) -> list[Cut]:
    """Return a section along the middle line, and across at the heel, the arch and the heads."""
    back, front = ends_x_mm(device, foot, np.zeros_like)
    x = np.linspace(back, front, 600)
    out = [Cut("A", "along the middle line of the heel, heel on the left", x,
               _interfaces(device, foot, x, np.zeros_like(x)), False)]
    places = [("heel's centre", foot.heel_centre_x_mm), ("arch, where it is highest",
              foot.arch_apex_x_mm), ("second metatarsal head", foot.metatarsal_head_x_mm[1])]
    for title, at in places:
        medial, lateral = (float(edge) for edge in edges_z_mm(device, foot, at))
        z = np.linspace(medial, lateral, 400)
        z = z[at <= front_x_mm(device, foot, z)]
        if len(z) > 40:
            out.append(Cut("ABCD"[len(out)], f"across at the {title}", z,
                           _interfaces(device, foot, np.full_like(z, at), z), True, at))
    return out


def _interfaces(device, foot, x, z):
    return interfaces_mm(device, heights(device, foot, x, z))


def plan_figure(device: Device, foot: FootLandmarks, side: str, tall_mm: float = 150.0):
    """Return the plan: outline, contour lines of the top, landmarks, lengths and section lines.

    Contour lines stand every 2 mm of height above the ground. The page shows it ``tall_mm`` high, or
    lower where it would be wider than `WIDEST_PLAN_MM`.
    """
    from matplotlib.figure import Figure

    flip = 1.0 if side == "right" else -1.0
    plan, quadratic = plan_mesh(device, foot, PLAN_MM)
    triangles = quadratic[:, :3]
    plan = plan[:triangles.max() + 1]
    top = heights(device, foot, plan[:, 0], plan[:, 1]).top_mm
    back, front = ends_x_mm(device, foot, np.zeros_like)
    with drawing():
        low, high = back - 30.0, max(front, float(np.max(foot.metatarsal_head_x_mm))) + 12.0
        scale = min(tall_mm / (high - low), WIDEST_PLAN_MM / PLAN_ACROSS_MM) / MM_PER_INCH
        figure = Figure(figsize=(scale * PLAN_ACROSS_MM, scale * (high - low)))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        across = flip * plan[:, 1], plan[:, 0], triangles
        axes.tripcolor(*across, np.zeros(len(plan)), cmap="Greys", vmin=-0.5, vmax=8, rasterized=True)
        levels = np.arange(np.ceil(top.min() / CONTOUR_MM), top.max() / CONTOUR_MM + 1) * CONTOUR_MM
        if np.ptp(top) > 0.2:
            lines = axes.tricontour(*across, top + OFF_LEVEL_MM, levels=levels, colors=QUIET,
                                    linewidths=0.5)
            axes.clabel(lines, fmt="%g", fontsize=6)
        _outline(axes, device, foot, flip)
        _landmarks(axes, foot, flip, front)
        _lengths(axes, device, foot, flip, back, front)
        for cut in cuts(device, foot):
            _section_line(axes, cut, device, foot, flip, back, front)
        medial = "medial", "lateral"
        left, right = medial if side == "right" else medial[::-1]
        axes.text(-58, back - 6, left, ha="left", va="top", color=QUIET)
        axes.text(58, back - 6, right, ha="right", va="top", color=QUIET)
        axes.plot([-25, 25], [back - 14] * 2, color=INK, lw=1.2, marker="|", ms=5)
        axes.text(0, back - 17, "50 mm", ha="center", va="top", fontsize=8)
        axes.set_xlim(-0.5 * PLAN_ACROSS_MM, 0.5 * PLAN_ACROSS_MM)
        axes.set_ylim(low, high)
        axes.set_aspect("equal")
        axes.axis("off")
    return figure


def _outline(axes, device, foot, flip):
    share = 0.5 - 0.5 * np.cos(np.linspace(0.0, np.pi, 3000))
    x = -margin_mm(device) + (foot.length_mm + margin_mm(device)) * share
    for edge in edges_z_mm(device, foot, x):
        with np.errstate(invalid="ignore"):
            keep = np.isfinite(edge) & (x <= front_x_mm(device, foot, edge))
        axes.plot(flip * edge[keep], x[keep], color=INK, lw=1.1)
    if device.length != "full":
        z = np.linspace(-70, 70, 400)
        x = front_x_mm(device, foot, z)
        medial, lateral = edges_z_mm(device, foot, x)
        keep = (z >= medial) & (z <= lateral)
        axes.plot(flip * z[keep], x[keep], color=INK, lw=1.1)


def _landmarks(axes, foot, flip, front):
    z = np.array(foot.metatarsal_head_z_mm)
    x = np.array(foot.metatarsal_head_x_mm)
    axes.plot(flip * z, x, "o", ms=4, mfc="none", mec=INK, mew=0.7)
    line = np.linspace(z.min() - 8, z.max() + 8, 50)
    axes.plot(flip * line, foot.metatarsal_line_x_mm(line), color=INK, lw=0.6, ls=(0, (6, 3)))
    for number in (0, 4):
        axes.annotate(str(number + 1), (flip * z[number], x[number]), (0, 5), fontsize=7,
                      textcoords="offset points", ha="center")
    axes.plot(0.0, foot.heel_centre_x_mm, "+", ms=8, color=INK, mew=0.8)


def _lengths(axes, device, foot, flip, back, front):
    at = -68.0
    _arrow(axes, (at, back), (at, front), f"{front - back:.0f}", 90)
    axes.plot([at - 2, 0], [back] * 2, color=DIMENSION, lw=0.3)
    axes.plot([at - 2, 0], [front] * 2, color=DIMENSION, lw=0.3)
    line = float(foot.metatarsal_line_x_mm(float(np.mean(foot.metatarsal_head_z_mm))))
    for x in (foot.heel_centre_x_mm, min(line, front)):
        edges = [flip * float(edge) for edge in edges_z_mm(device, foot, x)]
        _arrow(axes, (min(edges), x), (max(edges), x), f"{max(edges) - min(edges):.0f}", 0)


def _arrow(axes, start, end, words, turn):
    axes.annotate("", start, end, arrowprops={"arrowstyle": "<->", "color": DIMENSION, "lw": 0.7,
                                              "shrinkA": 0, "shrinkB": 0})
    middle = 0.5 * (start[0] + end[0]), 0.5 * (start[1] + end[1])
    shift = (-3.0, 0.0) if turn else (18.0, 1.0)
    axes.text(middle[0] + shift[0], middle[1] + shift[1], words, rotation=turn, color=DIMENSION,
              ha="center", va="center" if turn else "bottom", fontsize=9,
              bbox={"fc": "white", "ec": "none", "pad": 0.6, "alpha": 0.85})


def _section_line(axes, cut, device, foot, flip, back, front):
    style = {"color": INK, "lw": 0.7, "ls": (0, (10, 3, 2, 3))}
    label = {"fontsize": 9, "fontweight": "bold", "ha": "center", "va": "center"}
    if not cut.across:
        axes.plot([0, 0], [back - 3, front + 3], **style)
        axes.text(0, front + 7, cut.letter, **label)
        return
    left, right = sorted((flip * cut.s_mm[0], flip * cut.s_mm[-1]))
    axes.plot([left - 3, right + 3], [cut.x_mm] * 2, **style)
    axes.text(right + 7, cut.x_mm, cut.letter, **label)


def section_figure(cut: Cut, side: str):
    """Return one section with its layers filled and its heights dimensioned."""
    from matplotlib.figure import Figure

    flip = 1.0 if side == "right" or not cut.across else -1.0
    s = flip * cut.s_mm
    top, bottom = cut.interfaces_mm[0], cut.interfaces_mm[-1]
    span = float(np.ptp(s))
    shown = span + 30.0
    width_mm = ACROSS_MM if cut.across else ALONG_MM
    low, high = -6.0, float(top.max()) + 2.0 + NUMBER_MM * shown / width_mm
    with drawing():
        figure = Figure(figsize=(width_mm / MM_PER_INCH, width_mm / MM_PER_INCH * (high - low) / shown))
        axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
        for number in range(len(cut.interfaces_mm) - 1):
            axes.fill_between(s, cut.interfaces_mm[number], cut.interfaces_mm[number + 1],
                              fc=LAYERS[number % len(LAYERS)], ec=INK, lw=0.4)
        middle = 0.5 * (s.min() + s.max())
        axes.axhline(0.0, color=GRID, lw=1.0, zorder=0)
        for at in _dimensioned(cut):
            _thickness(axes, flip * cut.s_mm[at], bottom[at], top[at])
        axes.set_xlim(middle - 0.5 * shown, middle + 0.5 * shown)
        axes.set_ylim(low, high)
        axes.set_aspect("equal")
        axes.axis("off")
    return figure


def _dimensioned(cut: Cut) -> list[int]:
    """Positions that get a dimension: both ends, and the middle of a section across or thirds."""
    last = len(cut.s_mm) - 1
    if cut.across:
        return [0, int(np.argmin(np.abs(cut.s_mm))), last]
    return [int(share * last) for share in (0.15, 0.42, 0.66, 0.97)]


def _thickness(axes, s, bottom, top):
    axes.plot([s, s], [bottom, top], color=DIMENSION, lw=0.7, marker="_", ms=4)
    axes.text(s, top + 1.2, f"{top - bottom:.1f}", color=DIMENSION, fontsize=8, ha="center",
              va="bottom")
    if bottom > 0.3:
        axes.text(s, bottom - 1.0, f"{bottom:.1f}", color=QUIET, fontsize=7, ha="center", va="top")

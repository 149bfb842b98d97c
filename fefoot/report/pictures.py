"""The deformed section of one condition, and the ranges all conditions of an instant share."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..case.tissues import TISSUES
from ..outcome.values import Outcome
from .style import (
    BONE,
    CABLE,
    DEVICE,
    INK,
    PRESSURE,
    QUIET,
    SLACK_N,
    TARGET,
    axes_style,
    drawing,
    stress_map,
)

HIGHEST_MM = 106.0
MARGIN_MM = 6.0
STRESS_PERCENTILE = 99.0
SUBDIVISION = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]])
"""Four straight triangles in the six nodes of a quadratic one."""


@dataclass(frozen=True)
class Limits:
    """Ranges shared by the pictures of an instant.

    Attributes
    ----------
    across_mm, up_mm : (float, float)
        What is shown along the section and above the ground.
    stress_kPa : float
        Top of the colour range: the 99th percentile over the feet of all conditions.
    pressure_kPa, tension_N : float
        Largest contact pressure on the sole, and largest tension.
    """

    across_mm: tuple[float, float]
    up_mm: tuple[float, float]
    stress_kPa: float
    pressure_kPa: float
    tension_N: float


def shared_limits(outcomes: Sequence[Outcome]) -> Limits | None:
    """Return the ranges that hold every picture, or None when there is no picture."""
    pictures = [o.picture for o in outcomes if o.picture is not None and o.failure is None]
    if not pictures:
        return None
    points = np.vstack([p.points - [0.0, p.ground_y_mm] for p in pictures])
    stress = [p.stress_kPa[np.unique(p.cells[~p.is_device])] for p in pictures]
    pressure = [np.max(values, initial=0.0) for p in pictures for _, values in p.contacts.values()]
    sole = [np.max(p.contacts["foot"][1], initial=0.0) for p in pictures if "foot" in p.contacts]
    tension = [force for p in pictures for _, force in p.cables.values()]
    low, high = points[:, 0].min(), points[:, 0].max()
    ground = -4.0 if pictures[0].view == "section" else float(points[:, 1].min()) - MARGIN_MM
    return Limits(
        (float(low - MARGIN_MM), float(high + MARGIN_MM)),
        (ground, float(min(points[:, 1].max(), HIGHEST_MM)) + 4.0),
        _positive(np.percentile(np.concatenate(stress), STRESS_PERCENTILE)),
        _positive(max(sole or pressure, default=0.0)),
        _positive(max(tension, default=0.0)),
    )


def _positive(value) -> float:
    return float(value) if np.isfinite(value) and value > 0 else 1.0


def section_picture(outcome: Outcome, limits: Limits, target: str = "", model: str = "sagittal"):
    """Return a figure of the deformed section, with the pressure on the sole underneath.

    Parameters
    ----------
    outcome : Outcome
        With a picture.
    limits : Limits
        From `shared_limits` over all conditions of the instant.
    target : str
        Tissue that is drawn in the colour of emphasis where it is a cable.
    model : {"sagittal", "rearfoot", "foot3d"}
        Names the horizontal axis.

    Returns
    -------
    matplotlib.figure.Figure
        Its first axes hold the section (mm), the second the contact pressure (kPa).
    """
    from matplotlib.figure import Figure

    picture = outcome.picture
    wide = limits.across_mm[1] - limits.across_mm[0]
    high = limits.up_mm[1] - limits.up_mm[0]
    width = 4.2 if model == "rearfoot" else 5.4
    left, right, strip, gap, foot = 0.58, 0.08, 0.66, 0.06, 0.42
    tall = (width - left - right) * high / wide
    height = tall + strip + gap + foot + 0.05
    with drawing():
        figure = Figure(figsize=(width, height))
        box = left / width, 1 - (left + right) / width
        upper = figure.add_axes((box[0], (foot + strip + gap) / height, box[1], tall / height))
        lower = figure.add_axes((box[0], foot / height, box[1], strip / height), sharex=upper)
        upper.set_xlim(limits.across_mm)
        upper.set_ylim(limits.up_mm)
        upper.set_axis_off()
        shift = np.array([0.0, picture.ground_y_mm])
        _tissue(upper, picture, shift, limits)
        _device(upper, picture, shift)
        for outline in picture.bones.values():
            upper.fill(*(outline - shift).T, facecolor=BONE, edgecolor=INK, linewidth=0.7, zorder=3)
        for name, (path, force) in picture.cables.items():
            _cable(upper, path - shift, force, limits, is_target(name, target))
        if picture.view == "section":
            upper.plot(limits.across_mm, (0, 0), color=INK, linewidth=1.1, zorder=1)
        _pressure(lower, picture, limits, model)
    return figure


def is_target(cable: str, target: str) -> bool:
    """Say whether a cable is the target tissue or a strand of it, e.g. ``plantar_fascia_1``."""
    whole, _, strand = cable.rpartition("_")
    return cable == target or (whole == target and strand.isalnum() and strand != "")


def _tissue(axes, picture, shift, limits) -> None:
    foot = picture.cells[~picture.is_device]
    points = picture.points - shift
    axes.tripcolor(
        points[:, 0], points[:, 1], foot[:, SUBDIVISION].reshape(-1, 3),
        np.clip(picture.stress_kPa, 0.0, limits.stress_kPa), shading="gouraud", cmap=stress_map(),
        vmin=0.0, vmax=limits.stress_kPa, zorder=2)
    if picture.view == "section":
        # a print has none: seen in plan, the rim of the sole curls over itself
        _edge(axes, points, foot, QUIET, 0.6)


def _device(axes, picture, shift) -> None:
    cells = picture.cells[picture.is_device]
    if not len(cells):
        return
    from matplotlib.collections import PolyCollection

    points = picture.points - shift
    axes.add_collection(PolyCollection(
        points[cells[:, [0, 3, 1, 4, 2, 5]]], facecolor=DEVICE, edgecolor=DEVICE, linewidth=0.3,
        zorder=2))
    _edge(axes, points, cells, INK, 0.9)


def _edge(axes, points, cells, colour, width) -> None:
    from matplotlib.collections import LineCollection

    from ..mechanics.mesh import boundary_facets

    facets = boundary_facets(cells)[0]
    axes.add_collection(LineCollection(
        points[facets[:, [0, 2, 1]]], colors=colour, linewidths=width, zorder=2.5))


def _cable(axes, path, force, limits, is_target) -> None:
    colour = TARGET if is_target else CABLE
    if force < SLACK_N:
        axes.plot(*path.T, color=colour, linewidth=0.8, linestyle=(0, (2, 2)), zorder=5)
        return
    width = 0.7 + 3.6 * force / limits.tension_N
    ends = dict(solid_capstyle="round", solid_joinstyle="round")
    axes.plot(*path.T, color="white", linewidth=width + 1.2, zorder=4, **ends)
    axes.plot(*path.T, color=colour, linewidth=width, zorder=6 if is_target else 5, **ends)


def _pressure(axes, picture, limits, model) -> None:
    if "foot" in picture.contacts:
        points, pressure = picture.contacts["foot"]
        order = np.argsort(points[:, 0], kind="stable")
        x, p = points[order, 0], pressure[order]
        axes.fill_between(x, 0, p, color=PRESSURE, alpha=0.35, linewidth=0)
        axes.plot(x, p, color=PRESSURE, linewidth=1.2)
    axes.set_ylim(1.08 * limits.pressure_kPa, 0)
    axes_style(axes)
    axes.set_ylabel("kPa")
    axes.set_xlabel(across_title(model))
    axes.locator_params(axis="y", nbins=3)
    if np.isfinite(picture.centre_of_pressure_mm):
        x = picture.centre_of_pressure_mm
        axes.plot([x, x], axes.get_ylim(), color=INK, linewidth=0.9, linestyle=(0, (4, 2)))


def across_title(model: str) -> str:
    """Return the title of the axis along a section."""
    return ("mm from the middle of the heel: medial (−) to lateral (+)" if model == "rearfoot"
            else "mm from the back of the heel")


def colour_bar(limits: Limits, printed: bool = False):
    """Return a figure with the one colour bar of all pictures: of stress, or of a print's pressure."""
    from matplotlib.cm import ScalarMappable
    from matplotlib.colors import Normalize
    from matplotlib.figure import Figure

    with drawing():
        figure = Figure(figsize=(4.4, 0.62))
        axes = figure.add_axes((0.03, 0.66, 0.94, 0.26))
        bar = figure.colorbar(
            ScalarMappable(Normalize(0.0, limits.stress_kPa), stress_map()), cax=axes,
            orientation="horizontal", extend="max")
        bar.set_label("contact pressure on the sole, kPa" if printed else
                      "equivalent stress in the soft tissue, kPa", fontsize=8)
        bar.outline.set_linewidth(0.5)
        axes.tick_params(labelsize=8, length=2)
    return figure


def cable_names(outcome: Outcome) -> list[str]:
    """Return the titles of the cables in a picture that a report names, largest tension first."""
    cables = outcome.picture.cables if outcome.picture is not None else {}
    known = [name for name in cables if name in TISSUES]
    return [TISSUES[name].title for name in sorted(known, key=lambda n: -cables[n][1])]

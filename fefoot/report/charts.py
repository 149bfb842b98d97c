"""Charts over all conditions: the target measure, the pressure along the sole, the stance."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np

from ..outcome.values import Comparison, Outcome, Row
from .pictures import Limits, across_title
from .style import CONDITIONS, GRID, INK, QUIET, axes_style, condition_style, drawing
from .wording import failure_text, labels, percent_text, quantity_of, tissue_title, value_text

_BAR_INCHES = 0.52


def target_bars(row: Row, outcomes: Sequence[Outcome]):
    """Return a figure with one bar per condition for one measure.

    A failed condition has the word instead of a bar. The published strength is drawn as a line
    where it is within twice the longest bar.
    """
    from matplotlib.figure import Figure

    names = ["\n".join(textwrap.wrap(text, 30)[:3]) for text in labels(outcomes)]
    known = [v for v in row.values if v is not None]
    span = max((abs(v) for v in known), default=1.0) or 1.0
    strength = row.strength if row.strength and row.strength <= 2.0 * span else None
    top = 0.10 if strength is None else 0.26
    height = 0.52 + top + _BAR_INCHES * len(names)
    words = quantity_of(row.quantity)
    with drawing():
        figure = Figure(figsize=(7.2, height))
        axes = figure.add_axes((0.30, 0.50 / height, 0.68, 1 - (0.50 + top) / height))
        low, high = min([*known, 0.0]), max([*known, 0.0])
        reach = max(high, strength or 0.0)
        axes.set_xlim(1.02 * low - (0.25 * span if low < 0 else 0.0),
                      max(reach * 1.04, high + 0.34 * span if high > 0 else 0.0))
        for i, (value, change) in enumerate(zip(row.values, row.changes_percent, strict=True)):
            if value is None:
                why = failure_text(outcomes[i]) or "not computed"
                axes.text(0.012 * span, i, textwrap.shorten(why, 64, placeholder=" …"),
                          va="center", color=INK, style="italic")
                continue
            axes.barh(i, value, height=0.58, color=CONDITIONS[i % len(CONDITIONS)])
            text = value_text(value, row.quantity, unit=True)
            text += f" ({percent_text(change)})" if i and change is not None else ""
            left = value < 0
            axes.text(value + (-1 if left else 1) * 0.012 * span, i, text, va="center",
                      ha="right" if left else "left", weight="bold", fontsize=9,
                      bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0})
        if row.values[0] is not None:
            axes.axvline(row.values[0], color=INK, linewidth=0.8, linestyle=(0, (3, 2)), zorder=0)
        if strength is not None:
            axes.axvline(strength, color=QUIET, linewidth=1.4)
            axes.text(strength, -0.6, "published strength", va="bottom", fontsize=8, color=QUIET,
                      ha="right" if strength > 0.7 * axes.get_xlim()[1] else "center")
        axes.set_yticks(range(len(names)), names)
        axes.set_ylim(len(names) - 0.45, -0.55)
        axes_style(axes)
        axes.grid(False, axis="y")
        axes.tick_params(axis="y", length=0, labelsize=9)
        axes.axvline(0, color=INK, linewidth=0.8)
        axes.set_xlabel(f"{words.title} in {words.unit}: {tissue_title(row.tissue)}")
    return figure


def pressure_profile(outcomes: Sequence[Outcome], limits: Limits, model: str = "sagittal"):
    """Return a figure with the contact pressure on the sole of every condition, overlaid."""
    from matplotlib.figure import Figure

    names = labels(outcomes)
    rows = -(-len(names) // 2)
    height = 2.7 + 0.2 * rows
    with drawing():
        figure = Figure(figsize=(7.2, height))
        axes = figure.add_axes((0.09, 0.46 / height, 0.89, 2.12 / height))
        for i, outcome in enumerate(outcomes):
            if outcome.failure is not None or outcome.picture is None:
                continue
            points, pressure = outcome.picture.contacts.get("foot", (np.zeros((0, 2)), np.zeros(0)))
            order = np.argsort(points[:, 0], kind="stable")
            axes.plot(points[order, 0], pressure[order], label=_short(names[i]),
                      linewidth=2.2 if i == 0 else 1.6, **condition_style(i))
        axes.set_xlim(limits.across_mm)
        axes.set_ylim(0, 1.08 * limits.pressure_kPa)
        axes_style(axes)
        axes.set_xlabel(across_title(model))
        axes.set_ylabel("contact pressure, kPa")
        _legend(figure)
    return figure


def over_stance(rows: Sequence[Row], comparisons: Sequence[Comparison]):
    """Return a figure with the target measure over stance; a failed instant leaves a gap."""
    from matplotlib.figure import Figure

    names = labels(comparisons[0].outcomes)
    percent = [c.stance_percent for c in comparisons]
    words = quantity_of(rows[0].quantity)
    height = 2.7 + 0.2 * (-(-len(names) // 2))
    with drawing():
        figure = Figure(figsize=(7.2, height))
        axes = figure.add_axes((0.09, 0.46 / height, 0.89, 2.12 / height))
        _over_stance(axes, percent, rows, names, 2.2, 1.6, 3.5)
        axes.set_xlabel("percent of stance: 0 first contact, 100 foot leaves the ground")
        axes.set_ylabel(f"{words.title}, {words.unit}")
        _legend(figure)
    return figure


def _over_stance(axes, percent, rows, names, first_width, width, marker) -> None:
    """Draw a measure over stance, one line per condition; a missing value leaves a gap."""
    for i, name in enumerate(names):
        values = [np.nan if row is None or row.values[i] is None else row.values[i] for row in rows]
        axes.plot(percent, values, label=_short(name), marker="o", markersize=marker,
                  linewidth=first_width if i == 0 else width, **condition_style(i))
    low, high = axes.get_ylim()
    axes.set_ylim(min(0.0, low), max(0.0, high))
    axes.set_xlim(0, 100)
    axes_style(axes)


PANEL_INCHES, PANELS_ACROSS = (2.4, 1.2), 3


def tissue_courses(courses, comparisons: Sequence[Comparison]):
    """Return a figure with one small chart per tissue: its measure over stance, one line per condition.

    Parameters
    ----------
    courses : dict of tissue name -> tuple of Row or None
        The rows of one measure at each instant.
    comparisons : sequence of Comparison
    """
    from matplotlib.figure import Figure

    names = labels(comparisons[0].outcomes)
    percent = [c.stance_percent for c in comparisons]
    rows = -(-len(courses) // PANELS_ACROSS)
    head = 0.2 + 0.2 * (-(-len(names) // 2))
    wide, high = PANEL_INCHES
    height = head + rows * high + 0.1
    with drawing():
        figure = Figure(figsize=(PANELS_ACROSS * wide, height))
        for number, (tissue, course) in enumerate(courses.items()):
            down, across = divmod(number, PANELS_ACROSS)
            axes = figure.add_axes((
                (across + 0.17) / PANELS_ACROSS, 1 - (head + (down + 0.82) * high) / height,
                0.78 / PANELS_ACROSS, 0.58 * high / height))
            _over_stance(axes, percent, course, names, 1.6, 1.1, 1.8)
            axes.tick_params(labelsize=6)
            axes.locator_params(axis="y", nbins=3)
            words = quantity_of(next(row.quantity for row in course if row is not None))
            title = textwrap.wrap(tissue_title(tissue), 38)[:2]
            axes.set_title("\n".join([*title[:-1], f"{title[-1]}, {words.unit}".rstrip(", ")]),
                           fontsize=6.5, loc="left", pad=2)
        _legend(figure)
    return figure


def _short(name: str) -> str:
    # A legend leaves out names that start with an underscore.
    return textwrap.shorten(name, 48, placeholder=" …").replace("_", " ")


def _legend(figure) -> None:
    axes = figure.axes[0]
    handles, names = axes.get_legend_handles_labels()
    if handles:
        figure.legend(handles, names, loc="upper left", bbox_to_anchor=(0.08, 1.0), ncols=2,
                      frameon=False, fontsize=8.5, handlelength=3.2, borderaxespad=0.1)
    axes.grid(True, color=GRID)

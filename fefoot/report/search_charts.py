"""Charts of a search: the trade-off, how it went, and what the surrogate is worth."""

from __future__ import annotations

import itertools
import math

from ..study.choice import designs_only, leading_key, ranked, shown_instant
from ..study.search import Found, cost_of, worst_excess
from .style import CONDITIONS, INK, QUIET, axes_style, drawing
from .wording import phrase

FIRST, PROPOSED, FRONT = QUIET, CONDITIONS[1], CONDITIONS[2]


def trade_off(found: Found):
    """Return a figure: change of the target across, the worst limit up, a dot per solved design."""
    from matplotlib.figure import Figure

    case = found.swept.case
    asked, key = case.studies.search, leading_key(case)
    cost = cost_of(asked, key)
    lines = ranked(designs_only(found.swept, shown_instant(found.swept)), key)
    with drawing():
        figure = Figure(figsize=(7.2, 4.0))
        axes = figure.add_axes((0.10, 0.13, 0.87, 0.79))
        for first, colour, label in ((True, FIRST, "first sample"), (False, PROPOSED, "proposed")):
            some = [line for line in lines if (line.design <= found.started) == first]
            axes.scatter([line.change_percent(key) for line in some], [cost(line) for line in some],
                         s=24, color=colour, alpha=0.75, linewidths=0, label=label)
        axes.plot([line.change_percent(key) for line in found.front],
                  [cost(line) for line in found.front], color=FRONT, linewidth=1.0, marker="o",
                  markersize=8, markerfacecolor="none", label="no solved design is better in both")
        shown = found.shown
        if shown is not None:
            axes.annotate(f"{'best' if found.answers else 'closest'}: {shown.design}",
                          (shown.change_percent(key), cost(shown)), xytext=(8, -14), weight="bold",
                          textcoords="offset points", fontsize=9)
        axes_style(axes)
        axes.axvline(-asked.reduction_percent, color=INK, linewidth=0.9, linestyle=(0, (3, 2)))
        if asked.limits:
            axes.axhline(100.0, color=INK, linewidth=0.9, linestyle=(0, (3, 2)))
            left, right = axes.get_xlim()
            bottom, top = axes.get_ylim()
            bottom = min(bottom, 100.0 - 0.15 * (top - 100.0))
            axes.fill_between([left, -asked.reduction_percent], bottom, 100.0, color="#eaf3f2",
                              zorder=0)
            axes.set_xlim(min(left, -asked.reduction_percent - 2.0), right)
            axes.set_ylim(bottom, max(top, 105.0))
        axes.set_xlabel(f"change of {phrase(*key)}, %  (left: relief)")
        axes.set_ylabel("worst limit, % of what is allowed" if asked.limits
                        else "largest rise in any other tissue, %")
        figure.legend(frameon=False, fontsize=8.5, loc="upper right", ncols=3,
                      bbox_to_anchor=(0.98, 1.0))
    return figure


def progress(found: Found):
    """Return a figure: the best change so far within the limits over the number of solved designs."""
    from matplotlib.figure import Figure

    case = found.swept.case
    asked, key = case.studies.search, leading_key(case)
    lines = sorted(ranked(designs_only(found.swept, shown_instant(found.swept)), key),
                   key=lambda line: line.design)
    kept = [line.change_percent(key) if worst_excess(line, asked) <= 0.0 else math.inf
            for line in lines]
    best = [b if math.isfinite(b) else math.nan for b in itertools.accumulate(kept, min)]
    with drawing():
        figure = Figure(figsize=(7.2, 2.6))
        axes = figure.add_axes((0.10, 0.18, 0.87, 0.70))
        axes.step([line.design for line in lines], best, where="post", color=PROPOSED, linewidth=1.8)
        axes.axhline(-asked.reduction_percent, color=INK, linewidth=0.9, linestyle=(0, (3, 2)))
        axes.axvline(found.started + 0.5, color=QUIET, linewidth=0.9)
        axes.text(found.started + 0.5, 1.02, "proposed from here", fontsize=8, color=QUIET,
                  va="bottom", transform=axes.get_xaxis_transform())
        axes_style(axes)
        axes.set_xlim(1, max(len(found.swept.designs), 2))
        axes.set_xlabel("designs solved")
        axes.set_ylabel("best change within limits, %")
    return figure


def left_out(found: Found):
    """Return a figure: each design as the surrogate predicts it from the others, against its solve."""
    from matplotlib.figure import Figure

    fits = found.fits[:3]
    with drawing():
        figure = Figure(figsize=(2.4 * len(fits), 2.5))
        for number, fit in enumerate(fits):
            axes = figure.add_axes(((number + 0.22) / len(fits), 0.20, 0.72 / len(fits), 0.64))
            low = min(*fit.values, *fit.left_out)
            high = max(*fit.values, *fit.left_out)
            axes.plot([low, high], [low, high], color=QUIET, linewidth=0.9)
            axes.scatter(fit.values, fit.left_out, s=14, color=PROPOSED, alpha=0.7, linewidths=0)
            axes_style(axes)
            axes.tick_params(labelsize=7)
            axes.set_title(fit.what.replace("_", " ").replace(".", ",\n", 1), fontsize=7, loc="left")
            axes.set_xlabel(f"solved, {fit.unit}", fontsize=7.5)
            if number == 0:
                axes.set_ylabel("predicted from the others", fontsize=7.5)
    return figure

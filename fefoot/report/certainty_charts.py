"""Charts of a certainty study: bands of the change, and which unknown makes them."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from ..study.certainty import STEADY_PERCENT, Spread
from .style import CONDITIONS, INK, QUIET, axes_style, drawing
from .wording import percent_text, plain, quantity_of, tissue_title

LESS, MORE, OPEN = CONDITIONS[1], CONDITIONS[2], "#8b969e"
CLIPPED_PERCENT, WIDEST_INDEX = 150.0, 1.5
_ROW_INCHES = 0.36


def bands(spreads: Sequence[Spread], target: str):
    """Return a figure: per tissue the band of the change (5 to 95 %), its median, how the sign holds.

    Blue: less; orange: more; grey: the sign is open. Far ends are cut with an arrow.
    """
    from matplotlib.figure import Figure

    height = 0.95 + _ROW_INCHES * len(spreads)
    low = max(min([0.0, *(s.low for s in spreads)]), -100.0)
    high = min(max([5.0, *(s.high for s in spreads)]), CLIPPED_PERCENT)
    with drawing():
        figure = Figure(figsize=(7.2, height))
        axes = figure.add_axes((0.36, 0.45 / height, 0.52, 1 - 0.80 / height))
        for place, s in enumerate(spreads):
            colour = OPEN if s.same_sign_percent < STEADY_PERCENT else LESS if s.median < 0 else MORE
            axes.plot([max(s.low, low), min(s.high, high)], [place, place], color=colour, linewidth=6,
                      solid_capstyle="butt", alpha=0.55)
            axes.plot(min(max(s.median, low), high), place, marker="o", color=colour, markersize=6)
            if s.high > high:
                axes.annotate(percent_text(s.high), (high, place), xytext=(-2, 6), fontsize=7,
                              textcoords="offset points", ha="right")
                axes.plot(high, place, marker=">", color=colour, markersize=7, clip_on=False)
            axes.text(1.02, place, f"{s.same_sign_percent:.0f} %", transform=axes.get_yaxis_transform(),
                      va="center", fontsize=8.5, color=INK)
        axes.text(1.02, -0.95, "sign holds", transform=axes.get_yaxis_transform(), fontsize=8,
                  color=QUIET, va="center")
        axes.set_yticks(range(len(spreads)), [_label(s) for s in spreads])
        for tick, s in zip(axes.get_yticklabels(), spreads, strict=True):
            tick.set_fontweight("bold" if s.tissue == target else "normal")
        axes.set_ylim(len(spreads) - 0.4, -0.6)
        margin = 0.04 * (high - low)
        axes.set_xlim(low - margin, high + margin)
        axes_style(axes)
        axes.grid(False, axis="y")
        axes.tick_params(axis="y", length=0, labelsize=8.5)
        axes.axvline(0, color=INK, linewidth=0.9)
        axes.set_xlabel("change with the device, %")
    return figure


def _label(spread: Spread) -> str:
    title = textwrap.shorten(tissue_title(spread.tissue), 34, placeholder=" …")
    return f"{title}\n{quantity_of(spread.quantity).title}"


def index_bars(spread: Spread):
    """Return a figure: total index of every unknown as a bar, first-order index as a mark."""
    from matplotlib.figure import Figure

    rows = spread.indices
    height = 0.85 + 0.30 * len(rows)
    with drawing():
        figure = Figure(figsize=(7.2, height))
        axes = figure.add_axes((0.30, 0.45 / height, 0.66, 1 - 0.55 / height))
        for place, index in enumerate(rows):
            total = max(index.total, 0.0)
            axes.barh(place, total, height=0.56, color=CONDITIONS[7], alpha=0.75,
                      label="total: alone and with others" if place == 0 else None)
            axes.plot([max(total - index.total_half_width, 0.0), total + index.total_half_width],
                      [place, place], color=INK, linewidth=1.0)
            axes.plot(max(index.first, 0.0), place, marker="D", color=CONDITIONS[2], markersize=5,
                      linestyle="none", label="first order: alone" if place == 0 else None)
        axes.set_yticks(range(len(rows)), [plain(index.unknown) for index in rows])
        axes.set_ylim(len(rows) - 0.45, -0.55)
        reach = max(r.total + r.total_half_width for r in rows)
        axes.set_xlim(0.0, min(max(1.0, 1.05 * reach), WIDEST_INDEX))
        axes_style(axes)
        axes.grid(False, axis="y")
        axes.tick_params(axis="y", length=0, labelsize=8.5)
        axes.set_xlabel("share of the variance of the change; thin line: 95 % interval")
        axes.legend(frameon=False, fontsize=8, loc="lower right")
    return figure

"""Charts of a certainty study: bands of the change, and which unknown makes them."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from ..study.certainty import STEADY_PERCENT, Spread
from .certainty_words import TOO_FEW, hardly, sign_cell
from .style import CONDITIONS, INK, QUIET, axes_style, drawing
from .wording import percent_text, plain, quantity_of, tissue_title

LESS, MORE, OPEN = CONDITIONS[1], CONDITIONS[2], "#8b969e"
LOWEST_PERCENT, CLIPPED_PERCENT, WIDEST_INDEX = -100.0, 150.0, 1.5
_ROW_INCHES = 0.36


def bands(spreads: Sequence[Spread], target: str):
    """Return a figure: per tissue the band of the change (5 to 95 %), its median, how the sign holds.

    Blue: less; orange: more; grey: the sign is open, or hardly any change. What lies beyond the axis
    is cut with an arrow and printed.
    """
    from matplotlib.figure import Figure

    height = 0.95 + _ROW_INCHES * len(spreads)
    low = max(min([0.0, *(s.low for s in spreads)]), LOWEST_PERCENT)
    high = min(max([5.0, *(s.high for s in spreads)]), CLIPPED_PERCENT)

    def inside(value):
        return min(max(value, low), high)

    with drawing():
        figure = Figure(figsize=(7.2, height))
        axes = figure.add_axes((0.36, 0.45 / height, 0.50, 1 - 0.80 / height))
        for place, s in enumerate(spreads):
            is_open = hardly(s) or s.same_sign_percent < STEADY_PERCENT
            colour = OPEN if is_open else LESS if s.median < 0 else MORE
            axes.plot([inside(s.low), inside(s.high)], [place, place], color=colour, linewidth=6,
                      solid_capstyle="butt", alpha=0.55)
            if low <= s.median <= high:
                axes.plot(s.median, place, marker="o", color=colour, markersize=6)
            for end, sign in ((low, -1), (high, 1)):
                words = cut_off(s, end, sign)
                if words:
                    axes.plot(end, place, marker=">" if sign > 0 else "<", color=colour, markersize=7,
                              clip_on=False)
                    axes.annotate(words, (end, place), xytext=(-2 * sign, 5.5), fontsize=7,
                                  textcoords="offset points", ha="right" if sign > 0 else "left")
            axes.text(1.03, place, sign_cell(s), transform=axes.get_yaxis_transform(),
                      va="center", fontsize=8.5, color=INK)
        axes.text(1.03, -0.95, "sign holds in", transform=axes.get_yaxis_transform(), fontsize=8,
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


def cut_off(spread: Spread, end: float, sign: int) -> str:
    """Return what of a band lies beyond the axis, in words; ``sign`` is 1 for its upper end."""
    reach = spread.high if sign > 0 else spread.low
    if sign * (reach - end) <= 0.0:
        return ""
    if sign * (spread.median - end) > 0.0:
        return f"median {percent_text(spread.median)}, up to {percent_text(reach)}"
    return f"to {percent_text(reach)}"


def _label(spread: Spread) -> str:
    title = textwrap.shorten(tissue_title(spread.tissue), 34, placeholder=" …")
    return f"{title}\n{quantity_of(spread.quantity).title}"


def index_bars(spread: Spread):
    """Return a figure: total index of every unknown as a bar, first-order index as a mark.

    An index that is known too badly is not drawn; words say so.
    """
    from matplotlib.figure import Figure

    rows = spread.indices
    known = [r for r in rows if r.total_known]
    height = 1.15 + 0.30 * len(rows)
    with drawing():
        figure = Figure(figsize=(7.2, height))
        axes = figure.add_axes((0.30, 0.45 / height, 0.66, 1 - 0.85 / height))
        for place, index in enumerate(rows):
            total = max(index.total, 0.0)
            if index.total_known:
                axes.barh(place, total, height=0.56, color=CONDITIONS[7], alpha=0.75,
                          label="total index (95 % interval)" if index is known[0] else None)
                axes.plot([max(total - index.total_half_width, 0.0), total + index.total_half_width],
                          [place, place], color=INK, linewidth=1.0)
            else:
                axes.text(0.01, place, TOO_FEW, va="center", fontsize=8, color=QUIET)
            if index.total_known and index.first_known:
                axes.plot(max(index.first, 0.0), place, marker="D", color=CONDITIONS[2], markersize=5,
                          linestyle="none", clip_on=False, zorder=4)
        axes.plot([], [], marker="D", color=CONDITIONS[2], markersize=5, linestyle="none",
                  label="first-order index")
        axes.set_yticks(range(len(rows)), [plain(index.unknown) for index in rows])
        axes.set_ylim(len(rows) - 0.45, -0.55)
        reach = max((r.total + r.total_half_width for r in known), default=1.0)
        axes.set_xlim(0.0, min(max(1.0, 1.05 * reach), WIDEST_INDEX))
        axes_style(axes)
        axes.grid(False, axis="y")
        axes.tick_params(axis="y", length=0, labelsize=8.5)
        axes.set_xlabel("index of the change, as a share of its variance")
        figure.legend(frameon=False, fontsize=8, loc="upper right", ncols=2,
                      bbox_to_anchor=(0.97, 1.0))
    return figure

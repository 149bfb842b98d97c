"""Charts of a sweep: what relief costs, and what each varied value does."""

from __future__ import annotations

from collections.abc import Sequence

from ..study.choice import front, ranked, worst_rise_percent
from ..study.sweep import Line
from .style import CONDITIONS, INK, QUIET, axes_style, drawing
from .wording import phrase

LABELLED = 8
_POINT, _FRONT = CONDITIONS[1], CONDITIONS[2]
ACROSS = 3


def trade_off(lines: Sequence[Line], key: tuple[str, str]):
    """Return a figure: change of the target across, largest rise elsewhere up, a dot per design.

    Designs on the front, that no other beats in both, are joined and numbered.
    """
    from matplotlib.figure import Figure

    known = ranked(lines, key)
    best = front(known, key, lambda line: worst_rise_percent(line, key[0]))
    with drawing():
        figure = Figure(figsize=(7.2, 4.0))
        axes = figure.add_axes((0.10, 0.13, 0.87, 0.79))
        axes.scatter([line.change_percent(key) for line in known],
                     [worst_rise_percent(line, key[0]) for line in known],
                     s=22, color=_POINT, alpha=0.55, linewidths=0, label="one design")
        x = [line.change_percent(key) for line in best]
        y = [worst_rise_percent(line, key[0]) for line in best]
        axes.plot(x, y, color=_FRONT, linewidth=1.2, marker="o", markersize=5,
                  label="no other design is better in both")
        for line, a, b in _labelled(best, x, y):
            axes.annotate(str(line.design), (a, b), xytext=(4, 4), textcoords="offset points",
                          fontsize=8, weight="bold")
        axes.axvline(0, color=INK, linewidth=0.8)
        axes_style(axes)
        axes.set_xlabel(f"change of {phrase(*key)}, %  (left: relief)")
        axes.set_ylabel("largest rise in any other tissue, %")
        axes.set_ylim(bottom=min(0.0, *axes.get_ylim()))
        figure.legend(frameon=False, fontsize=8.5, loc="upper right", ncols=3,
                      bbox_to_anchor=(0.98, 1.0))
    return figure


def _labelled(best, x, y):
    step = max(1, -(-len(best) // LABELLED))
    rows = list(zip(best, x, y, strict=True))
    return rows[::step] + ([rows[-1]] if rows and (len(rows) - 1) % step else [])


def effects(lines: Sequence[Line], key: tuple[str, str], names: Sequence[str]):
    """Return a figure with a panel per varied value: the target's change over it, and its median."""
    import numpy as np
    from matplotlib.figure import Figure

    known = ranked(lines, key)
    rows = -(-len(names) // ACROSS)
    height = 2.5 * rows
    with drawing():
        figure = Figure(figsize=(7.2, height))
        for number, name in enumerate(names):
            down, across = divmod(number, ACROSS)
            axes = figure.add_axes((0.09 + across * 0.31, 1 - (down + 0.80) * 2.5 / height, 0.25,
                                    1.75 / height))
            values = [line.varied[name] for line in known]
            words = any(isinstance(v, str) for v in values)
            order = sorted(set(values), key=str) if words else sorted(set(values))
            place = [order.index(v) for v in values] if words else values
            change = [line.change_percent(key) for line in known]
            axes.scatter(place, change, s=14, color=_POINT, alpha=0.5, linewidths=0)
            if len(order) <= max(12, len(known) // 4):
                middle = [float(np.median([c for c, v in zip(change, values, strict=True) if v == o]))
                          for o in order]
                axes.plot(range(len(order)) if words else order, middle, color=_FRONT, linewidth=1.6,
                          linestyle="none" if words else "-", marker="_" if words else "o",
                          markersize=16 if words else 3)
            axes_style(axes)
            if words:
                axes.set_xticks(range(len(order)), [str(o)[:14] for o in order], fontsize=7)
                axes.set_xlim(-0.6, len(order) - 0.4)
            axes.set_title(name.replace("_", " "), fontsize=9, loc="left")
            if across == 0:
                axes.set_ylabel("change of the target, %", fontsize=8)
            if max(change, default=0.0) > 0.0:
                axes.axhline(0, color=QUIET, linewidth=0.8)
    return figure

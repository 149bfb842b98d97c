"""The devices of a case in order, each with what it does to the target and what it costs."""

from __future__ import annotations

from ..case.values import Case
from ..outcome.values import Comparison
from .answer import leading_row, worse_with
from .tables import plain_table
from .wording import (
    counted,
    failure_text,
    labels,
    percent_text,
    phrase,
    rise_text,
    step_text,
    value_text,
)

COSTS_SHOWN, ON_PAPER = 4, 4
"""Costs named for each device, and devices that go on paper (the style sheet counts the rows alike)."""


def order(case: Case, shown: Comparison) -> list[int]:
    """Return the devices by number, the one that relieves the target most first, failures last."""
    row = leading_row(case, shown)

    def size(i) -> float:
        return abs(row.values[i]) if row is not None and row.values[i] is not None else float("inf")

    return sorted(range(1, len(shown.outcomes)), key=size)


def ranking(case: Case, shown: Comparison) -> str:
    """Return the table of devices, the one that relieves the target most first, failures last."""
    names, row = labels(shown.outcomes), leading_row(case, shown)
    if len(names) == 1:
        return "<p>There is no device in this case.</p>"

    lines, place = [], 0
    for i in order(case, shown):
        failed = failure_text(shown.outcomes[i])
        known = failed is None and row is not None and row.values[i] is not None
        place += known
        lines.append((
            str(place) if known else "–", names[i],
            f"{value_text(row.values[i], row.quantity, unit=True)} "
            f"({percent_text(row.changes_percent[i])})" if known else failed or "no value",
            failed or _costs(shown, i)))
    what = "target" if row is None else f"{phrase(row.tissue, row.quantity)}"
    bare = "" if row is None or row.values[0] is None else (
        f", without a device {value_text(row.values[0], row.quantity, unit=True)}")
    table = plain_table(lines, ("", "device", what + bare, "rises by more than 5 %, largest first"),
                        "ranking")
    rest = (f'<p class="paper key">On paper the first {counted(ON_PAPER)} of {counted(len(lines))} '
            "devices; the page has all.</p>" if len(lines) > ON_PAPER else "")
    return f'<div class="wide">{table}</div>{rest}'


def _costs(shown: Comparison, i: int) -> str:
    rows = {(r.tissue, r.quantity): r for r in shown.rows}
    found = worse_with(shown, i)
    rises = [f"{phrase(t, q)} {step_text(rows[t, q], i)}" if (t, q) in rows
             else f"{phrase(t, q)} {rise_text(p)}" for t, q, p in found[:COSTS_SHOWN]]
    if len(found) > COSTS_SHOWN:
        rises.append(f"and {counted(len(found) - COSTS_SHOWN)} more in the table of all tissues")
    return "; ".join(rises) or "nothing rises by more than 5 %"

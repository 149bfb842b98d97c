"""The table and the summary of a sweep as plain values."""

from __future__ import annotations

import math

from .choice import (
    designs_only,
    ends_reached,
    front,
    leading_key,
    ranked,
    rises,
    shown_instant,
    worst_rise_percent,
)
from .sweep import REFERENCE, Line, Swept

BEST_SHOWN = 10


def columns_and_rows(swept: Swept) -> tuple[list[str], list[list]]:
    """Return the table of a sweep: one row per design, condition and instant.

    Columns: design (0: not varied), condition, stance_percent, the varied values, status, reason,
    key of the run; then every measure with its change against no device in percent. The table
    depends on the numbers alone: not on who computed them, when, or in which order.
    """
    measures = sorted({key for line in swept.lines for key in line.row.values})
    varied = [entry.name for entry in swept.case.studies.sweep.vary]
    columns = ["design", "condition", "stance_percent", *varied, "status", "reason", "run"]
    for tissue, quantity in measures:
        columns += [f"{tissue}.{quantity}", f"{tissue}.{quantity}.change_percent"]
    return columns, [_row(line, varied, measures) for line in swept.lines]


def _row(line: Line, varied, measures) -> list:
    failed = line.failure
    row = [line.design, line.condition, line.stance_percent,
           *(line.varied.get(name) for name in varied),
           "failed" if failed else "ok", failed or "", line.row.key]
    for key in measures:
        row += [line.row.values.get(key), line.change_percent(key)]
    return row


def summary(swept: Swept) -> dict:
    """Return the answer of a sweep as plain values: the best designs and what gets worse."""
    key, at = leading_key(swept.case), shown_instant(swept)
    lines = designs_only(swept, at)
    best = ranked(lines, key)
    trade = front(lines, key, lambda line: worst_rise_percent(line, key[0]))
    return {
        "title": swept.case.title, "target": ".".join(key), "stance_percent": at,
        "designs": len(swept.designs), "failed": sum(1 for line in lines if line.failure),
        "best": [_design(line, key) for line in best[:BEST_SHOWN]],
        "at_the_end_of": ends_reached(swept, best[0]) if best else [],
        "trade_off": [_design(line, key) for line in trade],
        "not_varied": [_design(line, key) for line in swept.lines
                       if line.design == REFERENCE and at in (None, line.stance_percent)],
        "failures": [{"design": line.design, **line.varied, "reason": line.failure}
                     for line in lines if line.failure],
    }


def _design(line: Line, key) -> dict:
    return {
        "design": line.design, "condition": line.condition, "values": line.varied,
        "target_value": line.row.values.get(key), "target_change_percent": line.change_percent(key),
        "failure": line.failure,
        "rises_percent": {f"{t}.{q}": "from nothing" if math.isinf(p) else p
                          for t, q, p in rises(line)},
    }

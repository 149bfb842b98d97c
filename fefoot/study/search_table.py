"""The table and the summary of a search as plain values."""

from __future__ import annotations

from .choice import ends_reached, excess, leading_key
from .search import Found, miss
from .sweep_table import columns_and_rows


def design_table(found: Found) -> tuple[list[str], list[list]]:
    """Return the table of all solved designs, as of a sweep, in the order of solving."""
    return columns_and_rows(found.swept)


def summary(found: Found) -> dict:
    """Return the answer of a search as plain values."""
    case = found.swept.case
    asked, key = case.studies.search, leading_key(case)

    def design(line):
        return {"design": line.design, "values": line.varied,
                "target_value": line.row.values[key], "target_change_percent": line.change_percent(key),
                "miss": miss(line, asked, key),
                "excess_of_limits": [excess(line, limit) for limit in asked.limits]}

    shown = found.shown
    return {
        "title": case.title, "target": ".".join(key),
        "wanted_reduction_percent": asked.reduction_percent,
        "limits": [{"measure": f"{limit.tissue}.{limit.quantity}", "most": limit.most,
                    "rise_percent": limit.rise_percent} for limit in asked.limits],
        "solved": len(found.swept.designs), "first_sample": found.started, "ended": found.ended,
        "answers": [design(line) for line in found.answers],
        "closest": None if found.closest is None else design(found.closest),
        "at_the_end_of": [] if shown is None else ends_reached(found.swept, shown),
        "within_limits": [design(line) for line in found.kept],
        "trade_off": [design(line) for line in found.front],
        "surrogates": [{"of": fit.what, "unit": fit.unit, "leave_one_out_error": fit.error,
                        "span": fit.span} for fit in found.fits],
    }

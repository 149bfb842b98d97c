"""What happens over stance: the target's course, then that of every tissue."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import islice

from ..case.values import Case
from ..outcome.comparison import change_percent
from ..outcome.values import Comparison, Row
from .answer import leading_row
from .charts import over_stance, tissue_courses
from .style import svg_uri
from .tables import figure, image, plain_table, text
from .wording import (
    capital,
    failure_text,
    labels,
    percent_text,
    phrase,
    quantity_of,
    tissue_title,
    value_text,
)

PANELS = 21
"""Small charts in one figure, so that it fits on a printed page."""
Course = tuple[Row | None, ...]
"""One measure at each instant; None where it has no row."""


def stance_parts(case: Case, comparisons: Sequence[Comparison],
                 worst: int) -> Iterator[tuple[str, str, str]]:
    """Yield the sections over stance as (name, title, HTML); nothing for a single instant."""
    if len(comparisons) < 2:
        return
    yield "stance", "Over stance", _target(case, comparisons, worst)
    found = courses(comparisons, case.target)
    if found:
        yield "course", "Every tissue over stance", _tissues(found, comparisons)


def courses(comparisons: Sequence[Comparison], target: str = "") -> dict[str, Course]:
    """Return the leading measure of each tissue at every instant, the target first.

    A tissue's leading measure is its first one at the first instant that has any.
    """
    leading: dict[str, str] = {}
    for comparison in comparisons:
        for row in comparison.rows:
            leading.setdefault(row.tissue, row.quantity)
    rows = [{(row.tissue, row.quantity): row for row in c.rows} for c in comparisons]
    order = sorted(leading, key=lambda tissue: tissue != target)
    return {tissue: tuple(at.get((tissue, leading[tissue])) for at in rows) for tissue in order}


def largest(course: Course, comparisons: Sequence[Comparison],
            index: int) -> tuple[float, float] | None:
    """Return a condition's largest value by size over stance, and the percent of stance it is at."""
    known = [(row.values[index], c.stance_percent) for row, c in zip(course, comparisons, strict=True)
             if row is not None and row.values[index] is not None]
    return max(known, key=lambda pair: abs(pair[0]), default=None)


def _target(case: Case, comparisons: Sequence[Comparison], worst: int) -> str:
    rows = [leading_row(case, c) for c in comparisons]
    known = [(r, c) for r, c in zip(rows, comparisons, strict=True) if r is not None]
    names = labels(comparisons[0].outcomes)
    chart = ""
    if known:
        what = phrase(known[0][0].tissue, known[0][0].quantity)
        chart = figure(
            image(svg_uri(over_stance(*zip(*known, strict=True))),
                  f"Lines of {what} over stance, one per condition; the numbers stand in the "
                  "table below", "chart"),
            text(f"{capital(what)} over stance. A gap is an instant that failed."))
    lines = []
    for index, (row, comparison) in enumerate(zip(rows, comparisons, strict=True)):
        cells = []
        for i, outcome in enumerate(comparison.outcomes):
            failed = failure_text(outcome)
            if failed or row is None:
                cells.append(failed or "no value")
            elif i == 0:
                cells.append(value_text(row.values[0], row.quantity, unit=True))
            else:
                cells.append(f"{value_text(row.values[i], row.quantity)} "
                             f"({percent_text(row.changes_percent[i])})")
        best = next((n for n, o in zip(names, comparison.outcomes, strict=True)
                     if o.name == comparison.best), "none")
        at = f"{comparison.stance_percent:.3g} %" + (" (shown below)" if index == worst else "")
        lines.append((at, *cells, best))
    table = plain_table(lines, ("stance", *names, "lowers it most"), "numbers")
    return chart + f'<div class="wide">{table}</div>'


def _tissues(found: dict[str, Course], comparisons: Sequence[Comparison]) -> str:
    names = labels(comparisons[0].outcomes)
    lines = []
    for tissue, course in found.items():
        quantity = _quantity(course)
        words = quantity_of(quantity)
        title = f"{tissue_title(tissue)}: {words.title}" + (f", {words.unit}" if words.unit else "")
        lines.append((title, *(_peak(course, comparisons, i) for i in range(len(names)))))
    charts = "".join(
        figure(image(svg_uri(tissue_courses(dict(part), comparisons)),
                     "Small charts of tissues: the leading measure of each over stance, one line per "
                     "condition; the largest values stand in the table below", "chart"),
               "The leading measure of each tissue over stance, each on its own scale. A gap is an "
               "instant that failed.")
        for part in batched(found.items(), PANELS))
    table = plain_table(lines, ("tissue: measure", *names), "numbers")
    return (charts + "<p>Largest value over the instants solved, at which percent of stance, and its "
            f'change against no device.</p><div class="wide">{table}</div>')


def batched(items: Iterable, size: int) -> Iterator[list]:
    """Yield lists of up to ``size`` items in order."""
    rest = iter(items)
    while part := list(islice(rest, size)):
        yield part


def _quantity(course: Course) -> str:
    return next(row.quantity for row in course if row is not None)


def _peak(course: Course, comparisons: Sequence[Comparison], index: int) -> str:
    """Return a condition's largest value in words, with what failed; a change only where none did."""
    failed = [sum(c.outcomes[i].failure is not None for c in comparisons) for i in (0, index)]
    found, base = (largest(course, comparisons, i) for i in (index, 0))
    note = f"; {failed[1]} of {len(comparisons)} instants failed" if failed[1] else ""
    if found is None:
        return "failed" if failed[1] == len(comparisons) else "no value" + note
    shown = f"{value_text(found[0], _quantity(course))} at {found[1]:.3g} %"
    if index and base and not any(failed):
        shown += f" ({percent_text(change_percent(found[0], base[0]))})"
    return shown + note

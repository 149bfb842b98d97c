"""The tables and figures of the page, as HTML."""

from __future__ import annotations

import re
from collections.abc import Sequence
from html import escape
from itertools import takewhile

from ..outcome.values import Comparison, Outcome, Row
from .wording import (
    DASH,
    failure_text,
    labels,
    one_line,
    percent_text,
    quantity_of,
    share_percent,
    tissue_title,
    value_text,
    verdict,
)

_NUMBER_UNIT = re.compile(r"(?<=\d) (?=(?:%|N|kPa|MPa|mm|kg)(?!\w))")
_SIGNS = {
    "less": ("▼", "less"), "more": ("▲", "more"), "same": ("≈", "about the same"),
    "other": ("◆", "changed"),
}
LEGEND = (
    '<p class="key">Change against no device: <span class="less">▼ less</span> '
    '<span class="more">▲ more</span> <span class="same">≈ within 1 %</span> '
    '<span class="other">◆ neither better nor worse by itself</span></p>'
)


def text(value: object) -> str:
    """Return any value as escaped text on one line, numbers kept together with their units."""
    return _NUMBER_UNIT.sub("&nbsp;", escape(one_line(value)))


def image(uri: str, alt: str, kind: str = "") -> str:
    """Return a picture from a data URI, with what it shows in words."""
    return f'<img class="{kind}" src="{uri}" alt="{text(alt)}">'


def figure(drawn: str, caption: str, kind: str = "") -> str:
    """Return a picture with its caption."""
    return f'<figure class="{kind}">{drawn}<figcaption>{caption}</figcaption></figure>'


def plain_table(rows: Sequence[Sequence[object]], head: Sequence[str] = (), kind: str = "") -> str:
    """Return a table of escaped texts whose first column names the rows."""
    top = "".join(f'<th scope="col">{text(h)}</th>' for h in head)
    body = "".join(
        f'<tr><th scope="row">{text(row[0])}</th>'
        + "".join(f"<td>{text(cell)}</td>" for cell in row[1:]) + "</tr>" for row in rows)
    return (f'<table class="{kind}">' + (f"<thead><tr>{top}</tr></thead>" if head else "")
            + f"<tbody>{body}</tbody></table>")


def measures(comparison: Comparison, rows: Sequence[Row], *, target: str, caption: str) -> str:
    """Return a table of measures: one column per condition, its change under each value.

    A failed condition has one cell over all rows with its reason.
    """
    outcomes = comparison.outcomes
    head = "".join(f'<th scope="col" class="number">{text(n)}</th>' for n in labels(outcomes))
    lines = []
    for number, row in enumerate(rows):
        first = number == 0 or rows[number - 1].tissue != row.tissue
        count = sum(1 for _ in takewhile(lambda r, t=row.tissue: r.tissue == t, rows[number:]))
        name = (f'<th scope="rowgroup" rowspan="{count}">{text(tissue_title(row.tissue))}'
                f"{_rank(comparison, row.tissue)}</th>") if first else ""
        words = quantity_of(row.quantity)
        unit = f' <span class="unit">{text(words.unit)}</span>' if words.unit else ""
        cells = "".join(
            _cell(row, i, outcome, len(rows) if number == 0 else 0)
            for i, outcome in enumerate(outcomes))
        classes = " ".join(["group"] * first + ["target"] * (row.tissue == target))
        lines.append(f'<tr class="{classes}">{name}<th scope="row">{text(words.title)}{unit}</th>'
                     f"{cells}{_strength(row)}</tr>")
    return (
        f'<div class="wide"><table class="measures"><caption>{text(caption)}</caption><thead><tr>'
        f'<th scope="col">tissue</th><th scope="col">measure</th>{head}'
        '<th scope="col" class="number">published strength</th></tr></thead>'
        f'<tbody>{"".join(lines)}</tbody></table></div>')


def _rank(comparison, tissue) -> str:
    if tissue not in comparison.ranking:
        return ""
    place = comparison.ranking.index(tissue) + 1
    return f'<span class="rank">rank {place} of {len(comparison.ranking)}</span>'


def _cell(row: Row, index: int, outcome: Outcome, rows_below: int) -> str:
    failed = failure_text(outcome)
    if failed is not None:
        return (f'<td class="failed" rowspan="{rows_below}">{text(failed)}</td>'
                if rows_below else "")
    value = value_text(row.values[index], row.quantity)
    kind = verdict(row, index)
    change = ""
    if kind:
        sign, word = _SIGNS[kind]
        change = (f'<span class="change {kind}"><span aria-hidden="true">{sign}</span>'
                  f'<span class="hidden">{word}</span> '
                  f"{percent_text(row.changes_percent[index])}</span>")
    elif index:
        change = f'<span class="change">{DASH}</span>'
    return f'<td class="number">{value}{change}</td>'


def _strength(row: Row) -> str:
    if row.strength is None:
        return f'<td class="number">{DASH}</td>'
    share = share_percent(row)
    note = ("" if share is None
            else f'<span class="change">{percent_text(share, sign=False)} without</span>')
    return f'<td class="number">{value_text(row.strength, row.quantity)}{note}</td>'


def shares(comparison: Comparison, rows: Sequence[Row], target: str) -> str:
    """Return the table of tissues ranked by the share of their published strength."""
    outcomes = comparison.outcomes
    ranked = []
    for place, tissue in enumerate(comparison.ranking, 1):
        own = [r for r in rows if r.tissue == tissue and r.strength is not None]
        if own:
            ranked.append((place, max(own, key=lambda r: share_percent(r) or 0.0)))
    if not ranked:
        return "<p>No tissue of this model has a published strength.</p>"
    head = "".join(f'<th scope="col" class="number">{text(n)}</th>' for n in labels(outcomes))
    lines = []
    for number, (place, row) in enumerate(ranked):
        cells = []
        for i, outcome in enumerate(outcomes):
            if outcome.failure is not None:
                cells.append(_cell(row, i, outcome, len(ranked) if number == 0 else 0))
                continue
            share = share_percent(row, i)
            bar = "" if share is None else (
                f'<span class="bar"><span style="width:{min(share, 100.0):.1f}%"></span></span>')
            cells.append(f'<td class="number">{percent_text(share, sign=False)}{bar}</td>')
        lines.append(
            f'<tr class="group{" target" * (row.tissue == target)}"><td class="number">{place}</td>'
            f'<th scope="row">{text(tissue_title(row.tissue))}</th>'
            f'<td>{text(quantity_of(row.quantity).title)} over '
            f'{value_text(row.strength, row.quantity, unit=True)}'
            f'<span class="source">{text(row.strength_source)}</span></td>'
            f'{"".join(cells)}</tr>')
    return (
        '<div class="wide"><table class="measures"><caption>Share of the published strength, '
        "ranked without a device. A relative index, not a prediction of injury.</caption><thead>"
        '<tr><th scope="col" class="number">rank</th><th scope="col">tissue</th>'
        f'<th scope="col">measure over strength, and its source</th>{head}</tr></thead>'
        f'<tbody>{"".join(lines)}</tbody></table></div>')


def definitions(rows: Sequence[Row]) -> str:
    """Return the definition of every quantity in the rows."""
    names = dict.fromkeys(row.quantity for row in rows)
    items = "".join(
        f"<dt>{text(quantity_of(n).title)}</dt><dd>{text(quantity_of(n).definition)}</dd>"
        for n in names)
    return f'<dl class="definitions">{items}</dl>'


def checks(outcomes: Sequence[Outcome]) -> str:
    """Return the checks of every condition: value, limit, passed or not."""
    known = {check.name: check for outcome in outcomes for check in outcome.checks}
    names = labels(outcomes)
    if not known:
        lines = [(n, failure_text(o) or "no checks were recorded")
                 for n, o in zip(names, outcomes, strict=True)]
        return plain_table(lines, ("condition", "checks"))
    head = "".join(f'<th scope="col" class="number">{text(n)}</th>' for n in names)
    lines = []
    for number, (name, check) in enumerate(known.items()):
        cells = []
        for outcome in outcomes:
            own = next((c for c in outcome.checks if c.name == name), None)
            if not outcome.checks and outcome.failure is not None:
                cells.append(f'<td class="failed" rowspan="{len(known)}">'
                             f"{text(failure_text(outcome))}</td>" if number == 0 else "")
            elif own is None:
                cells.append(f'<td class="number">{DASH}</td>')
            else:
                word = "pass" if own.passed else "fail"
                sign = "✓" if own.passed else "✗"
                cells.append(f'<td class="number {word}">{own.value:.3g}'
                             f'<span class="change">{sign} {word}</span></td>')
        lines.append(
            f'<tr class="group"><th scope="row">{text(name.replace("_", " "))}'
            f'<span class="source">{text(check.doc)}</span></th><td class="number">'
            f"{check.limit:.3g} {text(check.unit)}</td>{''.join(cells)}</tr>")
    return ('<div class="wide"><table class="measures"><thead><tr><th scope="col">check</th>'
            f'<th scope="col" class="number">limit</th>{head}</tr></thead>'
            f'<tbody>{"".join(lines)}</tbody></table></div>')


def check_sentence(outcomes: Sequence[Outcome]) -> str:
    """Return in one sentence whether the checks passed."""
    failed = [f"‘{name}’ failed" for name, o in
              zip(labels(outcomes), outcomes, strict=True) if o.failure is not None]
    bad = [f"‘{name}’: {c.name.replace('_', ' ')}" for name, o in
           zip(labels(outcomes), outcomes, strict=True) for c in o.checks if not c.passed]
    if failed:
        return "; ".join(dict.fromkeys(failed)) + "."
    if bad:
        return "Not passed: " + ", ".join(dict.fromkeys(bad)) + "."
    count = sum(len(o.checks) for o in outcomes)
    return (f"All {count} checks passed." if count else "No checks were recorded.")

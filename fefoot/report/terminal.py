"""The answer for the terminal: plain words, one aligned table, checks, cautions."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Sequence
from itertools import groupby

from ..case.cautions import cautions
from ..case.values import Case
from ..outcome.values import Comparison, Outcome, Row
from ..study.reasons import advice
from .answer import (
    CAUTIONS,
    answer,
    leading_row,
    over_the_step,
    when_words,
    worst_index,
)
from .tables import check_sentence
from .wording import (
    capital,
    failure_text,
    one_line,
    percent_text,
    quantity_of,
    share_percent,
    tissue_title,
    title_of,
    value_text,
)

NARROWEST, WIDEST_NAME = 40, 16
_ASCII = str.maketrans({
    "→": "->", "−": "-", "–": "-", "‘": "'", "’": "'", "≈": "~", "…": "...", "·": "-"})


def answer_text(case: Case, comparisons: Sequence[Comparison], width: int = 100,
                colour: bool = False) -> str:
    """Return the answer of a run as text: the instant on the page, and the target over the step.

    Parameters as for `table`.
    """
    if len(comparisons) < 2:
        return "".join(table(case, comparison, width, colour) for comparison in comparisons)
    worst = worst_index(case, comparisons)
    width = max(width, NARROWEST)
    lines = [table(case, comparisons[worst], width, colour, comparisons).rstrip(), "",
             *_course(case, comparisons, worst, width), "",
             *_wrapped("All tissues at every instant are in measures.csv and on the page.", width)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def table(case: Case, comparison: Comparison, width: int = 100, colour: bool = False,
          step: Sequence[Comparison] = ()) -> str:
    """Return the answer and the table of one instant as text.

    Parameters
    ----------
    case : Case
    comparison : Comparison
    width : int
        Columns of the terminal. Where the conditions do not fit beside each other, the table is
        given in blocks, the first condition in each.
    colour : bool
        Whether the output is a terminal that shows bold; otherwise no control codes are written.
    step : sequence of Comparison
        All instants of the run, where there are several.
    """
    width = max(width, NARROWEST)
    found = answer(case, comparison)
    lines = _wrapped(f"{when_words(case, comparison)}:", width)
    lines += [_bold(line, colour) for line in _wrapped(found.headline, width)]
    for point in (*over_the_step(case, step), *found.points):
        lines += _wrapped(point, width, "  ")
    if comparison.rows:
        lines += ["", *_key(comparison, width)]
        for block in _blocks(comparison, width, case.target):
            lines += ["", *block]
    solved = [outcome for instant in step or (comparison,) for outcome in instant.outcomes]
    what = advice(case, [outcome.failure for outcome in solved])
    lines += ["", *_wrapped(f"Checks: {check_sentence(solved)}", width),
              *(_wrapped(f"What to do: {what}.", width) if what else ()),
              *(line for own in cautions(case) for line in _wrapped(f"Caution: {own}.", width)),
              *_wrapped(f"Cautions: {CAUTIONS[0]} {CAUTIONS[1]}", width)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


def _course(case: Case, comparisons: Sequence[Comparison], worst: int, width: int) -> list[str]:
    """The target's first measure at every instant, one line each."""
    rows = [leading_row(case, c) for c in comparisons]
    known = next((row for row in rows if row is not None), None)
    if known is None:
        return []
    left = ["stance", *(f"{c.stance_percent:.3g} %{' *' if i == worst else ''}"
                        for i, c in enumerate(comparisons))]
    columns = [[_short(outcome), *(
        _cell(row, i, c.outcomes[i]) if row is not None else "failed"
        for row, c in zip(rows, comparisons, strict=True))]
        for i, outcome in enumerate(comparisons[0].outcomes)]
    words = quantity_of(known.quantity)
    head = f"{tissue_title(known.tissue)}, {words.title}" + (f", {words.unit}" if words.unit else "")
    blocks = _beside(left, columns, [""] * len(left), width)
    return [*_wrapped(f"{capital(head)}, over the step (* shown above):", width),
            *(line for block in blocks for line in ("", *block))]


def _bold(line: str, colour: bool) -> str:
    return f"\x1b[1m{line}\x1b[0m" if colour else line


def _plain(text: str) -> str:
    return text.translate(_ASCII)


def _wrapped(text: str, width: int, indent: str = "") -> list[str]:
    return textwrap.wrap(_plain(text), width, initial_indent=indent, subsequent_indent=indent)


def _key(comparison: Comparison, width: int) -> list[str]:
    """What the short names of the columns stand for."""
    return [
        line for outcome in comparison.outcomes if outcome.title
        for line in textwrap.wrap(
            _plain(f"{_short(outcome)}: {failure_text(outcome) or title_of(outcome)}"), width,
            subsequent_indent="    ")]


def _short(outcome: Outcome) -> str:
    return _fit(_plain(one_line(outcome.name)), WIDEST_NAME)


def _blocks(comparison: Comparison, width: int, target: str) -> list[list[str]]:
    left = ["", *_names(comparison.rows, target)]
    columns = [
        [_short(outcome), *_filled(comparison.rows, lambda row, i=i, o=outcome: _cell(row, i, o))]
        for i, outcome in enumerate(comparison.outcomes)]
    share = ["of strength", *_filled(comparison.rows, _share)]
    return _beside(left, columns, share, width)


def _beside(left: list[str], columns: list[list[str]], right: list[str], width: int):
    """Lay columns between two others; in blocks that begin with the first where it gets too wide."""
    room = width - _widest(left) - _widest(right) - _widest(columns[0]) - 4
    blocks, block, used = [], [], 0
    for column in columns[1:]:
        if block and used + _widest(column) + 2 > room:
            blocks.append(block)
            block, used = [], 0
        block.append(column)
        used += _widest(column) + 2
    blocks.append(block)
    ends = [right] if any(right) else []
    return [_aligned([left, columns[0], *block, *ends]) for block in blocks]


def _names(rows: Sequence[Row], target: str) -> list[str]:
    """A line per tissue, and under it one per measure."""
    out = []
    for tissue, group in groupby(rows, key=lambda row: row.tissue):
        out.append(_plain(tissue_title(tissue)) + (" (target)" if tissue == target else ""))
        for row in group:
            words = quantity_of(row.quantity)
            out.append(_plain(f"  {words.title}" + (f", {words.unit}" if words.unit else "")))
    return out


def _filled(rows: Sequence[Row], cell) -> list[str]:
    """The cells of one column, empty beside the names of the tissues."""
    return [text for _, group in groupby(rows, key=lambda row: row.tissue)
            for text in ("", *map(cell, group))]


def _cell(row: Row, index: int, outcome: Outcome) -> str:
    if outcome.failure is not None:
        return "failed"
    value = _plain(value_text(row.values[index], row.quantity))
    if index == 0:
        return value
    change = _plain(percent_text(row.changes_percent[index]))
    return f"{value} {change.replace(' ', ''):>7}"


def _share(row: Row) -> str:
    return _plain(percent_text(share_percent(row), sign=False))


def _aligned(columns: list[list[str]]) -> list[str]:
    widths = [_widest(column) for column in columns]
    lines = []
    for number, cells in enumerate(zip(*columns, strict=True)):
        first, *others = (
            _pad(cell, width, i > 0)
            for i, (cell, width) in enumerate(zip(cells, widths, strict=True)))
        lines.append("  ".join([first, *others]))
        if number == 0:
            lines.append("-" * (sum(widths) + 2 * (len(widths) - 1)))
    return lines


def _pad(text: str, width: int, right: bool) -> str:
    blank = " " * (width - _columns(text))
    return blank + text if right else text + blank


def _fit(text: str, width: int) -> str:
    if _columns(text) <= width:
        return text
    while _columns(text) > width - 2:
        text = text[:-1]
    return text.rstrip() + ".."


def _columns(text: str) -> int:
    return sum(2 if unicodedata.east_asian_width(c) in "WF" else 0 if unicodedata.combining(c)
               else 1 for c in text)


def _widest(column: Sequence[str]) -> int:
    return max(map(_columns, column))

"""The answer for the terminal: plain words, one aligned table, checks, cautions."""

from __future__ import annotations

import textwrap
import unicodedata
from collections.abc import Sequence
from itertools import groupby

from ..case.values import Case
from ..outcome.values import Comparison, Outcome, Row
from .answer import CAUTIONS, answer
from .tables import check_sentence
from .wording import (
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


def table(case: Case, comparison: Comparison, width: int = 100, colour: bool = False) -> str:
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
    """
    width = max(width, NARROWEST)
    found = answer(case, comparison)
    lines = [_bold(line, colour) for line in _wrapped(found.headline, width)]
    for point in found.points:
        lines += _wrapped(point, width, "  ")
    if comparison.rows:
        lines += ["", *_key(comparison, width)]
        for block in _blocks(comparison, width, case.target):
            lines += ["", *block]
    lines += ["", *_wrapped(f"Checks: {check_sentence(comparison.outcomes)}", width),
              *_wrapped(f"Cautions: {CAUTIONS[0]} {CAUTIONS[1]}", width)]
    return "\n".join(line.rstrip() for line in lines) + "\n"


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
    room = width - _widest(left) - _widest(share) - _widest(columns[0]) - 4
    blocks, block, used = [], [], 0
    for column in columns[1:]:
        if block and used + _widest(column) + 2 > room:
            blocks.append(block)
            block, used = [], 0
        block.append(column)
        used += _widest(column) + 2
    blocks.append(block)
    return [_aligned([left, columns[0], *block, share]) for block in blocks]


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

"""Studies for the terminal: one aligned table, plain words, cautions."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Sequence

from .answer import CAUTIONS
from .wording import percent_text

_NUMBER_UNIT = re.compile(r"(?<=\d) (?=(?:%|N|kPa|MPa|mm|kg)(?!\w))")
_ASCII = str.maketrans({"→": "->", "−": "-", "–": "-", "‘": "'", "’": "'", "…": "...",
                        "≥": ">=", "±": "+/-"})


def aligned(head: Sequence[str], rows: Sequence[Sequence[str]], words: int = 1) -> list[str]:
    """Return a table as lines: the first ``words`` columns to the left, the others to the right."""
    cells = [[plain(c) for c in row] for row in (head, *rows)]
    widths = [max(len(row[k]) for row in cells) for k in range(len(head))]
    lines = ["  ".join(c.ljust(w) if k < words else c.rjust(w)
                       for k, (c, w) in enumerate(zip(row, widths, strict=True))).rstrip()
             for row in cells]
    return [lines[0], "-" * (sum(widths) + 2 * (len(widths) - 1)), *lines[1:]]


def plain(text: str) -> str:
    """Return a text with the signs of a plain terminal."""
    return text.translate(_ASCII)


def wrapped(text: str, width: int, indent: str = "") -> list[str]:
    """Return a text in lines of a width; a number stays on the line of its unit."""
    lines = textwrap.wrap(_NUMBER_UNIT.sub("\N{NO-BREAK SPACE}", plain(text)), max(width, 40),
                          initial_indent=indent, subsequent_indent=indent + "  " if indent else "")
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]


def cautions(width: int) -> list[str]:
    """Return the cautions that end every table."""
    return wrapped("Cautions: " + " ".join(CAUTIONS), width)


def percent(value: float | None) -> str:
    """Return a percentage as a cell, as in the sentences."""
    return plain(percent_text(value))

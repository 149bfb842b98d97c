"""Read a measured pressure map: a grid of numbers as CSV."""

from __future__ import annotations

import csv
import math
from pathlib import Path

import numpy as np

from ..errors import InputError

LARGEST_BYTES, MOST_CELLS = 20_000_000, 500_000
FEWEST_ROWS, FEWEST_COLUMNS = 6, 3
KEY = "measured_pressure.file"
EMPTY = ("", "nan", "-")
"""Cells that were not measured, in lower case."""


def read_grid(path: Path, key: str = KEY) -> np.ndarray:
    """Return the grid (rows, columns) of a CSV file; cells without a value are nan.

    Commas, semicolons, tabs or blanks part the cells; lines that begin with ``#`` are passed over.

    Raises
    ------
    InputError
        For a file that cannot be read, has no grid, rows of different length, or cells that are no
        finite number of zero or more.
    """
    lines = [(number, line) for number, line in enumerate(_text(path, key).splitlines(), 1)
             if line.strip() and not line.lstrip().startswith("#")]
    if not lines:
        raise InputError("the file holds no numbers", file=str(path), key=key, value="an empty file",
                         allowed="a grid of pressures in kPa", hint="export the pressure map as CSV")
    mark = next((m for m in ";\t," if any(m in line for _, line in lines)), " ")
    rows = [[_number(cell, path, key, number, column, mark)
             for column, cell in enumerate(cells, 1)] for number, cells in (
        (number, next(csv.reader([line.strip(" ")], delimiter=mark, skipinitialspace=True)))
        for number, line in lines)]
    widths = [len(row) for row in rows]
    if len(set(widths)) > 1:
        odd = next(i for i, width in enumerate(widths) if width != widths[0])
        raise InputError("the rows of the grid have different lengths", file=str(path), key=key,
                         value=f"line {lines[odd][0]}: {widths[odd]} cells, line {lines[0][0]}: "
                               f"{widths[0]}",
                         allowed="the same number of cells in each line",
                         hint="leave out headings and totals; begin other lines with #")
    if len(rows) < FEWEST_ROWS or widths[0] < FEWEST_COLUMNS or len(rows) * widths[0] > MOST_CELLS:
        raise InputError("this is no pressure map", file=str(path), key=key,
                         value=f"{len(rows)} rows of {widths[0]} cells",
                         allowed=f"at least {FEWEST_ROWS} rows of {FEWEST_COLUMNS}, at most "
                                 f"{MOST_CELLS} cells",
                         hint="give the whole grid, one line per row of cells")
    return np.array(rows)


def _text(path: Path, key: str) -> str:
    try:
        with open(path, "rb") as handle:
            data = handle.read(LARGEST_BYTES + 1)
    except OSError as problem:
        words = ("there is no such file" if isinstance(problem, FileNotFoundError)
                 else f"the file cannot be read ({problem.strerror})")
        raise InputError(words, file=str(path), key=key, value=path.name,
                         allowed="a CSV file, its path from the case file's folder",
                         hint="check the path") from None
    if len(data) > LARGEST_BYTES:
        raise InputError("the file is too large for a pressure map", file=str(path), key=key,
                         value=path.name, allowed=f"up to {LARGEST_BYTES // 1_000_000} MB",
                         hint="export one instant, not the whole recording")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("the file is not text", file=str(path), key=key, value=path.name,
                         allowed="CSV in UTF-8", hint="export the pressure map as CSV") from None


def _number(cell: str, path: Path, key: str, line: int, column: int, mark: str) -> float:
    text = cell.strip()
    if text.lower() in EMPTY:
        return math.nan
    try:
        value = float(text.replace(",", ".") if mark == ";" else text)
    except ValueError:
        value = None
    where = f"line {line}, cell {column}: {text[:40]}"
    if value is None or not math.isfinite(value):
        raise InputError("a cell of the grid is not a number", file=str(path), key=key, value=where,
                         allowed="numbers, or nothing where nothing was measured",
                         hint="leave out headings and units; begin other lines with #")
    if value < 0:
        raise InputError("a pressure is negative", file=str(path), key=key, value=where,
                         allowed="zero or more", hint="take the offset of the unloaded plate away")
    return value

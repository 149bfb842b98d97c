"""The file of a force plate: named columns of numbers, or one clear error."""

from __future__ import annotations

import csv
import io
import math
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..errors import InputError, nearest

LARGEST_BYTES = 20_000_000
MOST_ROWS = 200_000
DELIMITERS = ",;\t"


@dataclass(frozen=True)
class Column:
    """One column: its name, whether it must be there, whether cells may be empty, what it holds."""

    name: str
    needed: bool
    may_be_empty: bool
    doc: str


COLUMNS = (
    Column("time_s", True, False, "time, rising from row to row"),
    Column("vertical_N", True, False, "force of the ground on the foot, upwards positive"),
    Column("fore_aft_N", True, False, "the same, forwards positive: braking negative"),
    Column("pressure_centre_mm", False, True, "centre of pressure from the back of the heel"),
    Column("pressure_centre_percent", False, True,
           "or the same in percent of foot length; one of the two is needed"),
    Column("shank_angle_degrees", False, True,
           "may be left out: lean of the shank, forwards positive, else 0"),
    Column("medial_lateral_N", False, True, "may be left out, and is not used"),
    Column("pressure_centre_lateral_mm", False, True,
           "may be left out, and is not used: across the foot, the centre of pressure falls where "
           "foot and device let it"),
)
"""What a file can hold; other columns are passed over."""


@dataclass(frozen=True)
class Plate:
    """The columns of a file, each (n,), empty cells nan, and the line (n,) each row stands on."""

    file: str
    columns: dict[str, np.ndarray]
    line: np.ndarray

    def refuse(self, problem: str, key: str, row: int | None = None, **details) -> InputError:
        """Return the error for a column, and for one of its rows."""
        where = key if row is None else f"line {self.line[row]}, {key}"
        return InputError(problem, file=self.file, key=where, **details)


def read_plate(path: Path) -> Plate:
    """Read a file: a head line with the names of `COLUMNS`, then numbers; lines with # are notes.

    Cells are parted by commas, semicolons or tabs, as the head line is.

    Raises
    ------
    InputError
        For a file that cannot be read, a missing column, or a cell that is no number.
    """
    lines = [(number, text) for number, text in enumerate(_text(path).splitlines(), start=1)
             if text.strip() and not text.lstrip().startswith("#")]
    if not lines:
        raise InputError("the force-plate file is empty", file=str(path),
                         hint="export the step with a head line and one row per time")
    if len(lines) - 1 > MOST_ROWS:
        raise InputError("the force-plate file has too many rows", file=str(path),
                         value=len(lines) - 1, allowed=f"up to {MOST_ROWS}",
                         hint="cut out one step, or keep every tenth row")
    head = lines[0][1]
    delimiter = max(DELIMITERS, key=head.count)
    names = [name.strip() for name in next(csv.reader([head], delimiter=delimiter))]
    wanted = _wanted(names, str(path))
    if len(lines) == 1:
        raise InputError("the force-plate file has no rows under its head line", file=str(path),
                         hint="export the numbers too")
    table = np.array([
        _row(next(csv.reader(io.StringIO(text), delimiter=delimiter)), number, wanted, names, str(path))
        for number, text in lines[1:]])
    return Plate(str(path), {c.name: table[:, i] for i, c in enumerate(wanted)},
                 np.array([number for number, _ in lines[1:]]))


def _text(path: Path) -> str:
    try:
        with path.open("rb") as stream:
            data = stream.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise InputError("there is no such force-plate file", file=str(path),
                         hint="give its path from the folder of the case file") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"the force-plate file cannot be read ({reason})", file=str(path)) from None
    if len(data) > LARGEST_BYTES:
        raise InputError("the force-plate file is too large", file=str(path),
                         allowed=f"up to {LARGEST_BYTES} bytes", hint="cut out one step")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise InputError("the force-plate file is not UTF-8 text", file=str(path),
                         hint="export it as CSV") from None


def _wanted(names: list[str], file: str) -> list[Column]:
    """Return the known columns that the file has."""
    found = [c for c in COLUMNS if c.name in names]
    have = {c.name for c in found}
    missing = [c.name for c in COLUMNS if c.needed and c.name not in have]
    if not missing and not {"pressure_centre_mm", "pressure_centre_percent"} & have:
        missing = ["pressure_centre_mm"]
    if missing:
        close = nearest(missing[0], names)
        raise InputError(
            "a column is missing", file=file, key=missing[0], value=", ".join(names),
            allowed=", ".join(c.name for c in COLUMNS),
            hint=f"rename {close!r}" if close else "add it, or rename yours")
    for column in found:
        if names.count(column.name) > 1:
            raise InputError("two columns have this name", file=file, key=column.name,
                             hint="leave one out")
    if {"pressure_centre_mm", "pressure_centre_percent"} <= have:
        raise InputError("the centre of pressure is given twice", file=file,
                         key="pressure_centre_percent", hint="leave out one of the two columns")
    return found


def _row(cells, number, wanted, names, file) -> list[float]:
    if len(cells) != len(names):
        raise InputError("this line has another number of cells than the head line", file=file,
                         key=f"line {number}", value=len(cells), allowed=str(len(names)),
                         hint="write decimal points, and one delimiter between two cells")
    return [_number(cells[names.index(c.name)].strip(), number, c, file) for c in wanted]


def _number(text, number, column, file) -> float:
    if column.may_be_empty and text.lower() in ("", "nan"):
        return math.nan
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value):
        raise InputError("a number is needed here", file=file, key=f"line {number}, {column.name}",
                         value=text, hint="write a plain number with a decimal point")
    return value

"""Which designs of a study answer the question best, and what each costs elsewhere."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ..case.address import address
from ..case.studies import Limit
from ..case.tissues import TISSUES
from ..case.values import Case
from ..outcome.comparison import NEUTRAL, SMALL, WORSE_PERCENT
from .compare import BAREFOOT
from .space import varied_device
from .sweep import REFERENCE, Line, Swept

END_SHARE = 0.02
"""A value of a range without steps lies at its end when it is so near, as a share of the range."""


def leading_key(case: Case) -> tuple[str, str]:
    """Return the measure that the study is about: the first one of the target tissue."""
    return case.target, TISSUES[case.target].quantities[0]


def shown_instant(swept: Swept) -> float | None:
    """Return the instant of stance that loads the target most without a device.

    None where the instant is varied: then every design is shown at its own.
    """
    if any(entry.of == "activity.at" for entry in swept.case.studies.sweep.vary):
        return None
    key = leading_key(swept.case)
    bare = {line.stance_percent: abs(line.base.values.get(key, 0.0)) for line in swept.lines}
    return max(bare, key=bare.get)


def ranked(lines: Sequence[Line], key: tuple[str, str]) -> list[Line]:
    """Return the lines with a comparison, the largest fall of the measure first."""
    known = [line for line in lines if line.failure is None and line.change_percent(key) is not None]
    return sorted(known, key=lambda line: (line.change_percent(key), line.design))


def rises(line: Line) -> list[tuple[str, str, float]]:
    """Return what rises by more than 5 % with a design: (tissue, quantity, percent), largest first.

    The rules are those of the comparison; a rise from nothing is given as infinity.
    """
    found = []
    for key, value in line.row.values.items():
        base = line.base.values.get(key)
        if base is None or key[1] in NEUTRAL or (key[1] == "stretch_percent" and value < base):
            continue
        change = line.change_percent(key)
        if abs(value) - abs(base) > SMALL.get(key[1], 0.0) and (
                change is None or change > WORSE_PERCENT):
            found.append((*key, math.inf if change is None else change))
    return sorted(found, key=lambda entry: -entry[2])


def worst_rise_percent(line: Line, target: str) -> float:
    """Return the largest rise outside the target among published burdens, percent; 0 for none.

    A rise from nothing counts as a doubling.
    """
    found = [100.0 if math.isinf(p) else p for t, _, p in rises(line) if t != target]
    return max(found, default=0.0)


def front(lines: Sequence[Line], key: tuple[str, str], cost) -> list[Line]:
    """Return the lines that no other line beats in both change of the measure and cost.

    Parameters
    ----------
    cost : callable of a Line
        What the relief is paid with; less is better.
    """
    best, out = math.inf, []
    for line in sorted(ranked(lines, key), key=lambda x: (x.change_percent(key), cost(x))):
        if cost(line) < best:
            best = cost(line)
            out.append(line)
    return out


def excess(line: Line, limit: Limit) -> float | None:
    """Return by how much a design breaks a limit, as a share of it; zero or less keeps it.

    None where the measure is not known.
    """
    key = limit.tissue, limit.quantity
    value, base = line.row.values.get(key), line.base.values.get(key)
    if value is None:
        return None
    if limit.most is not None:
        return (abs(value) - limit.most) / max(abs(limit.most), 1e-9)
    if base is None:
        return None
    allowed = abs(base) * (1.0 + limit.rise_percent / 100.0)
    return (abs(value) - allowed) / max(allowed, 1e-9)


def ends_reached(swept: Swept, line: Line) -> list[str]:
    """Return the varied values of the device that a design has at the end of their range or list.

    Values that the case file could not take any further are left out, and words.
    """
    case, device = swept.case, varied_device(swept.case)
    out = []
    for entry in case.studies.sweep.vary:
        value, known = line.varied.get(entry.name), entry.values()
        if device is None or not isinstance(value, int | float):
            continue
        at = address(entry.of, case, device)
        numbers = [v for v in known or (entry.low, entry.high) if not isinstance(v, str)]
        low, high = min(numbers), max(numbers)
        near = 1e-9 if known else END_SHARE * (high - low)
        if at.of_device and low < high and (
                (value <= low + near and low > at.key.low)
                or (value >= high - near and high < at.key.high)):
            out.append(entry.name)
    return out


def designs_only(swept: Swept, stance_percent: float | None) -> list[Line]:
    """Return the varied designs' lines with a device at one instant; None: at every one."""
    return [line for line in swept.lines
            if line.design != REFERENCE and stance_percent in (None, line.stance_percent)
            and line.condition != BAREFOOT]

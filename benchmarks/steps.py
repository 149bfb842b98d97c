"""How far the answers of the shipped section cases move with the steps in which the load is put on.

Contact that does not slip remembers how it was loaded, so that another way to the same load ends in
another state. Five ways: first steps of a quarter (as shipped), of everything, a half and a tenth of
the load, and quarters in equilibrium to a thousandth instead of a hundredth of the force.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from unittest.mock import patch

from fefoot.study import solve
from fefoot.study.parallel import carried_out, processes_for

from .studies import files, target_values

WAYS = {"quarter": (0.25, 1e-2), "whole": (1.0, 1e-2), "half": (0.5, 1e-2), "tenth": (0.1, 1e-2),
        "tight": (0.25, 1e-3)}
"""First step and tolerance of the steps on the way."""
SHIPPED = "quarter"
HEAD = (f"| case | condition | measure | {' | '.join(WAYS)} | largest change [%] |\n"
        f"|{'---|' * (len(WAYS) + 4)}")


@contextmanager
def loaded(way: str):
    """Load every section in the steps of a way; a failure is not tried in smaller ones."""
    first, tolerance = WAYS[way]
    settings = {model: replace(given, step_tolerance=tolerance)
                for model, given in solve.SETTINGS.items()}
    with patch.object(solve, "FIRST_STEPS", (first,)), patch.object(solve, "SETTINGS", settings):
        yield


def _values(job, tell):
    file, way = job
    with loaded(way):
        return target_values(file, tell)


def moved_percent(values: dict[str, float]) -> float:
    """Return the largest change against the shipped way, nan where no other way gave a number."""
    base = values[SHIPPED]
    return max((100.0 * abs(v / base - 1.0) for way, v in values.items()
                if way != SHIPPED and math.isfinite(v)), default=math.nan)


def steps_lines() -> Iterator[str]:
    """Yield the lines of the table."""
    yield f"\n{' '.join(__doc__.split())}\n\n{HEAD}"
    names = files()
    found = carried_out(_values, [(file, way) for file in names for way in WAYS],
                        lambda event: None, processes_for(len(names) * len(WAYS)))
    for number, file in enumerate(names):
        solved = found[number * len(WAYS):(number + 1) * len(WAYS)]
        for condition in solved[0][1]:
            values = {way: v[condition] for way, (_, v) in zip(WAYS, solved, strict=True)}
            cells = " | ".join(f"{v:.4g}" if math.isfinite(v) else "no equilibrium"
                               for v in values.values())
            yield (f"| {file.removesuffix('.toml')} | {condition} | {solved[0][0]} | {cells} "
                   f"| {moved_percent(values):.1f} |")

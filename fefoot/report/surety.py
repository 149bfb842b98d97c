"""How sure the answer is: what was checked, and what is known of the model's own errors."""

from __future__ import annotations

from ..case.values import Case
from ..outcome.values import Comparison, Row
from .tables import check_sentence

MESH_PERCENT, PENALTY_PERCENT = 5.0, 0.8
"""By how much the target measures of the sections move with a finer mesh, and with a doubled contact
penalty (benchmarks/RESULTS.md: studies of the shipped cases)."""
STEPS_PERCENT = {"sagittal": 5.0, "rearfoot": 12.0}
"""... and with the steps in which the load is put on: rough contact remembers them (measured; see the
limits in the README)."""


def surety(case: Case, shown: Comparison, row: Row | None) -> str:
    """Return what is known of the certainty of an answer, in two or three sentences."""
    parts = [check_sentence(shown.outcomes)]
    if case.model == "foot3d":
        parts.append("How far the numbers of the whole foot move with its mesh has not been "
                     "established, and they have not been compared with measurements.")
    else:
        parts.append(f"In the shipped cases a finer mesh moves such measures by up to "
                     f"{MESH_PERCENT:g} %, a doubled contact penalty by up to {PENALTY_PERCENT:g} %, "
                     f"other load steps by up to {STEPS_PERCENT[case.model]:g} %.")
        if _close(shown, row, max(MESH_PERCENT, STEPS_PERCENT[case.model])):
            parts.append("The best devices differ by less than that: take them as equal.")
    parts.append("How the answer changes over published tissue properties is not part of this page: "
                 "fefoot certainty computes it.")
    return " ".join(part for part in parts if part)


def _close(shown: Comparison, row: Row | None, band_percent: float) -> bool:
    """Say whether the best condition and the next one lie within the model's own band."""
    values = sorted(abs(v) for v in row.values if v is not None) if row is not None else []
    return (shown.best is not None and len(values) > 1
            and values[1] - values[0] < 0.01 * band_percent * values[1])

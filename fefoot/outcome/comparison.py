"""Put the outcomes of one instant side by side."""

from __future__ import annotations

import math

from .values import Comparison, Outcome, Row

WORSE_PERCENT = 5.0
NOTHING = 0.05
"""A value below this size, in its unit, is no base for a percentage."""
NEUTRAL = {"load_share_percent", "rotation_degrees", "navicular_drop_mm",
           "pressure_centre_percent", "pressure_centre_mm"}
"""Quantities that are neither better nor worse by themselves."""
SMALL = {"tension_N": 5.0, "force_N": 5.0, "moment_Nm": 0.1, "peak_pressure_kPa": 5.0,
         "mean_pressure_kPa": 5.0, "strain_energy_density_kPa": 0.05, "bending_stress_MPa": 0.5,
         "stretch_percent": 0.05, "compression_percent": 1.0}
"""Changes below these sizes, in the quantity's unit, are not reported as worse."""


def change_percent(value: float | None, base: float | None) -> float | None:
    """Return the change in size against ``base``, percent; None without both."""
    if value is None or base is None or abs(base) < NOTHING:
        return None
    return 100.0 * (abs(value) - abs(base)) / abs(base)


def compare_outcomes(outcomes: tuple[Outcome, ...], target: str) -> Comparison:
    """Return the comparison of conditions solved at one instant; the first is the reference."""
    keys = list(dict.fromkeys(m.key for o in outcomes for m in o.measures))
    tissues = list(dict.fromkeys([target, *(tissue for tissue, _ in keys)]))
    keys.sort(key=lambda key: tissues.index(key[0]))
    known = {m.key: m for o in outcomes for m in o.measures}
    rows = []
    for key in keys:
        values = tuple(o.value(*key) for o in outcomes)
        rows.append(Row(
            *key, values, tuple(change_percent(v, values[0]) for v in values),
            known[key].strength, known[key].strength_source))
    rows = tuple(rows)
    shares = {}
    for measure in outcomes[0].measures:
        if measure.share_percent is not None:
            shares[measure.tissue] = max(shares.get(measure.tissue, 0.0), measure.share_percent)
    return Comparison(
        outcomes[0].stance_percent, outcomes, rows,
        tuple(sorted(shares, key=lambda tissue: -shares[tissue])),
        _best(outcomes, rows, target), _worse(outcomes, rows))


def _best(outcomes, rows, target) -> str | None:
    """Condition that lowers the target's first measure most, by more than a percent."""
    row = next((r for r in rows if r.tissue == target), None)
    if row is None:
        return None
    falls = [(change, outcome.name) for change, outcome in zip(
        row.changes_percent[1:], outcomes[1:], strict=True) if change is not None]
    lowest = min(falls, default=(0.0, None))
    return lowest[1] if lowest[0] < -1.0 else None


def _worse(outcomes, rows):
    out = []
    for number, outcome in enumerate(outcomes[1:], start=1):
        found = []
        for row in rows:
            change, value, base = (row.changes_percent[number], row.values[number],
                                   row.values[0])
            if row.quantity in NEUTRAL or value is None or base is None:
                continue
            if row.quantity == "stretch_percent" and value < base:
                continue
            rise = abs(value) - abs(base)
            if rise > SMALL.get(row.quantity, 0.0) and (
                    change is None or change > WORSE_PERCENT):
                found.append((outcome.name, row.tissue, row.quantity,
                              math.inf if change is None else change))
        out += sorted(found, key=lambda entry: -entry[3])
    return tuple(out)

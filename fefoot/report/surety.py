"""How sure the answer is: what was checked, and what is known of the model's own errors."""

from __future__ import annotations

from dataclasses import dataclass

from ..case.values import Case
from ..outcome.values import Comparison, Row
from .tables import check_sentence
from .wording import labels, tissue_title


@dataclass(frozen=True)
class Known:
    """By how many percent the target measures of shipped cases moved, at most.

    With meshes of 4 to 8 mm, with a doubled contact penalty, and with the steps in which the load is
    put on (benchmarks/RESULTS.md: studies of the shipped cases, steps of the load).
    """

    mesh: float
    penalty: float
    steps: float


KNOWN = {("sagittal", "tension_N"): Known(1.0, 1.1, 2.0),
         ("sagittal", "peak_pressure_kPa"): Known(8.0, 0.5, 11.0),
         ("rearfoot", "moment_Nm"): Known(4.0, 1.1, 6.0)}
PRESSURE = "peak_pressure_kPa"
FINER = {
    "tension_N": {
        2.0: ("achilles", "tibialis_posterior", "peroneus_longus", "plantar_fascia_2"),
        3.0: ("plantar_fascia", "plantar_fascia_1", "plantar_fascia_3", "long_plantar_ligament"),
        4.0: ("short_plantar_ligament",), 9.0: ("spring_ligament",)},
    PRESSURE: {
        10.0: ("metatarsal_pad_2", "metatarsal_pad_3"), 12.0: ("heel_pad",),
        14.0: ("metatarsal_pad_4",), 16.0: ("metatarsal_pad", "metatarsal_pad_1"),
        18.0: ("shaft_sole",), 22.0: ("metatarsal_pad_5",), 30.0: ("midfoot_sole",),
        37.0: ("toe_pads",)},
    "moment_Nm": {1.0: ("ankle_joint",), 8.0: ("subtalar_joint",)},
    "bending_stress_MPa": {
        7.0: ("metatarsal_shaft_5",),
        20.0: ("metatarsal_shaft_1", "metatarsal_shaft_2", "metatarsal_shaft_3",
               "metatarsal_shaft_4")}}
"""Measures of the whole foot, by how many percent they moved at most from the coarse to a finer mesh
(benchmarks/RESULTS.md: studies of the whole-foot cases)."""
WHOLE_FOOT_PENALTY = 0.3
"""... and a doubled contact penalty the targets."""


def surety(case: Case, shown: Comparison, row: Row | None) -> str:
    """Return what is known of the certainty of an answer, in a few sentences."""
    parts = [check_sentence(shown.outcomes)]
    if row is None or all(value is None for value in row.values):
        return parts[0]
    parts += _beyond_the_law(case, shown)
    parts += _grown(shown)
    known = KNOWN.get((case.model, row.quantity))
    if case.model == "foot3d":
        percent = _finer_percent(row)
        moved = ("In the shipped cases this measure was not compared on a finer mesh" if percent is None
                 else f"In the shipped cases this measure moved by up to {percent:g} % from the coarse "
                 "to a finer mesh")
        parts.append(f"{moved}; a doubled contact penalty moved the targets there by up to "
                     f"{WHOLE_FOOT_PENALTY:g} %, a finer mesh peak pressures under the midfoot, the "
                     f"toes and the lateral heads by up to {max(FINER[PRESSURE]):g} %. Other devices "
                     "have not been studied, nor other steps of the load.")
        parts += _equal(shown, row, percent or 0.0)
        parts.append("Of the published findings tried on the whole foot more than half are met.")
    elif known is None:
        parts.append("How far this measure moves with the mesh and the steps of the load has not been "
                     "studied.")
    else:
        parts.append(f"In the shipped cases another mesh moved such measures by up to {known.mesh:g} "
                     f"%, a doubled contact penalty by up to {known.penalty:g} %, other steps of the "
                     f"load by up to {known.steps:g} %.")
        if row.quantity == PRESSURE:
            parts.append("Pressures beside the target, where little load lies, can move by tens of "
                         "percent.")
        parts += _equal(shown, row, max(known.mesh, known.steps))
    parts.append("How the answer changes over published tissue properties is not part of this page: "
                 "fefoot certainty computes it.")
    return " ".join(parts)


def _finer_percent(row: Row) -> float | None:
    """Return by how many percent a finer mesh of the whole foot moved a measure; None where unknown."""
    bands = FINER.get(row.quantity, {})
    return next((percent for percent, tissues in bands.items() if row.tissue in tissues), None)


def _equal(shown: Comparison, row: Row, band_percent: float) -> list[str]:
    """Say where the best devices differ by less than what the model's own errors move."""
    close = _close(shown, row, band_percent)
    return ["The best devices differ by less than that: take them as equal."] if close else []


def _close(shown: Comparison, row: Row, band_percent: float) -> bool:
    """Say whether the best condition and the next one lie within the model's own band."""
    values = sorted(abs(v) for v in row.values if v is not None)
    return (shown.best is not None and len(values) > 1
            and values[1] - values[0] < 0.01 * band_percent * values[1])


def _grown(shown: Comparison) -> list[str]:
    """Say which conditions were solved by growth, and how far that moved others (DEVELOPERS.md)."""
    names = zip(labels(shown.outcomes), shown.outcomes, strict=True)
    grown = [name for name, outcome in names
             if outcome.failure is None and outcome.cost.get("grown_from", 1.0) < 1.0]
    if not grown:
        return []
    return [f"Grown under the load, since it could not be loaded as it is: {', '.join(grown)}. It "
            "compares only roughly with conditions that were loaded at once: on two devices that were "
            "solved both ways, tensions of fascia and tendons differed by up to 4 %, of a ligament by "
            "9 %, the subtalar moment by 13 %, peak pressures by 22 %, the bending of a metatarsal by "
            "30 %."]


def _beyond_the_law(case: Case, shown: Comparison) -> list[str]:
    """Say which pads are pressed further than the law of their tissue holds."""
    lowest = case.material(case.person.plantar_tissue).stretch_range[0]
    limit = 100.0 * (1.0 - lowest)
    most: dict[str, float] = {}
    for row in shown.rows:
        if row.quantity == "compression_percent":
            pressed = max((v for v in row.values if v is not None), default=0.0)
            if pressed > limit:
                most[row.tissue] = pressed
    if not most:
        return []
    named = ", ".join(f"{tissue_title(tissue)} {pressed:.0f} %" for tissue, pressed in most.items())
    return [f"Pressed together by more than the {limit:.0f} % that the law of soft tissue is meant "
            f"for: {named}; these numbers are extrapolated."]

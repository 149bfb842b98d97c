"""The findings of the whole foot: rows of made-up solves, and what the committed table says."""

import math
from pathlib import Path

import pytest

from benchmarks import whole_foot_findings as findings
from benchmarks.findings.record import MET, MISSED, UNSOLVED
from fefoot.study.engine import Row

TEXT = (Path(__file__).parents[2] / "benchmarks" / "RESULTS.md").read_text(encoding="utf-8")


def row(name, values):
    return Row(name, None, values, {}, {})


@pytest.fixture(scope="module")
def names():
    return list(findings.runs())


def test_without_a_solve_there_is_no_number(names):
    rows = findings.studies(dict.fromkeys(names))
    solved = [r for study, found in rows.items() if study != "3D moment arms" for r in found]
    assert len(solved) >= 20 and all(r.status == UNSOLVED for r in solved)


def test_values_come_from_their_solve(names):
    known = {name: row(name, {}) for name in names}
    known["standing"] = row("standing", {
        ("heel_pad", "load_share_percent"): 60.0, ("midfoot_sole", "load_share_percent"): 5.0,
        ("shaft_sole", "load_share_percent"): 3.0, ("whole_foot", "navicular_drop_mm"): 9.0,
        ("achilles", "tension_N"): 0.75 * 0.5 * findings.WEIGHT_N})
    ours = {r.quantity: r for r in findings.studies(known)["3D standing"]}
    assert ours["share of the load, heel [%]"].status == MET
    assert ours["share of the load, midfoot [%]"].ours == pytest.approx(8.0)
    assert ours["navicular drop in standing [mm]"].status == MISSED
    assert ours["Achilles force over the force on the foot"].ours == pytest.approx(0.75)
    assert ours["peak pressure, heel [kPa]"].status == UNSOLVED


def test_changes_have_their_sign(names):
    known = {name: row(name, {}) for name in names}
    for name, slip in (("plain", 100.0), ("lateral_wedge", 90.0), ("medial_wedge", 95.0)):
        known[f"wedge {name}"] = row(name, {
            ("plantar_fascia_1", "tension_N"): slip, ("plantar_fascia", "tension_N"): 3 * slip})
    rows = [r for r in findings.studies(known)["3D devices"] if "slip to the hallux" in r.quantity]
    assert [r.status for r in rows] == [MET, MISSED]
    assert [r.ours for r in rows] == pytest.approx([-10.0, -5.0])


def test_slips_of_the_fascia_in_order(names):
    known = {name: row(name, {}) for name in names}
    push = f"walking {findings.PEAK:g}"
    for tensions, steps in (((5, 4, 3, 2, 1), 4.0), ((5, 4, 6, 2, 1), 3.0)):
        known[push] = row(push, {(f"plantar_fascia_{ray}", "tension_N"): float(tension)
                                 for ray, tension in enumerate(tensions, start=1)})
        (found,) = [r for r in findings.studies(known)["3D walking"] if "from slip" in r.quantity]
        assert found.ours == steps and (found.status == MET) == (steps == 4.0)


def test_committed_rows_are_those_of_today(names):
    """The moment arms are computed again; of the others the committed rows are the same ones."""
    rows = findings.studies(dict.fromkeys(names))
    for study, found in rows.items():
        for r in found:
            start = f"| {study} | {r.quantity} | {r.published} | {r.accepted} |"
            assert start in TEXT, start
    for r in rows["3D moment arms"]:
        status = r.status if r.within else f"**{r.status}**"
        assert f"| {r.accepted} | {r.ours:.4g} | {status} |" in TEXT


def test_no_committed_row_is_without_a_number():
    lines = [text for text in TEXT.splitlines() if text.startswith("| 3D ")]
    assert lines and not [text for text in lines if UNSOLVED in text or " nan " in text]
    assert math.isfinite(sum(float(text.split(" | ")[4]) for text in lines))

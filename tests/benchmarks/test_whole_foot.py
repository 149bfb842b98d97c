"""The studies of the whole-foot cases from rows that are made up."""

import math

import pytest

from benchmarks import whole_foot
from benchmarks.whole_foot import (
    COARSE,
    FINE,
    MIDDLE,
    SETTINGS,
    case_studies,
    cell_sizes,
    conditions,
    moved_most,
    whole_foot_lines,
)
from fefoot.study.choice import leading_key
from fefoot.study.engine import Row

SIZES = 1.378, 1.192, 1.0
COST = {"factorisations": 30.0, "seconds": 100.0, "factor_seconds": 60.0, "unknowns": 50_000.0,
        "grown_from": 1.0}


def row(values, failure=None):
    return Row("key", failure, values, {}, dict(COST))


def made_up(order=2.0):
    """A bare foot at 10 (1 + h^order / 100), devices at half of that, 1 % more with a stiff contact."""
    size = dict(zip((COARSE, MIDDLE, FINE), SIZES, strict=True))
    known = {}
    for name, condition, case, device in conditions():
        for mesh, factor in SETTINGS:
            value = 10.0 * (1.0 + 0.01 * size[mesh]**order) * (0.5 if device else 1.0)
            value *= 1.01 if factor == 2.0 else 1.0
            known[name, condition, mesh, factor] = row({
                leading_key(case): value, ("achilles", "tension_N"): 100.0,
                ("spring_ligament", "tension_N"): 50.0 * size[mesh] ** 0.1,
                ("peroneus_longus", "tension_N"): 5.0 * size[mesh],
                ("heel_pad", "peak_pressure_kPa"): 200.0 * size[mesh]})
    return known


def test_order_limit_and_penalty_of_unequal_meshes():
    rows = list(case_studies(made_up(), SIZES))
    assert len(rows) == len(list(conditions())) >= 12
    for study in rows:
        assert study.value.order == pytest.approx(2.0, rel=1e-6)
        assert study.value.limit == pytest.approx(10.0 if study.condition == "barefoot" else 5.0)
        assert study.value_percent == pytest.approx(100 * 0.01 * SIZES[0]**2 / (1 + 0.01 * SIZES[0]**2))
        assert study.penalty_percent == pytest.approx(1.0)


def test_what_moves_most_leaves_out_slack_cables():
    known = made_up()
    name, condition, *_ = next(conditions())
    coarse, fine = (known[name, condition, size, 1.0].values for size in (COARSE, FINE))
    coarse = {key: v for key, v in coarse.items() if key[0] != "plantar_fascia"}
    cable, percent = moved_most(coarse, fine, "tension_N")
    assert cable == "spring_ligament" and percent == pytest.approx(100 * (SIZES[0]**0.1 - 1))
    assert moved_most(coarse, fine, "peak_pressure_kPa")[1] == pytest.approx(37.8)


def test_what_failed_or_is_missing_is_said(monkeypatch):
    known = made_up()
    first, second, third, *_ = conditions()
    known[*first[:2], FINE, 1.0] = None
    known[*second[:2], COARSE, 1.0] = row({}, "not converged: made up")
    known[*third[:2], FINE, 1.0].cost["grown_from"] = 0.5
    monkeypatch.setattr(whole_foot, "known_rows", lambda compute: known)
    studies = {(s.case, s.condition): s for s in case_studies(known, SIZES)}
    assert math.isnan(studies[first[:2]].value.band) and math.isnan(studies[second[:2]].value.band)
    text = "\n".join(whole_foot_lines())
    assert f"| {first[0]} | {first[1]} | fine | | | | | | | not computed |" in text
    assert f"| {first[0]} | {first[1]} | middle | spring_ligament | +1.5 |" in text
    grew = [line for line in text.splitlines() if line.endswith("finer by growth |")]
    assert len(grew) == 1 and grew[0].startswith(f"| {third[0]} | {third[1]} | fine |")
    for mesh in ("middle", "fine"):
        assert (f"| {second[0]} | {second[1]} | {mesh} | | | | | | "
                "| **no equilibrium**: not converged: made up |") in text
    assert "| moment_Nm |" not in text
    others = 2 * len(list(conditions())) - 3
    assert f"| peak_pressure_kPa | heel_pad | {others} | +37.8 | fine |" in text
    assert "a solve failed or is missing" in text and "1 of the 48 solves have not been made" in text


def test_what_the_meshes_cost(monkeypatch):
    """Twice the unknowns at four times the time per factorisation: as their square."""
    known = made_up()
    for (*_, mesh, _), kept in known.items():
        if mesh == FINE:
            kept.cost.update(unknowns=100_000.0, factor_seconds=240.0, seconds=300.0)
    monkeypatch.setattr(whole_foot, "known_rows", lambda compute: known)
    text = "\n".join(whole_foot_lines())
    assert ("| coarse | with a device | 9 | 50000 | 30 (30 to 30) | 2 (2 to 2) | 100 (100 to 100) "
            "| 1.67 (1.67 to 1.67) |") in text
    assert "| fine | barefoot | 3 | 100000 |" in text and "| 1.25 (1.25 to 1.25) |" in text
    assert "one factorisation as unknowns^2.00, the solve as unknowns^1.58." in text


def test_sizes_are_those_of_the_committed_meshes():
    coarse, middle, fine = cell_sizes()
    assert coarse == pytest.approx(1.38, abs=0.03) and middle == pytest.approx(1.19, abs=0.03)
    assert fine == 1.0

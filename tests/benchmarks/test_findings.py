"""The model still meets, and misses, the published findings that the committed table says it does."""

import math
from pathlib import Path

import pytest

from benchmarks.findings import FINDINGS
from benchmarks.findings.lines import committed, line
from benchmarks.findings.record import CALIBRATION, MET, Finding, near

RESULTS = Path(__file__).parents[2] / "benchmarks" / "RESULTS.md"


@pytest.fixture(scope="module")
def table():
    return committed(RESULTS.read_text(encoding="utf-8"))


@pytest.mark.parametrize("name", [
    pytest.param(n, marks=[pytest.mark.slow] if s.slow else []) for n, s in FINDINGS.items()])
def test_status_is_the_committed_one(name, table):
    rows = FINDINGS[name].run()
    assert rows
    assert {key for key in table if key[0] == name} == {
        (name, row.quantity, row.published) for row in rows}
    for row in rows:
        assert row.known in ("read", "recalled", "computed")
        assert row.source and row.condition and row.why
        assert row.status == table[name, row.quantity, row.published], (
            f"{row.quantity}: {row.ours:.4g}, accepted {row.accepted}; regenerate the table with "
            "python -m benchmarks --only findings --write and say in the changelog why it moved")
        if row.status == MET:
            assert row.low <= row.ours <= row.high


def test_the_table_holds_every_study(table):
    assert {key[0] for key in table} == set(FINDINGS)
    counted = [status for status in table.values() if CALIBRATION not in status]
    assert len(counted) >= 12


def finding(ours, low=1.0, high=2.0, use=""):
    return Finding("x", "1.5", low, high, ours, "source", "read", "condition", "why", "reason", use)


@pytest.mark.parametrize(("ours", "status"), [
    (1.0, "met"), (2.0, "met"), (0.999, "missed"), (2.001, "missed"),
    (math.nan, "no solution")])
def test_status_of_a_value(ours, status):
    assert finding(ours).status == status


def test_a_calibrated_row_is_marked():
    assert finding(1.5, use=CALIBRATION).status == f"met, {CALIBRATION}"


def test_the_range_round_a_negative_value_is_in_order():
    low, high = near(-20.0)
    assert (low, high) == (-25.0, -15.0)


@pytest.mark.parametrize("ours", [1.5, 3.0])
def test_a_line_is_read_back(ours):
    text = line("shares", finding(ours)).replace("shares", next(iter(FINDINGS)))
    assert committed(text) == {(next(iter(FINDINGS)), "x", "1.5"): finding(ours).status}

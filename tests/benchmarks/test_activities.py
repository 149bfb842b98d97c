"""The table of the largest forces: rows of made-up solves, and the committed one."""

from pathlib import Path

import pytest

from benchmarks import activities
from benchmarks.findings.record import MET, MISSED, UNSOLVED
from benchmarks.kept import rows_of
from fefoot.study.engine import Row

TEXT = (Path(__file__).parents[2] / "benchmarks" / "RESULTS.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def runs():
    return activities.runs()


def row(tension_N=900.0, pull_N=4500.0, press_N=7000.0, failure=None):
    return Row("key", failure, {} if failure else {
        ("plantar_fascia", "tension_N"): tension_N, ("achilles", "tension_N"): pull_N,
        ("ankle_joint", "force_N"): press_N, ("metatarsal_pad", "peak_pressure_kPa"): 300.0,
        ("whole_foot", "navicular_drop_mm"): 10.0}, {}, {"factorisations": 30.0, "seconds": 80.0})


def test_every_activity_is_asked_of_slice_and_whole_foot_at_its_peak(runs):
    peaks = {name: run.instant.vertical_bodyweights for (name, model), run in runs.items()
             if model == "foot3d"}
    assert sorted(peaks.values()) == [0.5, 1.25, 2.5, 3.0, 5.0, 8.0]
    assert len(runs) == 2 * len(peaks) and all(run.device is None for run in runs.values())


def test_a_failed_solve_has_no_number(runs):
    instant = runs["sprinting", "foot3d"].instant
    line = activities.activity_line("sprinting", "foot3d", instant, row(failure="no equilibrium"))
    assert "**failed**: no equilibrium" in line and "900" not in line and "nan" not in line
    assert "not solved yet" in activities.activity_line("sprinting", "foot3d", instant, None)
    assert "| 900 N | 4500 N | 7000 N |" in activities.activity_line(
        "sprinting", "foot3d", instant, row())


def test_published_values_beside_those_of_the_solve(runs):
    known = dict.fromkeys(runs) | {(activities.RUN, "foot3d"): row()}
    found = activities.findings(known)
    assert {r.status for r in found["running, sagittal"]} == {UNSOLVED}
    # 900, 4500 and 7000 N of 687 N: 1.31, 6.6 and 10.2 body weights; 4500 N against 2556
    assert [r.status for r in found["running, foot3d"]] == [MET, MET, MISSED, MISSED]
    assert found["running, foot3d"][0].ours == pytest.approx(900 / activities.WEIGHT_N)


def test_the_committed_table_has_every_activity(runs):
    for (name, model), run in runs.items():
        start = (f"| {name.replace('_', ' ')} | {run.instant.stance_percent:g} % of stance "
                 f"| {run.instant.vertical_bodyweights:g} body weights | {model} |")
        assert start in TEXT, start


@pytest.mark.slow
def test_the_slice_carries_the_largest_force_of_every_activity(runs, tmp_path):
    known = rows_of({key: run for key, run in runs.items() if key[1] == "sagittal"}, True,
                    folder=tmp_path)
    assert {name: known[name].failure for name in known} == dict.fromkeys(known)


def test_the_page_warns_of_a_force_beyond_those_that_the_whole_foot_carried():
    from fefoot.case.cautions import CARRIED_BODYWEIGHTS

    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in TEXT.splitlines()
            if " | foot3d | " in line and "body weights |" in line]
    carried = [float(row[2].split()[0]) for row in rows if row[-1].startswith("ok")]
    assert len(rows) >= 6 and max(carried) == CARRIED_BODYWEIGHTS

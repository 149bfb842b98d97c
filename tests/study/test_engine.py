"""A list of runs becomes a list of rows: computed once, reused, failed with a reason, in order."""

import os
import signal

import pytest
from study_runs import cheap, kept, stubborn

from fefoot.errors import InputError
from fefoot.study.engine import NOT_KEPT, evaluated, keyed, on_processes
from fefoot.study.entries import RunStore
from fefoot.study.run import Run
from fefoot.study.space import designs


@pytest.fixture
def jobs(study):
    case = study()
    (instant,) = case.activity.instants()
    return keyed(Run.of(d.case, device, instant) for d in designs(case) for device in (None, d.device))


def deadly(run, tell):
    if run.device is not None and run.device.layers[-1].thickness_mm == 3.0:
        os.kill(os.getpid(), signal.SIGKILL)
    return cheap(run, tell)


def broken(run, tell):
    raise ZeroDivisionError("three")


def test_rows_come_in_order_and_equal_runs_are_computed_once(jobs, tmp_path):
    seen = []
    rows, tally = evaluated(jobs, RunStore(tmp_path), evaluate=cheap, tell=seen.append)
    assert len(rows) == len(jobs) == 48 and tally.wanted == 25  # 24 designs and one bare foot
    assert (tally.computed, tally.reused, tally.failed) == (25, 0, 0)
    for job, row in zip(jobs, rows, strict=True):
        assert row.key == job.key
        assert row.values == {(t, q): v for t, q, v, _ in cheap(job.run, None)["measures"]}
    assert [t.done for t in seen] == list(range(26)) and seen[-1].seconds_left == 0.0
    again, tally = evaluated(jobs[::-1], RunStore(tmp_path), evaluate=broken)
    assert again == rows[::-1] and (tally.computed, tally.reused) == (0, 25)


def test_a_failed_run_is_a_row_with_its_reason_and_is_tried_again_only_when_asked(jobs, tmp_path):
    store = RunStore(tmp_path)
    rows, tally = evaluated(jobs, store, evaluate=stubborn)
    failed = [row for row in rows if row.failure]
    assert tally.failed == len(failed) == 6 and not any(row.values for row in failed)
    assert {row.failure for row in failed} == {
        "no equilibrium was found (the load cannot be carried)"}
    assert evaluated(jobs, store, evaluate=broken)[1].computed == 0
    rows, tally = evaluated(jobs, store, evaluate=cheap, again=True)
    assert (tally.computed, tally.failed) == (6, 0) and not any(row.failure for row in rows)


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal")
def test_a_process_that_dies_costs_its_own_run_only_and_is_not_kept(jobs, tmp_path):
    rows, tally = evaluated(jobs, RunStore(tmp_path), evaluate=deadly)
    lost = [row for row in rows if row.failure]
    assert len(lost) == 6 and all(row.failure.startswith(NOT_KEPT) for row in lost)
    assert tally.computed == 25
    rows, tally = evaluated(jobs, RunStore(tmp_path), evaluate=cheap)
    assert (tally.computed, tally.reused, tally.failed) == (6, 19, 0)


def test_a_bug_in_a_run_is_shown_and_not_kept(jobs, tmp_path):
    rows, _ = evaluated(jobs[:2], RunStore(tmp_path), evaluate=broken)
    assert all("ZeroDivisionError: three" in row.failure for row in rows)
    assert evaluated(jobs[:2], RunStore(tmp_path), evaluate=cheap)[1].computed == 2


def test_a_store_that_cannot_be_written_ends_the_study(jobs, tmp_path, monkeypatch):
    store = RunStore(tmp_path)

    def full(key, description, kept):
        raise InputError("the store of runs cannot be written", key="--store")

    monkeypatch.setattr(store, "put", full)
    with pytest.raises(InputError, match="cannot be written"):
        evaluated(jobs, store, evaluate=cheap)


def test_an_interrupt_keeps_what_is_finished(jobs, tmp_path):
    def stop(tally):
        if tally.done == 7:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        evaluated(jobs, RunStore(tmp_path), evaluate=cheap, tell=stop, executor=on_processes(2))
    _, tally = evaluated(jobs, RunStore(tmp_path), evaluate=cheap)
    assert tally.reused >= 7 and tally.done == 25


def test_a_value_that_is_no_number_is_left_out(jobs, tmp_path):
    rows, _ = evaluated(jobs[:1], RunStore(tmp_path), evaluate=nothing)
    assert rows[0].values == {} and rows[0].failure is None


def nothing(run, tell):
    return kept({("heel_pad", "peak_pressure_kPa"): None})

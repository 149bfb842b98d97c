"""Conditions side by side: the same numbers, the same failures, nothing left behind."""

import multiprocessing
import os
import signal
import time
from dataclasses import replace

import pytest
from study_cases import FLAT, rearfoot_text

from fefoot.case import read_case
from fefoot.errors import InputError
from fefoot.mechanics import threads
from fefoot.mechanics.events import Note, SolveDone, SolveStarted
from fefoot.study import parallel
from fefoot.study.compare import compare, condition
from fefoot.study.parallel import carried_out


def square(job, tell):
    tell(Note(f"{job} begins"))
    tell(Note(f"{job} ends"))
    return job * job, os.getpid(), threads.allowed()


def stumble(job, tell):
    if job == 2:
        raise InputError("not this one", file="case.toml", key="a.b", value=job, hint="another")
    if job == 3:
        raise ZeroDivisionError("three")
    if job == 4:
        os.kill(os.getpid(), signal.SIGKILL)
    if job == 5:
        time.sleep(60)
    return job


@pytest.fixture(params=["fork", "spawn"])
def start(request, monkeypatch):
    if request.param == "fork" and not hasattr(os, "fork"):
        pytest.skip("processes cannot be copied here")
    monkeypatch.setattr(parallel, "START", request.param)
    return request.param


def test_results_come_in_order_and_events_in_that_of_their_task(start):
    seen = []
    found = carried_out(square, range(4), seen.append, 2, order=[3, 1, 2, 0])
    assert [f[0] for f in found] == [0, 1, 4, 9]
    assert len({f[1] for f in found} | {os.getpid()}) == 5
    assert {f[2] for f in found} == {max(1, threads.cores() // 2)}
    texts = [event.text for event in seen]
    assert sorted(texts) == sorted(f"{k} {what}" for k in range(4) for what in ("begins", "ends"))
    assert all(texts.index(f"{k} begins") < texts.index(f"{k} ends") for k in range(4))


def test_one_process_is_this_one():
    for jobs, processes in ((range(3), 1), (range(1), 2)):
        assert {f[1] for f in carried_out(square, jobs, lambda event: None, processes)} == {os.getpid()}


def test_a_failure_stops_the_others(start):
    began = time.monotonic()
    with pytest.raises(InputError) as caught:
        carried_out(stumble, (5, 2), None, 2)
    assert time.monotonic() - began < 30
    with pytest.raises(InputError) as here:
        stumble(2, None)
    assert str(caught.value) == str(here.value) and vars(caught.value) == vars(here.value)
    with pytest.raises(ZeroDivisionError, match="three") as caught:
        carried_out(stumble, (5, 3), None, 2)
    assert "in stumble" in caught.value.__notes__[0]


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal")
def test_a_process_that_dies_is_noticed(start):
    with pytest.raises(RuntimeError, match="without a result"):
        carried_out(stumble, (5, 4), None, 2)


def test_the_same_digits_whatever_runs_beside(write):
    case = read_case(write(rearfoot_text(rest=FLAT)))
    events = []
    (beside,) = compare(case, listener=events.append, processes=2).comparisons
    assert {e.label for e in events if isinstance(e, SolveStarted)} == {"barefoot", "flat"}
    assert sum(isinstance(e, SolveDone) for e in events) == 2
    flat = case, case.devices[0], case.activity.instants()[0]
    for again in carried_out(_outcome, [flat, flat], lambda event: None, 2):
        assert again.measures == beside.outcomes[1].measures
        assert again.history == beside.outcomes[1].history


def _outcome(job, tell):
    return condition(*job, tell)


def test_an_interrupt_stops_all_and_leaves_nothing(write, tmp_path):
    case = read_case(write(rearfoot_text(rest=FLAT)))

    def stop(event):
        if isinstance(event, SolveStarted):
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        compare(case, tmp_path / "deep" / "run", stop, processes=2)
    assert list((tmp_path / "deep").iterdir()) == []
    assert multiprocessing.active_children() == []


def test_an_instant_without_load_is_refused_before_anything_is_solved(write):
    case = read_case(write(rearfoot_text(rest=FLAT)))
    case = replace(case, activity=replace(case.activity, at="all"))
    events = []
    with pytest.raises(InputError, match="carries no load"):
        compare(case, listener=events.append, processes=2)
    assert not any(isinstance(e, SolveStarted) for e in events)

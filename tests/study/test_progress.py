"""Progress where nobody watches: a line now and then, so that the answer is not drowned."""

import io

import pytest

from fefoot.mechanics.events import Note, SolveDone, SolveFailed, SolveStarted, StepDone
from fefoot.study import counter as counting
from fefoot.study import progress as telling
from fefoot.study.counter import Counter
from fefoot.study.engine import Tally
from fefoot.study.progress import FREE_ENDS, Progress
from fefoot.study.store import RunFolder


@pytest.fixture(name="clock")
def a_clock(monkeypatch):
    """A clock that stands until it is moved."""
    now = [1000.0]
    for module in (counting, telling):
        monkeypatch.setattr(module.time, "monotonic", lambda: now[0])
    return now


def counted(clock, seconds_each, runs=1000):
    stream = io.StringIO()
    counter = Counter(stream)
    for done in range(runs + 1):
        counter(Tally(runs, computed=done, seconds=done * seconds_each))
        clock[0] += seconds_each
    counter.close()
    return stream.getvalue().splitlines()


def test_a_study_tells_every_tenth_or_every_minute(clock):
    assert len(counted(clock, 0.001)) == 2  # first and last: it is over within a second
    assert len(counted(clock, 1.0)) == 18  # 1000 s: every minute, which comes before a tenth
    tenths = counted(clock, 0.5)  # 500 s: every tenth
    assert [line.split(" ")[0] for line in tenths] == [str(n) for n in range(0, 1001, 100)]
    assert len(counted(clock, 600.0, runs=20)) == 21  # slow runs: each


def test_a_comparison_tells_ends_failures_and_notes_but_no_steps(clock):
    stream = io.StringIO()
    tell = Progress(stream)
    tell(Note("material x: unstable"))
    tell(SolveStarted("bare"))
    for step in range(50):
        tell(StepDone("bare", step, 0.25, 5, 3e-6))
    tell(Note("bare: once more in smaller steps"))
    tell(SolveDone("bare", 2.0, 9))
    tell(SolveFailed("lift", "lift: the load could not be carried"))
    assert stream.getvalue().splitlines() == [
        "material x: unstable", "bare: done in 2.0 s, 9 factorisations",
        "lift: failed, the load could not be carried"]
    clock[0] += 61.0
    tell(StepDone("next", 1, 0.25, 5, 3e-6))
    tell(StepDone("next", 2, 0.5, 5, 3e-6))
    assert stream.getvalue().splitlines()[3:] == [
        "next: step 1, 25 % of the load, 5 iterations, residual 3.0e-06"]


def test_of_many_conditions_only_the_first_ones_are_told(clock):
    stream = io.StringIO()
    tell = Progress(stream)
    for number in range(100):
        tell(SolveStarted(f"n{number}"))
        tell(SolveDone(f"n{number}", 2.0, 9))
    assert stream.getvalue().count("\n") == FREE_ENDS


def test_the_log_holds_every_event_with_its_second(tmp_path, clock):
    folder = RunFolder(tmp_path / "run")
    tell = folder.listening(Progress(io.StringIO()))
    folder._began -= 12.25
    for step in range(50):
        tell(StepDone("bare", step, 0.25, 5, 3e-6))
    assert len(folder.log) == 50
    seconds, unit, words = folder.log[0].split(maxsplit=2)
    assert 12.2 <= float(seconds) < 20.0 and unit == "s" and words.startswith("bare: step 0, 25 %")

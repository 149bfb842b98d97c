"""Runs kept for the benchmarks: the committed ones are whole, old ones go."""

import json

import pytest

from benchmarks import kept, same
from benchmarks.crowd import drawn
from fefoot.case.reader import case_from_dict
from fefoot.study.engine import keyed
from fefoot.study.entries import RunStore
from fefoot.study.physics import physics_version
from fefoot.study.run import Run, key_of

COMMITTED = sorted(kept.SOLVED.glob("*/*.json"))


@pytest.mark.skipif(not COMMITTED, reason="no run is committed")
def test_the_committed_runs_are_whole_and_of_one_physics():
    store = RunStore(kept.SOLVED)
    assert all(store.get(file.stem) is not None for file in COMMITTED)
    assert len({json.loads(file.read_bytes())["condition"]["physics"] for file in COMMITTED}) == 1


def test_runs_of_a_former_physics_are_removed(tmp_path):
    store = RunStore(tmp_path)
    for key, physics in ("aa1", physics_version()), ("bb2", "0" * 16):
        store.put(key, {"physics": physics}, {"failure": None})
    assert kept.forget_former_physics(tmp_path) == 1
    assert store.get("aa1") == {"failure": None} and store.get("bb2") is None


def test_rows_are_those_of_the_store_and_none_where_it_has_none(tmp_path):
    runs = {number: run_of(number) for number in (3, 4)}
    job, _ = keyed(runs.values())
    RunStore(tmp_path).put(job.key, job.description, {
        "failure": None, "measures": [["heel_pad", "peak_pressure_kPa", 200.0, None]], "checks": [],
        "cost": {"seconds": 1.0}})
    rows = kept.rows_of(runs, False, folder=tmp_path)
    assert rows[3].values == {("heel_pad", "peak_pressure_kPa"): 200.0} and rows[4] is None


def run_of(number: int) -> Run:
    case = case_from_dict(drawn(number))
    return Run.of(case, case.devices[0], case.activity.instants()[0])


def solved_as(value, seconds=1.0, grown_from=1.0):
    return {"failure": None, "measures": [["heel_pad", "peak_pressure_kPa", value, None]],
            "checks": [], "cost": {"seconds": seconds, "grown_from": grown_from}}


@pytest.mark.parametrize(("now", "grown_from", "word"), [
    (200.0001, 1.0, None), (200.01, 1.0, "heel_pad peak_pressure_kPa"), (200.0, 0.5, "grown_from")])
def test_runs_of_a_former_physics_are_repeated_and_compared(tmp_path, now, grown_from, word):
    store, runs = RunStore(tmp_path), [run_of(number) for number in (3, 4, 5)]
    for job in keyed(runs[:2]):
        description = job.description | {"physics": "0" * 16}
        store.put(key_of(description), description, solved_as(200.0))
    pairs = same.repeated(runs, 5, tmp_path, evaluate=lambda run, tell: solved_as(
        now, 7.0, grown_from))
    assert len(pairs) == 2 and len(kept.former(tmp_path)) == 2
    for found in (same.differs(*pair) for pair in pairs):
        assert found is None if word is None else found.startswith(word)


def test_runs_of_a_former_physics_are_taken_over_under_their_new_key(tmp_path):
    store, job = RunStore(tmp_path), keyed([run_of(3)])[0]
    description = job.description | {"physics": "0" * 16}
    store.put(key_of(description), description, solved_as(200.0))
    assert same.taken_over(tmp_path) == 1
    assert kept.former(tmp_path) == [] and len(list(tmp_path.glob("*/*.json"))) == 1
    assert store.get(job.key) == solved_as(200.0)

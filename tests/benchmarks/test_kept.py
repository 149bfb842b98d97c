"""Runs kept for the benchmarks: the committed ones are whole, old ones go."""

import json
import subprocess
from dataclasses import replace

import numpy as np
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


def solved_as(value, seconds=1.0):
    return {"failure": None, "measures": [["heel_pad", "peak_pressure_kPa", value, None]],
            "checks": [], "cost": {"seconds": seconds, "factorisations": 9.0}}


def test_runs_of_a_former_physics_are_found(tmp_path):
    store, runs = RunStore(tmp_path), [run_of(number) for number in (3, 4, 5)]
    for job, physics in zip(keyed(runs[:2]), ("0" * 16, physics_version()), strict=True):
        description = job.description | {"physics": physics}
        store.put(key_of(description), description, solved_as(200.0))
    assert same.known(runs, tmp_path) == [runs[0]]


@pytest.mark.parametrize(("value", "seconds", "count"), [
    (200.0, 7.0, 0), (np.nextafter(200.0, 300.0), 1.0, 2)])
def test_two_versions_are_compared_to_the_last_digit_but_for_the_times(value, seconds, count):
    differ = same.unlike([3, 4], lambda run: solved_as(200.0), lambda run: solved_as(value, seconds))
    assert len(differ) == count


def test_a_run_is_solved_with_the_sources_of_a_folder(tmp_path):
    refused = replace(run_of(3), instant=replace(run_of(3).instant, vertical_bodyweights=1e-6))
    kept_of_it = same.solved_with(kept.SOLVED.parents[1], refused)
    assert kept_of_it["failure"] == "refused: the foot carries no load at this instant"
    (tmp_path / "fefoot").mkdir()
    (tmp_path / "fefoot" / "__init__.py").write_text("raise SystemExit(3)")
    with pytest.raises(subprocess.CalledProcessError):
        same.solved_with(tmp_path, refused)


def test_runs_of_a_former_physics_are_taken_over_under_their_new_key(tmp_path):
    store, job = RunStore(tmp_path), keyed([run_of(3)])[0]
    description = job.description | {"physics": "0" * 16}
    store.put(key_of(description), description, solved_as(200.0))
    assert same.taken_over(tmp_path) == 1
    assert kept.former(tmp_path) == [] and len(list(tmp_path.glob("*/*.json"))) == 1
    assert store.get(job.key) == solved_as(200.0)

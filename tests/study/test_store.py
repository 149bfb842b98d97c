"""What the run folder says of a run, and what happens where it cannot be written."""

import errno
import hashlib
import json
import re
from datetime import UTC, datetime

import pytest
from study_cases import rearfoot_text

from fefoot import read_case
from fefoot.errors import InputError
from fefoot.outcome.values import Comparison, Outcome
from fefoot.study import machine, store
from fefoot.study.machine import cpu_name
from fefoot.study.physics import physics_version
from fefoot.study.store import RunFolder


@pytest.fixture(name="case")
def a_case(write):
    return read_case(write(rearfoot_text()))


def failed():
    return [Comparison(22.0, (Outcome("barefoot", "no device", 22.0, "put in by the test"),), (), (),
                       None, ())]


def test_the_provenance_says_when_where_and_of_what(case, tmp_path):
    before = datetime.now(UTC)
    path = RunFolder(tmp_path / "run").write(case, failed(), {"wall_seconds": 1.0})
    facts = json.loads((path / "provenance.json").read_text(encoding="utf-8"))
    started = datetime.fromisoformat(facts["started_utc"])
    assert started.utcoffset().total_seconds() == 0.0
    assert -1.0 <= (started - before).total_seconds() < 60.0
    assert facts["physics"] == physics_version() and facts["cpu"] == cpu_name() != ""
    assert facts["case_toml_sha256"] == hashlib.sha256((path / "case.toml").read_bytes()).hexdigest()
    page = (path / "report.html").read_text(encoding="utf-8")
    assert facts["started_utc"] in page and facts["case_toml_sha256"] in page


def test_the_processor_has_its_name_where_the_system_tells(tmp_path, monkeypatch):
    info = tmp_path / "cpuinfo"
    info.write_text("processor\t: 0\nmodel name\t: Some Make 3000\nmodel name\t: other\n")
    monkeypatch.setattr(machine, "INFO", info)
    assert cpu_name() == "Some Make 3000"
    info.write_text("processor\t: 0\n")
    monkeypatch.setattr(machine.platform, "processor", lambda: "")
    monkeypatch.setattr(machine.platform, "machine", lambda: "riscv64")
    assert cpu_name() == "riscv64"
    monkeypatch.setattr(machine, "INFO", tmp_path / "absent")
    assert cpu_name() == "riscv64"


@pytest.mark.parametrize("number", [errno.EROFS, errno.EACCES, errno.ENOSPC])
def test_a_place_that_cannot_be_written_names_an_action(case, tmp_path, monkeypatch, number):
    import os

    def refuse(*_, **__):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(store.tempfile, "TemporaryDirectory", refuse)
    with pytest.raises(InputError) as caught:
        RunFolder(tmp_path / "run")
    assert_action(caught.value, os.strerror(number))
    monkeypatch.undo()
    folder = RunFolder(tmp_path / "run")
    monkeypatch.setattr(store, "keep", refuse)
    with pytest.raises(InputError) as caught:
        folder.write(case, failed(), {})
    assert_action(caught.value, os.strerror(number))
    assert [p.name for p in tmp_path.iterdir()] == ["case.toml"]


def assert_action(problem, words):
    """The system's words tell the problem; what to do is something one can do."""
    assert words in problem.problem and "cannot be written" in problem.problem
    assert words not in problem.hint and "choose another folder with --out" in problem.hint


def test_a_file_in_the_way_is_no_action(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(InputError) as caught:
        RunFolder(tmp_path / "file" / "run")
    assert re.search(r"cannot be written \((File exists|Not a directory)\)", str(caught.value))
    assert caught.value.hint == "choose another folder with --out"

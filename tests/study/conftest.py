"""Fixtures for the tests of the study."""

import pytest
from study_runs import SPACE, STUDY


@pytest.fixture
def write(tmp_path):
    """Write a case file into the test's folder."""
    def to(text, name="case.toml"):
        file = tmp_path / name
        file.write_text(text, encoding="utf-8")
        return file

    return to


@pytest.fixture
def study(write, monkeypatch):
    """Read the case of the studies, with more text, without building a mesh for its keys."""
    from fefoot.case import read_case
    from fefoot.study import run

    monkeypatch.setattr(run, "mesh_digest", lambda *which: "-".join(map(str, which)))
    return lambda rest=SPACE, text=STUDY: read_case(write(text + rest))

"""Other ways to the same load: what is changed for them, how they are judged, the committed table."""

import math
from pathlib import Path

import pytest

from benchmarks.steps import SHIPPED, WAYS, loaded, moved_percent
from benchmarks.studies import files
from fefoot.study import solve

TEXT = Path(__file__).parents[2].joinpath("benchmarks", "RESULTS.md").read_text(encoding="utf-8")


def test_a_way_is_used_and_taken_back():
    before = solve.FIRST_STEPS, solve.SETTINGS
    with loaded("whole"):
        assert solve.FIRST_STEPS == (1.0,)
    with loaded("tight"):
        assert {given.step_tolerance for given in solve.SETTINGS.values()} == {1e-3}
    assert (solve.FIRST_STEPS, solve.SETTINGS) == before


def test_the_shipped_way_is_the_shipped_one():
    assert solve.FIRST_STEPS[0] == solve.CONTACT_SETTINGS.first_step == WAYS[SHIPPED][0]
    assert solve.CONTACT_SETTINGS.step_tolerance == WAYS[SHIPPED][1]


def test_the_largest_change_is_against_the_shipped_way():
    values = dict.fromkeys(WAYS, 100.0) | {"whole": 97.0, "tenth": math.nan}
    assert moved_percent(values) == pytest.approx(3.0)
    assert math.isnan(moved_percent(dict.fromkeys(WAYS, math.nan) | {SHIPPED: 1.0}))


def test_every_shipped_case_is_in_the_committed_table():
    text = TEXT.split("## Steps of the load")[1].split("\n## ")[0]
    for file in files():
        assert f"| {file.removesuffix('.toml')} | barefoot |" in text, file

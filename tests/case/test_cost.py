"""How many solves a study costs: what fefoot check says against what the studies compute."""

import sys
from pathlib import Path

import pytest

sys.path.append(str(Path(__file__).parents[1] / "study"))

from study_runs import SPACE, STUDY, cheap, here

from fefoot.case import read_case
from fefoot.case.cost import certainty_cost, search_cost, study_lines, sweep_cost
from fefoot.study import run
from fefoot.study.certainty import certainty
from fefoot.study.search import search
from fefoot.study.sweep import sweep

MASS = """
[[sweep.vary]]
name = "mass"
of = "person.body_mass_kg"
among = [60, 72, 80]
"""
WHEN = """
[[sweep.vary]]
name = "when"
of = "activity.at"
among = [30, 62, "peak"]
"""
BARE = """
[sweep]
[[sweep.vary]]
name = "pad"
of = "person.heel_pad_mm"
from = 15
to = 19
step = 1
"""


@pytest.fixture
def read(tmp_path, monkeypatch):
    monkeypatch.setattr(run, "mesh_digest", lambda *which: "-".join(map(str, which)))

    def to(text):
        file = tmp_path / "case.toml"
        file.write_text(text, encoding="utf-8")
        return read_case(file)

    return to


@pytest.mark.parametrize(("text", "designs", "solves"), [
    (STUDY + SPACE, 24, 26), (STUDY + SPACE + MASS, 72, 76), (STUDY + SPACE + WHEN, 72, 76),
    (STUDY.replace("at = 62", 'at = "all"') + SPACE, 24, None),
    (STUDY + BARE, 5, 18), (STUDY.partition("[[device]]")[0] + BARE, 5, 6),
    (STUDY + SPACE.replace("[sweep]", '[sweep]\nsampling = "sobol"\nsamples = 16'), None, None)])
def test_a_sweep_costs_no_more_than_is_said(read, tmp_path, text, designs, solves):
    case = read(text)
    count, most = sweep_cost(case)
    swept = sweep(case, tmp_path / "store", executor=here, evaluate=cheap)
    assert count == len(swept.designs) and designs in (None, count)
    # a varied instant may be the case's own under another name: then fewer
    spare = 4 if "activity.at" in text else 3 if text.endswith(BARE) else 0
    assert most - spare <= swept.tally.wanted <= most
    assert solves in (None, most)
    assert f"at most {most} solves" in next(study_lines(case))


@pytest.mark.parametrize("more", ["", MASS])
def test_a_search_costs_no_more_than_is_said(read, tmp_path, more):
    asked = "[search]\nreduction_percent = 10\nsolves = 12\nstart = 8\n"
    case = read(STUDY + SPACE.partition("[[sweep.exclude]]")[0] + more + asked)
    found = search(case, tmp_path / "store", executor=here, evaluate=cheap)
    assert 8 <= found.swept.tally.wanted <= search_cost(case) == (26 if more else 14)


def test_a_certainty_study_costs_what_is_said(read, tmp_path):
    pytest.importorskip("SALib")
    case = read(STUDY + "[certainty]\nsamples = 4\n")
    samples, unknowns, most = certainty_cost(case)
    found = certainty(case, tmp_path / "store", executor=here, evaluate=cheap)
    assert samples == 4 and unknowns == len(found.unknowns)
    assert most == sum(len(sample.rows) for sample in found.samples)
    assert found.tally.wanted <= most
    assert list(study_lines(case)) == [
        f"certainty: 4 base samples of {unknowns} unknowns: at most {most} solves, each condition in "
        "each sample"]


def test_what_the_commands_would_refuse_is_said(read):
    asked = "[certainty]\nsamples = 4\n[search]\nsolves = 12\n"
    lines = list(study_lines(read(STUDY.replace("at = 62", 'at = "all"') + SPACE + asked)))
    assert "solves" in lines[0]
    assert all("one instant; set activity.at" in line for line in lines[1:]) and len(lines) == 3
    alone = read(STUDY.partition("[[device]]")[0] + "[certainty]\nsamples = 4\n")
    assert list(study_lines(alone)) == ["certainty: cannot be done without a [[device]]"]


def test_a_case_without_studies_has_no_line(read):
    assert list(study_lines(read(STUDY))) == []

"""The surrogate and the search: exact where it must be, and better than a spread sample."""

import json

import numpy as np
import pytest
from study_runs import SPACE, cheap, here, stand_in

from fefoot.case.studies import Limit
from fefoot.errors import InputError
from fefoot.study import search as searching
from fefoot.study.choice import excess
from fefoot.study.commands import Where, run_search
from fefoot.study.search import search
from fefoot.study.space import designs
from fefoot.study.surrogate import fitted
from fefoot.study.sweep import sweep

FREE = SPACE.replace("step = 0.5\n", "").replace("among = [25, 50, 75]", "from = 10\nto = 90").replace(
    "[sweep]", '[sweep]\nsampling = "latin_hypercube"\nsamples = 200')
ASK = """
[search]
reduction_percent = {wanted}
solves = {solves}
start = 10
[[search.limit]]
tissue = "midfoot_sole"
quantity = "peak_pressure_kPa"
most = {most}
"""
KEY = ("plantar_fascia", "tension_N")


def ask(wanted=10, solves=30, most=34):
    return ASK.format(wanted=wanted, solves=solves, most=most)


def test_the_surrogate_passes_through_exact_values_and_knows_where_it_does_not(rng):
    points = rng.random((25, 2))
    values = np.sin(3 * points[:, 0]) + points[:, 1] ** 2
    model = fitted(points, values)
    mean, _ = model.predict(points)
    assert np.abs(mean - values).max() < 0.01 * np.ptp(values)
    new = rng.random((200, 2))
    mean, _ = model.predict(new)
    exact = np.sin(3 * new[:, 0]) + new[:, 1] ** 2
    assert np.sqrt(np.mean((mean - exact) ** 2)) < 0.05 * np.ptp(values)
    far, _ = model.predict(points[:1]), model.predict(np.array([[3.0, 3.0]]))
    assert model.predict(np.array([[3.0, 3.0]]))[1][0] > 3 * far[1][0]


def test_leaving_one_out_is_what_fitting_without_it_predicts(rng):
    """The closed form (Rasmussen & Williams 2006, eq. 5.12) against doing it, same constants."""
    from dataclasses import replace

    from fefoot.study.surrogate import _matrix

    points = rng.random((12, 3))
    values = points @ [1.0, -2.0, 0.5] + 0.3 * np.sin(9 * points[:, 0])
    model = fitted(points, values)
    for n in range(12):
        rest = np.arange(12) != n
        without = replace(model, points=points[rest], values=values[rest], _inverse=np.linalg.inv(
            _matrix(points[rest], model.lengths, model.noise)))
        assert model.left_out()[n] == pytest.approx(without.predict(points[n][None])[0][0], abs=1e-8)


def test_a_point_that_is_believed_changes_nothing_but_the_spread(rng):
    points = rng.random((10, 2))
    model = fitted(points, points.sum(axis=1))
    at = np.array([0.31, 0.77])
    more = model.believing(at)
    assert more.predict(at[None])[0] == pytest.approx(model.predict(at[None])[0])
    assert more.predict(at[None])[1] < model.predict(at[None])[1] + 1e-12


def test_a_search_beats_two_hundred_spread_designs(study, tmp_path):
    limit = Limit("midfoot_sole", "peak_pressure_kPa", most=34.0)
    spread = sweep(study(FREE), tmp_path / "spread", evaluate=cheap, executor=here)
    best = min(line.change_percent(KEY) for line in spread.varied if excess(line, limit) <= 0.0)
    found = search(study(FREE + ask()), tmp_path / "store", evaluate=cheap, executor=here)
    assert len(found.swept.designs) <= 30 and len(spread.varied) > 130
    assert found.answers[0].change_percent(KEY) < best < -10.0
    assert all(excess(line, limit) <= 0.0 for line in found.kept)
    assert found.closest is None and found.started == 10
    # the best that is possible: relief at which the pressure is just allowed
    possible = -100.0 * ((34.0 / 22.0 - 1.0) / 6.0) ** (1 / 1.5)
    assert possible <= found.answers[0].change_percent(KEY) < 0.98 * possible


def test_every_number_comes_from_a_solve_and_the_seed_decides(study, tmp_path):
    found = search(study(FREE + ask(solves=14)), tmp_path / "a", evaluate=cheap, executor=here)
    again = search(study(FREE + ask(solves=14)), tmp_path / "b", evaluate=cheap, executor=here)
    assert [line.varied for line in found.swept.varied] == [line.varied for line in again.swept.varied]
    for design, line in zip(found.swept.designs, found.swept.varied, strict=True):
        assert line.design == design.number and line.varied == design.values
    assert search(study(FREE + ask(solves=14)), tmp_path / "a", evaluate=None).swept.tally.computed == 0
    for fit in found.fits:
        error = np.sqrt(np.mean((np.array(fit.values) - np.array(fit.left_out)) ** 2))
        assert fit.error == pytest.approx(error) and 0.0 < fit.error < fit.span


def test_progress_counts_over_all_rounds(study, tmp_path):
    seen = []
    found = search(study(FREE + ask(solves=14)), tmp_path / "a", evaluate=cheap, executor=here,
                   tell=seen.append)
    assert {t.wanted for t in seen} == {16} and max(t.done for t in seen) >= len(found.swept.designs)
    assert [t.computed for t in seen] == sorted(t.computed for t in seen)


def test_where_nothing_meets_the_question_it_says_so_and_names_the_closest(study, tmp_path,
                                                                           monkeypatch):
    case = study(FREE + ask(wanted=25, solves=20))
    stand_in(monkeypatch, searching, "search", cheap)
    out = tmp_path / "out"
    text, code = run_search(case.file, out, Where(str(tmp_path / "store")))
    flat = " ".join(text.split())
    assert code == 0 and "No device in this space meets the limits" in flat
    assert "The closest is number" in flat and "It misses:" in flat and "not a diagnosis" in flat
    answer = json.loads((out / "summary.json").read_text(encoding="utf-8"))
    assert answer["answers"] == [] and answer["closest"]["miss"] > 0.0
    assert answer["closest"]["miss"] <= min(d["miss"] for d in answer["trade_off"])
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "No device in this space" in page and page.count("<img") == 3


def test_search_names_its_ends_its_numbers_and_its_units(study, tmp_path):
    from fefoot.report.search_page import search_page
    from fefoot.report.search_words import NUMBERS, row_of, table
    from fefoot.study.search_table import summary
    from fefoot.study.study_folder import study_provenance

    found = search(study(SPACE + ask(solves=40, wanted=1, most=100)), tmp_path / "store",
                   evaluate=cheap, executor=here)
    assert found.shown is found.answers[0] and found.shown.varied["shell_mm"] == 4.0
    ends = "The best design lies at the end of shell_mm (4) and fill (75): a wider range may hold a"
    page = search_page(found, study_provenance(found.swept.tally, 1.0, "here", 1))
    text = " ".join(table(found).split())
    assert ends in text and ends in page and NUMBERS in text and NUMBERS in page
    assert summary(found)["at_the_end_of"] == ["shell_mm", "fill"]
    change = round(-found.shown.change_percent(KEY))
    cells = row_of(found.shown, found, ["shell_mm", "fill", "cover"])
    assert cells[4:6] == [f"{found.shown.row.values[KEY]:.0f} N", f"−{change} %"]
    assert f"-{change}%" not in page and f"−{change}&nbsp;%" in page
    # in the terminal one form too, in sentences and in the table
    assert f"-{change} %" in text and f"-{change}%" not in text


def test_the_closest_design_at_an_end_is_told_as_such(study, tmp_path):
    from fefoot.report.search_words import points

    found = search(study(FREE + ask(wanted=25, solves=20)), tmp_path / "store", evaluate=cheap,
                   executor=here)
    assert found.answers == () and found.shown is found.closest
    told = [text for text in points(found) if "lies at the end of" in text]
    thick, fill = found.shown.varied["shell_mm"], found.shown.varied["fill"]
    at_an_end = thick > 3.96 or thick < 2.04 or fill > 88.4 or fill < 11.6
    assert len(told) == at_an_end and all(text.startswith("The closest design") for text in told)


def test_a_small_space_is_solved_whole(study, tmp_path):
    found = search(study(SPACE + ask(solves=40, wanted=1)), tmp_path / "store", evaluate=cheap,
                   executor=here)
    whole = {tuple(d.values.items()) for d in designs(study())}
    solved = {tuple(d.values.items()) for d in found.swept.designs}
    assert solved <= whole and len(solved) == len(found.swept.designs)
    assert found.ended in ("every design of the space was solved",
                           "no further design promises to be better")
    every = sweep(study(), tmp_path / "all", evaluate=cheap, executor=here).varied
    best = min(line.change_percent(KEY) for line in every
               if line.row.values["midfoot_sole", "peak_pressure_kPa"] <= 34.0)
    assert found.answers[0].change_percent(KEY) == best


def test_a_case_without_a_question_is_refused(study, tmp_path):
    with pytest.raises(InputError, match="asks no question"):
        search(study(), tmp_path)

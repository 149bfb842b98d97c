"""The answer in words, for every kind of outcome, and the text for the terminal."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from report_cases import DEVICES, a_case, a_comparison, compared

from fefoot.case.tissues import TISSUES
from fefoot.outcome.quantities import QUANTITIES
from fefoot.outcome.values import Comparison, Outcome, Row
from fefoot.report import answer, answer_text, table
from fefoot.report.answer import over_the_step, worst_index
from fefoot.report.wording import labels, percent_text, rise_text, step_text, value_text, verdict


def outcomes_of(*failures):
    names = ("barefoot", "lift", "arch")
    return tuple(Outcome(n, n, 77.0, f) for n, f in zip(names, failures, strict=True))


def one_row(values, best, failures=(None, None, None), **more):
    changes = tuple(None if None in (v, values[0]) else 100 * (v / values[0] - 1) for v in values)
    row = Row("plantar_fascia", "tension_N", values, changes, None, "")
    return Comparison(77.0, outcomes_of(*failures), (row,), (), best, (), **more)


def test_best_device_is_named_with_its_change(case):
    found = answer(case, one_row((640.0, 520.0, 600.0), "lift"))
    assert found.headline == (
        "Of the two devices, ‘lift’ lowers the tension in the plantar fascia most: "
        "640 → 520 N (−19 %).")
    assert found.points == ("With ‘lift’ nothing else rises by more than 5 %.",
                            "The other: ‘arch’ 640 → 600 N (−6.2 %).")


def test_no_device_lowers_it(case):
    found = answer(case, one_row((640.0, 650.0, 700.0), None))
    assert found.headline == "None of the two devices lowers the tension in the plantar fascia."
    assert found.points == (
        "The tension in the plantar fascia: ‘lift’ 640 → 650 N (+1.6 %), "
        "‘arch’ 640 → 700 N (+9.4 %).",)


def test_a_single_device_that_raises_it_is_said_to(case):
    two = one_row((640.0, 700.0), None)
    two = replace(two, outcomes=two.outcomes[:2])
    found = answer(case, two)
    assert found.headline == "‘lift’ raises the tension in the plantar fascia: 640 → 700 N (+9.4 %)."
    assert found.points == () and found.tone == "none"
    same = replace(one_row((640.0, 643.0), None), outcomes=two.outcomes)
    assert answer(case, same).headline == "The device does not lower the tension in the plantar fascia."


def test_the_step_is_told_in_runs_of_instants(case):
    step = [replace(one_row(values, None), stance_percent=at) for at, values in (
        (5.0, (10.0, 90.0, 10.0)), (20.0, (300.0, 250.0, 299.0)), (40.0, (400.0, 300.0, 401.0)),
        (60.0, (500.0, 500.0, 500.0)), (80.0, (600.0, 700.0, 601.0)))]
    assert over_the_step(case, step) == (
        "Over the step ‘lift’: less from 20 to 40 %, about the same at 60 %, more at 80 % of stance.",
        "Over the step ‘arch’: about the same from 20 to 80 % of stance.")
    assert over_the_step(case, step[:2]) == () == over_the_step(case, ())


def test_the_terminal_shows_the_instant_of_the_page_and_the_target_over_the_step(case):
    scales = (0.4, 1.0, 0.7)
    step = [a_comparison(case, pictures=False, stance_percent=at, scale=scale)
            for at, scale in zip((20.0, 50.0, 80.0), scales, strict=True)]
    text = answer_text(case, step, 100)
    assert text.startswith("Level walking") and "at 50 % of stance:" in text.splitlines()[0]
    assert text.count("Cautions:") == 1 and text.count("spring (calcaneonavicular) ligament\n") == 2
    assert "All 36 checks passed." in text
    lines = text[text.index("over the step (*"):].splitlines()
    values = {line.split()[0]: line.split() for line in lines if line[:2].isdigit()}
    for comparison in step:
        row = comparison.rows[0]
        shown = values[f"{comparison.stance_percent:.0f}"]
        assert value_text(row.values[0], row.quantity) in shown, shown
        assert ("*" in shown) == (comparison.stance_percent == 50.0)
    assert answer_text(case, step[:1], 100) == table(case, step[0], 100)


def test_a_change_below_one_percent_is_called_hardly(case):
    assert "but hardly: 640 → 637 N (−0.5 %)" in answer(
        case, one_row((640.0, 637.0, 700.0), "lift")).headline


def test_failed_device_is_left_out_and_named(case):
    found = answer(case, one_row((640.0, 520.0, None), "lift", (None, None, "it slid off")))
    assert found.headline.startswith("Of two devices only one could be computed; ‘lift’ lowers")
    assert "‘arch’ failed: it slid off." in found.points


def test_failed_first_condition_gives_no_change(case):
    found = answer(case, one_row((None, 520.0, 510.0), None, ("no equilibrium", None, None)))
    assert found.tone == "failed"
    assert not any(c.isdigit() for c in found.headline + "".join(found.points))


def test_what_gets_worse_belongs_to_the_best_device(case, comparison):
    found = answer(case, comparison)
    worse = [w for w in comparison.worse if w[0] == comparison.best]
    assert f"{percent_text(worse[0][3])}" in found.points[0]
    assert found.points[0].endswith(" more in the table below.")


def test_a_rise_from_nothing_is_said_in_words(case):
    rows = (Row("plantar_fascia", "tension_N", (640.0, 520.0, 600.0), (0.0, -18.75, -6.25), None,
                ""),
            Row("tibialis_anterior", "tension_N", (0.0, 42.0, 0.0), (None, None, None), None, ""))
    worse = (("lift", "tibialis_anterior", "tension_N", math.inf),)
    found = answer(case, Comparison(77.0, outcomes_of(None, None, None), rows, (), "lift", worse))
    assert found.points[0] == ("What gets worse with ‘lift’: the tension in the tibialis anterior "
                               "tendon from nothing.")
    assert step_text(rows[1], 1) == "0 → 42 N (from nothing)"
    assert step_text(rows[1], 2) == "0 → 0 N (–)"
    assert rise_text(math.inf) == "from nothing" and rise_text(12.0) == "+12 %"
    assert rise_text(745.0) == "+745 %" and rise_text(3613.0) == "to 37 times"


def test_worst_instant_is_the_one_that_loads_the_target_most(case):
    scales = (0.5, 1.2, 0.9)
    instants = [a_comparison(case, (), False, 10.0 * i, s) for i, s in enumerate(scales)]
    assert worst_index(case, instants) == 1
    instants[1] = a_comparison(case, ("barefoot", "lift", "arch", "shell"), False)
    assert worst_index(case, instants) == 2


@pytest.mark.parametrize(("before", "after", "quantity", "expected"), [
    (100.0, 90.0, "tension_N", "less"), (100.0, 110.0, "tension_N", "more"),
    (100.0, 100.5, "tension_N", "same"), (-40.0, -50.0, "moment_Nm", "more"),
    (-40.0, 20.0, "moment_Nm", "less"), (10.0, 20.0, "rotation_degrees", "other"),
    (100.0, None, "tension_N", "")])
def test_verdict_goes_by_size(before, after, quantity, expected):
    change = None if after is None else 100 * (after - before) / abs(before)
    row = Row("ankle_joint", quantity, (before, after), (0.0, change), None, "")
    assert verdict(row, 1) == expected


@pytest.mark.parametrize(("value", "text"), [
    (None, "–"), (float("nan"), "–"), (0.04, "0 %"), (-0.04, "0 %"), (9.94, "+9.9 %"),
    (9.96, "+10 %"), (-18.75, "−19 %")])
def test_percent_text(value, text):
    assert percent_text(value) == text


def test_value_text_has_the_decimals_of_its_quantity():
    assert value_text(-0.001, "moment_Nm", unit=True) == "0.00 N m"
    assert value_text(-2.5, "moment_Nm") == "−2.50"


def test_equal_titles_are_told_apart():
    pair = [Outcome("a", "insole", 50.0, None), Outcome("b", "insole", 50.0, None)]
    assert labels(pair) == ["insole (a)", "insole (b)"]


@pytest.mark.parametrize("width", [40, 72, 100, 160])
def test_terminal_table_is_complete_aligned_and_plain(case, comparison, width):
    text = table(case, comparison, width)
    assert text.isascii()
    assert "\x1b" not in text
    lines = text.splitlines()
    assert max(map(len, lines)) <= max(width, 80)
    assert text.index("640 -> 518 N") < text.index("plantar fascia (target)")
    assert text.index("plantar fascia (target)") < text.index("Achilles tendon\n")
    for row in comparison.rows:
        assert f"\n{TISSUES[row.tissue].title}" in text
        assert f"  {QUANTITIES[row.quantity].title}" in text
        for value in row.values:
            assert value_text(value, row.quantity).replace("−", "-") in text
    assert "All 12 checks passed." in " ".join(text.split())
    assert "not a diagnosis and not a prescription" in " ".join(text.split())


def test_terminal_shows_failure_in_words(case):
    text = table(case, a_comparison(case, failures=("arch",), pictures=False), 100)
    assert "arch: failed: no equilibrium at 61 % of the load" in text
    assert "518" not in text
    row = next(line for line in text.splitlines() if line.startswith("  tension, N"))
    assert row.split()[2] == "640" and "failed" in row


def test_terminal_bold_only_when_asked_for(case, comparison):
    assert "\n\x1b[1m" in table(case, comparison, 100, colour=True)


def test_terminal_escapes_of_a_title_do_not_reach_the_terminal():
    case = a_case(devices=DEVICES[:1])
    base = a_comparison(case, pictures=False)
    outcomes = (base.outcomes[0], replace(base.outcomes[1], title="a\x1b[31mred\nline"))
    text = table(case, compared(case, outcomes), 100)
    assert "\x1b" not in text
    assert "a[31mred line" in text

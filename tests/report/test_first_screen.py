"""The first screen: devices in order, how sure it is; and the maps and drawings below it."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape

import numpy as np
import pytest
from report_cases import a_case, a_comparison, usual
from whole_foot import whole_foot

from benchmarks.__main__ import RESULTS
from fefoot.case import case_from_dict
from fefoot.report import page, table
from fefoot.report.answer import CAUTIONS
from fefoot.report.device_part import device_part
from fefoot.report.method import assumptions, person_rows
from fefoot.report.picture_part import picture_part
from fefoot.report.pictures import shared_limits
from fefoot.report.print_map import APART_MM, peaks, print_map
from fefoot.report.ranking import ranking
from fefoot.report.surety import FINER, KNOWN, WHOLE_FOOT_PENALTY, surety
from fefoot.report.tables import check_sentence
from fefoot.study.store import build_sheets


def rows_of(table):
    return [[unescape(re.sub("<[^>]*>", "", cell)).replace("\xa0", " ")
             for cell in re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", line)]
            for line in re.findall(r"<tr>(.*?)</tr>", table)[1:]]


def test_devices_stand_in_the_order_of_relief_and_failures_last():
    case, comparison = usual()
    found = rows_of(ranking(case, comparison))
    assert [row[:3] for row in found] == [
        ["1", "insole that fills the arch", "518 N (−19 %)"],
        ["2", "flat insole with a 6 mm heel lift", "595 N (−7.0 %)"],
        ["3", "shell with a free arch", "666 N (+4.0 %)"]]
    assert "more in the table of all tissues" in found[0][3]
    failed = rows_of(ranking(case, a_comparison(case, ("arch",), False)))
    assert [row[1] for row in failed][-1] == "insole that fills the arch" and failed[-1][0] == "–"
    assert failed[-1][2].startswith("failed: no equilibrium")


def test_a_case_without_devices_ranks_none():
    case = a_case(devices=[])
    assert "There is no device in this case" in ranking(case, a_comparison(case, pictures=False))


def test_answer_costs_and_cautions_come_before_everything_else():
    case, _ = usual()
    html = page(case, [a_comparison(case, pictures=False)], {}, {})
    names = ("answer", "cautions", "costs", "target", "devices")
    order = [html.index(f'id="{name}"') for name in names]
    assert order == sorted(order) and "How sure:" in html[:order[1]]


def test_how_sure_it_is():
    case, comparison = usual()
    row = comparison.rows[0]
    sentence = surety(case, comparison, row)
    assert sentence.startswith("All 12 checks passed.")
    assert "another mesh moved such measures by up to 1 %" in sentence
    assert "penalty by up to 1.1 %" in sentence and "steps of the load by up to 2 %" in sentence
    assert "fefoot certainty" in sentence and "take them as equal" not in sentence
    near = replace(row, values=(640.0, 504.0, 500.0, 660.0))
    assert "take them as equal" in surety(case, comparison, near)
    assert "take them as equal" not in surety(case, replace(comparison, best=None), near)
    across, moment = replace(case, model="rearfoot"), replace(row, quantity="moment_Nm")
    assert "steps of the load by up to 6 %" in surety(across, comparison, moment)
    apart = replace(row, values=(640.0, 520.0, 490.0, 660.0))
    assert "take them as equal" in surety(across, comparison, replace(apart, quantity="moment_Nm"))
    assert "take them as equal" not in surety(case, comparison, apart)
    pressed = surety(case, comparison, replace(row, quantity="peak_pressure_kPa"))
    assert "by up to 8 %" in pressed and "tens of percent" in pressed
    whole, found = whole_foot()
    said = surety(whole, found, found.rows[0])
    assert "this measure moved by up to 3 % from the coarse to a finer mesh" in said
    assert "Other devices have not been studied" in said and "take them as equal" not in said
    failed = a_comparison(case, ("arch",), False)
    assert surety(case, failed, failed.rows[0]).startswith("‘insole that fills the arch’ failed. ")


def test_nothing_is_sure_where_nothing_was_computed():
    case, _ = usual()
    nothing = a_comparison(case, ("barefoot", "lift", "arch", "shell"), False)
    row = nothing.rows[0] if nothing.rows else None
    assert "mesh" not in surety(case, nothing, row)


def test_numbers_beyond_the_law_of_the_tissue_are_called_extrapolated():
    case, comparison = usual()
    pressed = replace(comparison.rows[0], tissue="heel_pad", quantity="compression_percent",
                      values=(58.0, 89.0, 40.0, None))
    beyond = replace(comparison, rows=(*comparison.rows, pressed))
    said = surety(case, beyond, comparison.rows[0])
    assert "more than the 65 % that" in said and "for: heel pad 89 %; these numbers" in said
    both = replace(comparison, rows=(*beyond.rows, replace(pressed, tissue="metatarsal_pad")))
    assert surety(case, both, comparison.rows[0]).count("extrapolated") == 1
    within = replace(comparison, rows=(replace(pressed, values=(58.0, 59.0, 40.0, None)),))
    assert "extrapolated" not in surety(case, within, comparison.rows[0])


def test_what_is_said_of_the_shipped_cases_is_in_their_table():
    """Every band and penalty of the committed studies lies within what the page says."""
    from fefoot.case.reader import read_case

    cases = RESULTS.with_name("RESULTS.md").parent.parent / "cases"
    text = RESULTS.read_text(encoding="utf-8").split("## Mesh and penalty studies")[1].split("\n## ")[0]
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in text.splitlines()
            if line.startswith("| ") and " / " in line]
    assert len(rows) >= 16
    for name, _, measure, values, _, _, _, penalty, _ in rows:
        known = KNOWN[read_case(cases / f"{name}.toml").model, measure.split(", ")[1]]
        meshes = [float(value) for value in values.split(" / ")]
        assert 100 * (max(meshes) - min(meshes)) / meshes[-1] <= known.mesh, name
        assert float(penalty) <= known.penalty, name


def test_what_is_said_of_the_steps_of_the_load_is_in_their_table():
    """No shipped case moves further than the page says, and one of each kind nearly as far."""
    from fefoot.case.reader import read_case

    text = RESULTS.read_text(encoding="utf-8").split("## Steps of the load")[1].split("\n## ")[0]
    moved = {}
    for line in text.splitlines():
        cells = [cell.strip() for cell in line.split("|")[1:-1]]
        if len(cells) > 3 and ", " in cells[2]:
            model = read_case(RESULTS.parent.parent / "cases" / f"{cells[0]}.toml").model
            moved.setdefault((model, cells[2].split(", ")[1]), []).append(float(cells[-1]))
    assert set(moved) == set(KNOWN)
    for kind, found in moved.items():
        assert max(found) <= KNOWN[kind].steps < max(found) + 1.0, kind


def test_the_findings_that_are_said_to_be_met_are_in_their_table():
    whole = RESULTS.read_text(encoding="utf-8")
    readme = " ".join(RESULTS.parent.parent.joinpath("README.md").read_text(encoding="utf-8").split())
    all_met = all_tried = 0
    for heading in ("## The largest force of every activity\n", "## Published findings\n",
                    "## Published findings, whole foot\n"):
        text = whole.split(heading)[1].split("\n## ")[0]
        rows = [line for line in text.splitlines() if line.count("|") > 9 and "moment arm," not in line]
        status = [line.split("|")[6].strip() for line in rows]
        met, missed = status.count("met"), status.count("**missed**")
        assert met and f"{met + missed} published findings" in readme
        all_met, all_tried = all_met + met, all_tried + met + missed
    assert f"of {all_tried} published findings tried on the model it met {all_met}." in CAUTIONS[2]
    case, _ = whole_foot()
    assert f"of {met + missed} published findings tried on it {met} are met" in assumptions(case)[0]


def test_maps_share_range_and_place_and_name_their_peaks():
    _, comparison = whole_foot()
    limits = shared_limits(comparison.outcomes)
    figures = [print_map(outcome, limits, "right") for outcome in comparison.outcomes]
    axes = [figure.axes[0] for figure in figures]
    assert len({a.get_xlim() for a in axes}) == 1 and len({a.get_ylim() for a in axes}) == 1
    colours = [a.collections[-1].get_clim() for a in axes]
    assert colours == [(0.0, limits.stress_kPa)] * 3
    scene = comparison.outcomes[0].picture.scene
    largest = scene.pressure_kPa.max()
    assert f"{largest:.0f}" in [t.get_text() for t in axes[0].texts]
    left = print_map(comparison.outcomes[0], limits, "left").axes[0]
    places = [sorted((round(t.get_position()[0], 3), t.get_text()) for t in a.texts)
              for a in (axes[0], left)]
    assert places[0] == sorted((-x if x else x, words) for x, words in places[1])


def test_peaks_are_local_and_apart(rng):
    plan = rng.uniform(0, 200, (2000, 2))
    hills = np.array([[50.0, 50.0], [150.0, 60.0], [100.0, 160.0], [112.0, 160.0]])
    heights = np.array([100.0, 60.0, 30.0, 25.0])
    field = (heights * np.exp(-((plan[:, None] - hills) ** 2).sum(axis=2) / 200)).max(axis=1)
    found = peaks(plan, field, 12.0)
    assert len(found) == 3  # the fourth hill is too close to the third
    for (x, y, value), hill, height in zip(found, hills, heights, strict=False):
        assert np.hypot(x - hill[0], y - hill[1]) < 6.0 and value == pytest.approx(height, rel=0.15)
    assert min(np.hypot(a[0] - b[0], a[1] - b[1]) for a in found for b in found if a != b) > APART_MM
    assert peaks(plan, np.zeros(2000), 0.0) == []


def test_the_part_with_maps_says_which_side_is_medial():
    case, comparison = whole_foot()
    right = picture_part(case, comparison)
    assert "toes up, medial side on the left" in right
    assert right.count("Map of the contact pressure") == 3
    left = picture_part(replace(case, person=replace(case.person, side="left")), comparison)
    assert "toes up, medial side on the right" in left


def test_every_device_is_drawn_with_its_sheet():
    case, _ = usual()
    html = device_part(case, build_sheets(case))
    assert html.count("Plan of") == len(case.devices) and html.count("<details>") == len(case.devices)
    # the shell ends behind the metatarsal heads: three sections, the others four
    assert [len(re.findall("Section", part)) for part in html.split("Plan of")[1:]] == [4, 4, 3]
    assert "length on the midline" in html


def test_what_the_slice_cannot_show_stands_first_among_the_cautions():
    posted = [{"name": "posted", "title": "insole with a post",
               "layer": [{"material": "eva_firm", "thickness_mm": 6}],
               "feature": [{"kind": "rearfoot_post", "angle_degrees": 6}]}]
    case = a_case(devices=posted)
    html = page(case, [a_comparison(case, pictures=False)], {}, {})
    first = re.search(r'id="cautions".*?<li>(.*?)</li>', html, re.DOTALL).group(1)
    assert "posted" in first and "rearfoot" in first
    assert "Caution: device 'posted'" in table(case, a_comparison(case, pictures=False))
    usual_case, comparison = usual()
    assert "Caution:" not in table(usual_case, comparison)


def test_dimensions_that_nobody_measured_are_marked():
    case = case_from_dict({
        "title": "t", "model": "sagittal", "target": "plantar_fascia",
        "person": {"body_mass_kg": 70, "length_mm": 243}, "activity": {"name": "standing"}})
    shown = dict(person_rows(case))
    assert shown["foot length, heel to longest toe"] == "243 mm"
    assert shown["width of the heel"] == "65 mm (default, not measured)"


def test_a_failure_comes_with_what_to_do_once():
    case, _ = usual()
    failed = a_comparison(case, ("arch",), False)
    why = "not converged: arch: the load could not be carried beyond 61 % of it: no equilibrium"
    outcomes = tuple(replace(o, failure=why) if o.failure else o for o in failed.outcomes)
    failed = replace(failed, outcomes=outcomes)
    html = unescape(page(case, [failed, replace(failed, stance_percent=90.0)], {}, {}))
    html = html.replace("\xa0", " ")
    assert html.count("What to do: lower the load, choose another instant") == 1
    assert "no equilibrium was found beyond 61 % of the load" in html
    both = check_sentence((*failed.outcomes, *failed.outcomes))
    assert both.count("failed") == 1


def test_what_is_said_of_a_finer_mesh_of_the_whole_foot_is_in_its_table():
    """No measure moves further than its band, and the worst of each band nearly as far."""
    text = RESULTS.read_text(encoding="utf-8").split(
        "## Mesh and penalty studies of the whole-foot cases")[1].split("\n## ")[0]
    rows = [[cell.strip() for cell in line.split("|")[1:-1]] for line in text.splitlines()
            if line.startswith(tuple(f"| {quantity} | " for quantity in FINER))]
    moved = {(quantity, tissue): abs(float(percent)) for quantity, tissue, _, percent, *_ in rows}
    assert set(moved) == {(quantity, tissue) for quantity, bands in FINER.items()
                          for tissues in bands.values() for tissue in tissues}
    for quantity, bands in FINER.items():
        for band, tissues in bands.items():
            assert band - 2.0 < max(moved[quantity, tissue] for tissue in tissues) <= band, quantity
    penalties = [float(line.split("|")[8]) for line in text.splitlines()
                 if line.startswith("| whole_foot") and line.count("|") == 10 and " / " in line
                 and line.split("|")[8].strip() not in ("-", "")]
    assert len(penalties) > 6 and max(penalties) <= WHOLE_FOOT_PENALTY
    whole, found = whole_foot()
    row = replace(found.rows[0], tissue="toe_pads", quantity="peak_pressure_kPa")
    assert "moved by up to 37 % from the coarse to a finer mesh" in surety(whole, found, row)
    slack = replace(found.rows[0], tissue="plantar_fascia_5")
    assert "was not compared on a finer mesh" in surety(whole, found, slack)
    near = replace(found.rows[0], values=(100.0, 90.0, 91.0))
    assert "take them as equal" in surety(whole, found, near)

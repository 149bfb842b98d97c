"""The first screen: devices in order, how sure it is; and the maps and drawings below it."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape

import numpy as np
import pytest
from report_cases import a_case, a_comparison, usual
from whole_foot import whole_foot

from fefoot.report import page
from fefoot.report.device_part import device_part
from fefoot.report.picture_part import picture_part
from fefoot.report.pictures import shared_limits
from fefoot.report.print_map import APART_MM, peaks, print_map
from fefoot.report.ranking import ranking
from fefoot.report.surety import surety
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
    assert "mesh moves such measures by up to 5 %" in sentence
    assert "0.8 %" in sentence and "load steps by up to 5 %" in sentence
    assert "fefoot certainty" in sentence and "take them as equal" not in sentence
    near = replace(row, values=(640.0, 520.0, 500.0, 660.0))
    assert "take them as equal" in surety(case, comparison, near)
    assert "take them as equal" not in surety(case, replace(comparison, best=None), near)
    across = replace(case, model="rearfoot")
    assert "load steps by up to 12 %" in surety(across, comparison, row)
    apart = replace(row, values=(640.0, 520.0, 470.0, 660.0))
    assert "take them as equal" in surety(across, comparison, apart)
    assert "take them as equal" not in surety(case, comparison, apart)
    whole, found = whole_foot()
    assert "have not been compared with measurements" in surety(whole, found, found.rows[0])
    failed = a_comparison(case, ("arch",), False)
    assert surety(case, failed, failed.rows[0]).startswith("‘insole that fills the arch’ failed:")


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

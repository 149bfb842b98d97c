"""The page of the whole foot in a real browser: safe, drawn, turned by keys, narrow and on paper."""

from __future__ import annotations

import re
import time
from dataclasses import replace

import numpy as np
import pytest
from browser import browser, found
from plate import plate_map, write_csv
from report_cases import a_case, a_comparison, several
from whole_foot import whole_foot

from fefoot.case import case_from_dict
from fefoot.report import page
from fefoot.study.store import build_sheets

pytestmark = [pytest.mark.slow, pytest.mark.skipif(
    found() is None, reason="no Chromium or Chrome was found to open the page with")]

HOSTILE = ('<script>window.taken = 1; alert("x")</script></title>\'"><img src=x '
           'onerror="window.taken=1"> \N{HEBREW LETTER ALEF}\N{HEBREW LETTER BET} '
           "\N{RIGHT-TO-LEFT OVERRIDE}abc " + "very long " * 9)


@pytest.fixture(scope="module", name="file")
def a_page(tmp_path_factory):
    case, comparison = whole_foot(2)
    case = replace(case, title=HOSTILE)
    outcomes = (comparison.outcomes[0], replace(comparison.outcomes[1], title=HOSTILE),
                comparison.outcomes[2])
    comparison = replace(comparison, outcomes=outcomes)
    start = time.perf_counter()
    html = page(case, [comparison], {"fefoot": "0"}, build_sheets(case))
    seconds, size_MB = time.perf_counter() - start, len(html.encode()) / 1e6
    print(f"page of a whole foot: {size_MB:.2f} MB, {seconds:.1f} s")
    path = tmp_path_factory.mktemp("page") / "report.html"
    path.write_text(html, encoding="utf-8")
    return path


@pytest.fixture(scope="module", name="tab")
def an_open_page(file, tmp_path_factory):
    with browser(tmp_path_factory.mktemp("profile")) as tab:
        tab.open(file)
        tab.until("document.getElementById('view-status').textContent.length > 10")
        yield tab


def test_nothing_leaves_the_file_and_no_error_is_said(tab, file):
    assert tab.value("document.getElementById('view').className") == "live"
    assert tab.errors == [] and tab.dialogs == []
    assert set(tab.requests) - {file.as_uri()} <= {
        url for url in tab.requests if url.startswith(("data:", "blob:", "about:"))}
    assert file.as_uri() in tab.requests


def test_the_policy_holds_against_a_script_of_another(tab):
    tab.value("(() => { const s = document.createElement('script'); "
              "s.textContent = 'window.taken = 1'; document.body.append(s); })()")
    assert tab.value("window.taken === undefined")
    assert any("Content Security Policy" in str(error) for error in tab.errors)
    tab.errors.clear()


def test_a_hostile_title_is_text(tab):
    title = tab.value("document.querySelector('h1').textContent")
    assert title.startswith('<script>window.taken = 1; alert("x")</script></title>')
    assert "very long" in title
    assert "\N{HEBREW LETTER ALEF}" in title and "\N{RIGHT-TO-LEFT OVERRIDE}" not in title
    assert tab.value("window.taken === undefined")
    assert tab.value("document.documentElement.scrollWidth <= innerWidth")


def test_the_view_is_drawn_and_answers(tab):
    shown = tab.pixels("#view-stage")
    ink = (np.abs(shown - 255) > 12).any(axis=2)
    assert 0.05 < ink.mean() < 0.9 and len(np.unique(shown[ink].reshape(-1, 3), axis=0)) > 500
    ranges = []
    for number in (0, 1, 2):
        tab.value(f"document.querySelector('input[value=\"{number}\"]').click()")
        tab.until(f"document.getElementById('view-stage').data.length > {5 if number else 4}")
        ranges.append(tab.value("(() => { const t = document.getElementById('view-stage').data"
                                ".find(t => t.intensity); return [t.cmin, t.cmax]; })()"))
    assert ranges[0] == ranges[1] == ranges[2] and ranges[0][1] > 100
    with_device = tab.pixels("#view-stage")
    assert _differ(shown, with_device) > 0.02
    tab.value("document.getElementById('view-skin').click()")
    bare = tab.pixels("#view-stage")
    assert _differ(bare, with_device) > 0.05
    tab.value("document.getElementById('view-bones').click()")
    assert _differ(tab.pixels("#view-stage"), bare) > 0.02
    tab.value("document.getElementById('view-bones').click()")
    tab.value("document.getElementById('view-skin').click()")


def test_pointing_reads_out_pressure_and_tension(tab):
    tab.value("document.querySelector('input[value=\"0\"]').click()")
    tab.value("document.querySelectorAll('button[data-look]')[2].click()")
    words = _pointed_at(tab)
    assert any(re.fullmatch(r"\d+ kPa", said) for said in words), words
    tab.value("document.getElementById('view-sole').click()")
    words = _pointed_at(tab)
    assert any(re.fullmatch(r".+, \d+ N", said) for said in words), words
    tab.value("document.getElementById('view-sole').click()")
    tab.value("document.querySelectorAll('button[data-look]')[0].click()")


def _pointed_at(tab):
    """What is said while the pointer crosses the view."""
    x, y, wide, high = tab.value(
        "(() => { const stage = document.getElementById('view-stage'); stage.scrollIntoView(); "
        "const r = stage.getBoundingClientRect(); return [r.x, r.y, r.width, r.height]; })()")
    said = set()
    for share in np.linspace(0.2, 0.8, 13):
        tab.ask("Input.dispatchMouseEvent", type="mouseMoved", x=x + share * wide, y=y + 0.45 * high)
        time.sleep(0.3)
        said |= set(tab.value("[...document.querySelectorAll('#view-stage .hovertext')]"
                              ".map(e => e.textContent)"))
    return said


def test_the_device_alone_is_grey(tab):
    """A surface that is added does not take over the colours of another."""
    tab.value("document.querySelector('input[value=\"0\"]').click()")
    tab.value("document.querySelector('input[value=\"2\"]').click()")
    parts = ("skin", "sole", "bones", "cables")
    for part in parts:
        tab.value(f"document.getElementById('view-{part}').click()")
    tab.until("document.getElementById('view-stage').data.length === 1")
    shown = tab.pixels("#view-stage")[5:-5, 5:-5]
    ink = shown[(np.abs(shown - 255) > 30).any(axis=2)]
    assert len(ink) > 2000 and np.quantile(np.ptp(ink, axis=1), 0.99) < 60
    for part in parts:
        tab.value(f"document.getElementById('view-{part}').click()")


def test_the_view_is_reached_and_turned_by_keys(tab):
    tab.value("document.activeElement.blur(); window.scrollTo(0, 0)")
    for _ in range(60):
        tab.press("Tab")
        if tab.value("document.activeElement.id") == "view-stage":
            break
    assert tab.value("document.activeElement.id") == "view-stage"
    before = tab.value("document.getElementById('view-stage').layout.scene.camera.eye")
    picture = tab.pixels("#view-stage")
    tab.press("ArrowLeft")
    tab.press("+")
    after = tab.value("document.getElementById('view-stage').layout.scene.camera.eye")
    far = [np.linalg.norm(list(eye.values())) for eye in (before, after)]
    turned = [np.degrees(np.arctan2(eye["y"], eye["x"])) for eye in (before, after)]
    assert far[1] == pytest.approx(0.9 * far[0]) and turned[0] - turned[1] == pytest.approx(10.0)
    assert _differ(tab.pixels("#view-stage"), picture) > 0.02


def test_on_paper_it_is_two_pages_with_a_still_picture(tab, tmp_path):
    case, comparison = whole_foot(2)
    (tmp_path / "plain.html").write_text(page(case, [comparison], {"fefoot": "0"}, {}))
    tab.open(tmp_path / "plain.html")
    tab.until("document.getElementById('view-status').textContent.length > 10")
    assert tab.value("getComputedStyle(document.querySelector('.still')).display") == "none"
    assert len(re.findall(rb"/Type\s*/Page\b", tab.pdf())) == 2
    tab.ask("Emulation.setEmulatedMedia", media="print")
    for selector, there in (("#view-stage", False), (".still", True), ("#answer", True),
                            ("#cautions", True), ("#costs", True), ("#target", True),
                            ("#pictures", True), ("#tissues", False)):
        shown = tab.value(f"document.querySelector('{selector}').checkVisibility()")
        assert shown == there, selector
    tab.ask("Emulation.setEmulatedMedia", media="")


@pytest.mark.parametrize("model", ["sagittal", "rearfoot", "foot3d"])
def test_many_devices_and_a_measured_map_are_still_two_pages(tab, tmp_path, model):
    devices = several(7)
    if model == "foot3d":
        case, comparison = whole_foot(len(devices))
        write_csv(tmp_path / "plate.csv", plate_map(comparison.outcomes[0].picture.scene, 6.0)[0])
        case = case_from_dict(
            {"title": "many", "model": model, "target": case.target, "person": {"body_mass_kg": 72},
             "activity": {"name": "walking"}, "device": devices,
             "measured_pressure": {"file": "plate.csv", "spacing_mm": 6}}, str(tmp_path / "case.toml"))
        comparison = replace(comparison, stance_percent=case.measured_pressure.stance_percent)
    else:
        case = a_case(model, {"sagittal": "plantar_fascia"}.get(model, "subtalar_joint"), devices)
        comparison = a_comparison(case)
    (tmp_path / "many.html").write_text(page(case, [comparison], {"fefoot": "0"}, {}))
    tab.open(tmp_path / "many.html")
    if model == "foot3d":
        tab.until("document.getElementById('view-status').textContent.length > 10")
    assert len(re.findall(rb"/Type\s*/Page\b", tab.pdf())) == 2
    tab.ask("Emulation.setEmulatedMedia", media="print")
    on_paper = ("[...document.querySelectorAll('{}')].filter(e => e.checkVisibility()).length")
    assert tab.value(on_paper.format("table.ranking tbody tr")) == 4
    assert tab.value(on_paper.format(".pictures figure.section")) == 5
    assert tab.value("document.querySelector('#costs').innerText").count("four of seven devices") == 1
    tab.ask("Emulation.setEmulatedMedia", media="")
    assert tab.value(on_paper.format("table.ranking tbody tr")) == 7
    assert tab.value(on_paper.format(".pictures figure.section")) == 8


def test_it_fits_a_phone(tab, file):
    drawn = "document.querySelector('#view-stage svg').getBoundingClientRect().width"
    tab.open(file, width=1000, height=800)
    tab.until("document.getElementById('view-status').textContent.length > 10")
    assert tab.value(drawn) > 500
    tab.resize(390, 800)
    tab.until(f"{drawn} <= 390")
    assert tab.value("document.documentElement.scrollWidth") <= 390
    tab.open(file, width=390, height=800)
    tab.until("document.getElementById('view-status').textContent.length > 10")
    assert tab.value("document.documentElement.scrollWidth") <= 390 and tab.value(drawn) <= 390
    assert tab.errors == []


def _differ(one, other) -> float:
    """The share of pixels that differ visibly."""
    return float((np.abs(one - other).max(axis=2) > 16).mean())

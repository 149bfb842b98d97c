"""The page: complete, safe, self-contained, and honest about failures."""

from __future__ import annotations

import base64
import re
from dataclasses import replace
from html import unescape
from html.parser import HTMLParser

import pytest
from report_cases import DEVICES, a_case, a_comparison, compared, usual

from fefoot.case.tissues import TISSUES
from fefoot.outcome.quantities import QUANTITIES
from fefoot.report import page
from fefoot.report.answer import CAUTIONS
from fefoot.report.wording import labels, value_text

PROVENANCE = {"fefoot": "0.1.0", "versions": {"numpy": "2.0"}, "solver": "direct", "seconds": 3.25}
SHEETS = {"lift": [("length on the midline", 251.25, "mm"), ("layer 1 material", "felt_grey", "")]}
VOID = {"meta", "img", "br"}


def made(case, *comparisons):
    return page(case, comparisons, PROVENANCE, SHEETS)


def words(html):
    """What a reader sees, blanks made plain."""
    body = html[html.index("<body>"):]
    return " ".join(unescape(re.sub(r"<[^>]*>", " ", body)).split())


class Outline(HTMLParser):
    """Checks that every tag is closed in order; keeps tags with their attributes."""

    def __init__(self):
        super().__init__()
        self.open, self.seen = [], []

    def handle_starttag(self, tag, attrs):
        self.seen.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def outline(html):
    parser = Outline()
    parser.feed(html)
    parser.close()
    assert parser.open == []
    return parser.seen


@pytest.fixture(scope="module", name="html")
def usual_page():
    return made(*usual())


def test_page_is_self_contained_and_small(html):
    assert len(html) < 3_000_000
    plain = re.sub(r"base64,[A-Za-z0-9+/=]*", "", html)
    assert "://" not in plain and "url(" not in plain and "@import" not in plain
    for svg in re.findall(r"image/svg\+xml;base64,([A-Za-z0-9+/=]*)", html):
        inside = base64.b64decode(svg).decode()
        assert not set(re.findall(r"https?://[^\"' >]*", inside)) - {
            "http://www.w3.org/2000/svg", "http://www.w3.org/1999/xlink"}
    tags = outline(html)
    assert not {"script", "link", "iframe", "object"} & {tag for tag, _ in tags}
    assert all(a["src"].startswith("data:image/") for tag, a in tags if tag == "img")


def test_page_is_accessible(html):
    tags = outline(html)
    assert ("html", {"lang": "en"}) in tags
    assert any(a.get("name") == "viewport" for tag, a in tags if tag == "meta")
    images = [a for tag, a in tags if tag == "img"]
    assert len(images) >= 7 and all(len(a["alt"]) > 20 for a in images)
    ids = [a["id"] for _, a in tags if "id" in a]
    assert len(ids) == len(set(ids))


def test_every_row_appears_with_every_value(html, comparison):
    table = html[html.index('<section id="tissues"'):html.index('<section id="checks"')]
    lines = re.findall(r"<tr class=.*?</tr>", table)
    assert len(lines) == len(comparison.rows)
    tissue = ""
    for line, row in zip(lines, comparison.rows, strict=True):
        found = re.search(r'scope="rowgroup"[^>]*>([^<]*)', line)
        tissue = found.group(1) if found else tissue
        assert tissue == TISSUES[row.tissue].title
        assert QUANTITIES[row.quantity].title in words("<body>" + line)
        for value in row.values:
            assert f'<td class="number">{value_text(value, row.quantity)}<' in line


def test_answer_cautions_and_expectation_are_in_words(html, case):
    text = words(html)
    assert "lowers the tension in the plantar fascia most: 640 → 518 N (−19 %)." in text
    assert case.expect in text
    for caution in CAUTIONS:
        assert caution in text
    for word in ("diagnosis", "prescription", "not a prediction of injury", "licensed practice"):
        assert word in text


def test_better_and_worse_do_not_rest_on_colour(html):
    assert re.search(r'class="change less"><span[^>]*>▼</span><span class="hidden">less</span>',
                     html)
    assert re.search(r'class="change more"><span[^>]*>▲</span><span class="hidden">more</span>',
                     html)


def test_titles_are_escaped():
    wild = '<script>alert("x")</script> & $\\frac{$'
    devices = [dict(DEVICES[0], title=wild), DEVICES[1]]
    case = a_case(devices=devices, title=wild, expect=wild)
    html = made(case, a_comparison(case))
    assert "<script" not in html
    assert "&lt;script&gt;" in html
    outline(html)


def test_a_failed_condition_shows_its_reason_and_no_number(case):
    failed = a_comparison(case, failures=("arch",))
    html = made(case, failed)
    text = words(html)
    reason = "failed: no equilibrium at 61 % of the load"
    assert text.count(reason) >= 6  # answer, two tables of measures, costs, shares, checks, picture
    column = [o.name for o in failed.outcomes].index("arch")
    shown = set(re.findall(r'<td class="number">([^<]*)<', html))
    unfailed = a_comparison(case, pictures=False)
    own = {value_text(r.values[column], r.quantity) for r in unfailed.rows}
    others = {value_text(v, r.quantity) for r in failed.rows for v in (*r.values, r.strength)}
    assert len(own - others) > 20
    assert not shown & (own - others)
    assert own <= set(re.findall(r'<td class="number">([^<]*)<', made(case, unfailed)))
    assert "518 N" not in text


def test_failed_foot_without_device_gives_no_comparison(case):
    text = words(made(case, a_comparison(case, failures=("barefoot",))))
    assert "There is no comparison: the foot without a device could not be computed." in text
    assert "%)" not in text[:text.index("Read with caution")]


def test_all_conditions_failed(case):
    everything = ("barefoot", "lift", "arch", "shell")
    text = words(made(case, a_comparison(case, failures=everything)))
    assert "There is no answer: nothing could be computed." in text
    assert text.count("failed: no equilibrium") >= 4


def test_missing_strength_is_a_dash(html, comparison):
    row = next(r for r in comparison.rows if r.strength is None)
    table = html[html.index('<section id="tissues"'):html.index('<section id="checks"')]
    line = re.findall(r"<tr class=.*?</tr>", table)[comparison.rows.index(row)]
    assert line.endswith('<td class="number">–</td></tr>')


def test_only_the_bare_foot():
    case = a_case(devices=[])
    text = words(made(case, a_comparison(case)))
    assert "Without a device, the tension in the plantar fascia is 640 N." in text


def test_several_instants_show_the_worst_and_list_the_others(case):
    instants = [a_comparison(case, ("lift",) if p == 12 else (), False, p, scale)
                for p, scale in ((12.0, 0.5), (50.0, 1.0), (77.0, 0.8))]
    text = words(made(case, *instants))
    assert "The answer, at 50 % of stance" in text
    assert "50 % (shown below)" in text
    short = text[text.index("Over stance"):text.index("Every tissue over stance")]
    assert "failed: no equilibrium at 61 % of the load" in short
    assert "320 N" in short and "512 N" in short


def test_failing_check_is_named(case):
    good = a_comparison(case, pictures=False)
    lift = good.outcomes[1]
    bad = replace(lift.checks[0], value=0.2, passed=False)
    outcomes = list(good.outcomes)
    outcomes[1] = replace(lift, measures=(), failure="force balance 0.2 is above 0.001",
                          checks=(bad, *lift.checks[1:]))
    html = made(case, compared(case, tuple(outcomes)))
    assert "✗ fail" in html
    assert "failed: force balance 0.2 is above 0.001" in words(html)


def test_a_device_that_grew_under_load_is_named(case, comparison):
    assert "Solved by another path" not in words(made(case, comparison))
    bare, first, *others = comparison.outcomes
    grew = replace(first, cost={**first.cost, "grown_from": 0.5})
    text = words(made(case, compared(case, (bare, grew, *others))))
    (sentence,) = re.findall(r"Solved by another path: [^.]*\.", text)
    assert "77 %" in sentence and sentence.count(" at ") == 1
    name = labels((bare, grew, *others))[1]
    said = f"Grown under the load, since it could not be loaded as it is: {name}. It compares only"
    assert text.index(said) < text.index("How this was computed")


def test_a_solve_that_went_down_the_energy_is_named(case, comparison):
    assert "Solved past a fold" not in words(made(case, comparison))
    bare, *others = comparison.outcomes
    fell = replace(bare, cost={**bare.cost, "descents": 2})
    text = words(made(case, compared(case, (fell, *others))))
    (sentence,) = re.findall(r"Solved past a fold: [^.]*\.", text)
    assert "77 %" in sentence and sentence.count(" at ") == 1


def test_build_sheets_and_provenance_are_listed(html):
    text = words(html)
    for part in ("length on the midline 251.2 mm", "felt grey", "versions: numpy 2.0", "3.25",
                 "insole that fills the arch, 77 % 4.2 31 24 cholesky"):
        assert part in text


def test_sources_of_all_materials_are_given(html, case):
    text = words(html)
    for name in case.material_names():
        assert " ".join(case.material(name).source.split()) in text


def test_same_input_gives_the_same_page(case, comparison, html):
    assert made(case, comparison) == html


def test_no_comparison_is_refused(case):
    with pytest.raises(ValueError, match="at least one comparison"):
        page(case, [], {}, {})

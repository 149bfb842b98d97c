"""The studies' tables: nothing split, numbers in one form, room for words."""

import re

from fefoot.report.study_page import _STYLE, wide_table
from fefoot.report.study_terminal import percent, wrapped

REASON = "no equilibrium was found beyond 61 % of the load (no equilibrium after 30 Newton iterations)"


def classes(html, tag):
    return re.findall(rf'<{tag}[^>]*class="([^"]*)"', html)


def test_columns_are_short_numbers_or_words_with_room():
    html = wide_table(["design", "cover", "tension", "change", "what rises most"], [
        (8, "eva_firm", "411 N", "−16 %", REASON), (10, "eva_soft", "–", "+1.5 %", "nothing")])
    assert classes(html, "td")[:4] == ["short", "short number", "short number", "long"]
    assert classes(html, "th")[0] == "short number" and html.startswith('<div class="wide">')
    assert html.count("<tr>") == 3 and "411&nbsp;N" in html and "−16&nbsp;%" in html


def test_cells_are_escaped_and_long_headings_have_room():
    html = wide_table(["a", "peak pressure on the sole under the midfoot"], [("<b>", "33 kPa")])
    assert "&lt;b&gt;" in html and "<b>" not in html
    assert classes(html, "th")[1] == "short number wordy"
    assert "<tbody></tbody>" in wide_table(["a"], [])


def test_percentages_have_one_form_in_the_terminal():
    assert (percent(-16.2), percent(3.25), percent(None)) == ("-16 %", "+3.2 %", "-")


def test_a_number_stays_with_its_unit():
    for width in range(40, 70):
        for line in wrapped("It rises by as much as 120 % to 48 kPa, or by 3 mm at 490 N. " * 3, width):
            assert len(line) <= width and not line.startswith(("%", "kPa", "mm", "N."))


def test_the_style_of_a_study_splits_no_word_and_no_number():
    rules = dict(re.findall(r"^(table\.study[^{]*?) \{ ([^}]*) \}", _STYLE, re.MULTILINE))
    assert "overflow-wrap: normal" in rules["table.study th, table.study td"]
    assert rules["table.study .short"] == "white-space: nowrap;"
    assert re.fullmatch(r"min-width: 1\d(\.\d)?rem;", rules["table.study td.long"])

"""The page of a certainty study."""

from __future__ import annotations

from ..study.certainty import Certain
from ..study.certainty_table import devices_of, leading
from .certainty_charts import bands, index_bars
from .certainty_words import headline, matters, points, title_of, verdict
from .study_page import computed_section, document, person_and_load, section, wide_table
from .style import svg_uri
from .sweep_words import value_of, when
from .tables import figure, image, plain_table
from .wording import capital, percent_text, phrase

CHARTED, MISSING_SHOWN = 12, 20


def certainty_page(found: Certain, facts: dict) -> str:
    """Return the page of a certainty study; ``facts`` says what ran (`study_provenance`)."""
    case = found.case
    (instant,) = case.activity.instants()
    rows = [s for device in devices_of(found) for s in leading(found, device)
            if s.tissue == case.target]
    sure = any(s.high < 0.0 for s in rows)
    parts = [section(f"device-{n}", f"‘{title_of(found, device)}’: change of each tissue",
                     _device(found, device)) for n, device in enumerate(devices_of(found), 1)]
    if found.missing:
        parts.append(section("missing", "Samples without an answer", wide_table(
            ("sample", "condition", "reason"), found.missing[:MISSING_SHOWN])))
    parts += [section("unknowns", "What was varied", _unknowns(found)),
              computed_section(facts, [("samples", str(len(found.samples) - 1))])]
    return document(
        case, kind="Foot and device: how certain is the answer?",
        question="How far does the change in each tissue depend on what nobody can measure in this "
                 "person?",
        facts=person_and_load(case, when(instant.stance_percent)), headline=headline(found),
        points=points(found), tone="better" if sure else "none" if rows else "failed", sections=parts)


def _device(found: Certain, device: str) -> str:
    rows = leading(found, device)
    if not rows:
        return "<p>There is no answer for this device.</p>"
    out = figure(
        image(svg_uri(bands(rows[:CHARTED], found.case.target)), "Band of the change of each tissue",
              "chart"),
        "Bar: the middle 90 % of the samples. Dot: median. Blue: less, orange: more, each in at least "
        "90 % of the samples; grey: even the sign is open.")
    target = [s for s in rows if s.tissue == found.case.target]
    if target and target[0].indices:
        drawn = svg_uri(index_bars(target[0]))
        out += "<h3>Which unknown makes the change of the target vary</h3>" + figure(
            image(drawn, "Sensitivity indices of the target's change", "chart"),
            "An index of 0.6 means: six tenths of the variance would vanish if this were known.")
    return out + wide_table(
        ("measure", "as in the case", "median", "5 to 95 %", "sign", "varies most with"),
        [(capital(phrase(*s.key).removeprefix("the ")), percent_text(s.case_percent),
          percent_text(s.median), f"{percent_text(s.low)} to {percent_text(s.high)}", verdict(s),
          matters(s)) for s in rows], kind="")


def _unknowns(found: Certain) -> str:
    rows = []
    for u in found.unknowns:
        spread = ", ".join(value_of(v) for v in u.among) if u.among else \
            f"{u.low:g} to {u.high:g}, even" if u.low is not None else \
            f"{u.middle:g} ± {u.spread:g}, normal, cut off at two"
        rows.append((u.name.replace("_", " "), u.of, spread, u.source))
    return plain_table(rows, ("unknown", "value of the case", "spread", "source"), "sources")

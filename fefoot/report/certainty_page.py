"""The page of a certainty study."""

from __future__ import annotations

from ..study.certainty import Certain, Spread
from ..study.certainty_table import devices_of, leading
from .certainty_charts import bands, index_bars
from .certainty_words import (
    MATTERS,
    TOO_FEW,
    headline,
    matters,
    more_samples,
    points,
    title_of,
    too_rough,
    verdict,
)
from .study_page import computed_section, document, person_and_load, section, wide_table
from .style import svg_uri
from .sweep_words import value_of, when
from .tables import figure, image, plain_table
from .wording import capital, percent_text, phrase, tissue_title

CHARTED, MISSING_SHOWN = 12, 20
TOTAL = ("Bar: total index, the share of the variance of the change that would be left on average if "
         "everything but this were known; it counts what this does alone and together with others, so "
         "that the bars may add up to more than one.")
FIRST = ("Mark: first-order index, the share by which the variance would fall on average if this alone "
         "were known. Definitions: Saltelli et al. (2010).")


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
    if found.beyond:
        parts.append(section("beyond", "Samples beyond the range of a material's law", _beyond(found)))
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
        "90 % of the samples; grey: even the sign is open, or hardly a change. Arrow: it goes on to "
        "the number beside it.")
    target = [s for s in rows if s.tissue == found.case.target]
    if target and target[0].indices:
        out += "<h3>Which unknown makes the change of the target vary</h3>" + _indices(found, target[0])
    return out + wide_table(
        ("measure", "as in the case", "median", "5 to 95 %", "sign", "varies most with"),
        [(capital(phrase(*s.key).removeprefix("the ")), percent_text(s.case_percent),
          percent_text(s.median), f"{percent_text(s.low)} to {percent_text(s.high)}", verdict(s),
          matters(s)) for s in rows]) + (
        f'<p class="key">Varies most with: total indices of at least {MATTERS:g}, the largest first.'
        "</p>" if any(s.indices for s in rows) else "")


def _indices(found: Certain, spread: Spread) -> str:
    """Return the chart of a change's indices, or why there is none."""
    rough = more_samples(found) if too_rough(spread) else ""
    if not any(index.total_known for index in spread.indices):
        return f"<p>There are {TOO_FEW}. {rough}</p>"
    return figure(
        image(svg_uri(index_bars(spread)), "Sensitivity indices of the target's change", "chart"),
        " ".join([TOTAL, FIRST, rough]).strip())


def _beyond(found: Certain) -> str:
    """Return the samples in which soft tissue is compressed beyond the range of its law."""
    rows = [("the case" if entry.sample == 0 else entry.sample, entry.condition,
             tissue_title(entry.pad), entry.material,
             percent_text(entry.compression_percent, sign=False),
             percent_text(entry.meant_percent, sign=False))
            for entry in sorted(found.beyond, key=lambda e: e.meant_percent - e.compression_percent)]
    more = len(rows) - MISSING_SHOWN
    return wide_table(("sample", "condition", "soft tissue", "material", "compressed by", "meant for"),
                      rows[:MISSING_SHOWN]) + (
        f"<p>and {more} more, in summary.json.</p>" if more > 0 else "")


def _unknowns(found: Certain) -> str:
    rows = []
    for u in found.unknowns:
        spread = ", ".join(value_of(v) for v in u.among) if u.among else \
            f"{u.low:g} to {u.high:g}, even" if u.low is not None else \
            f"{u.middle:g} ± {u.spread:g}, normal, cut off at two"
        rows.append((u.name.replace("_", " "), u.of, spread, u.source))
    return plain_table(rows, ("unknown", "value of the case", "spread", "source"), "sources")

"""The page of a sweep."""

from __future__ import annotations

from ..study.choice import designs_only, front, leading_key, ranked, shown_instant, worst_rise_percent
from ..study.sweep import Swept
from .study_page import computed_section, document, person_and_load, section, wide_table
from .style import svg_uri
from .sweep_charts import effects, trade_off
from .sweep_words import headline, points, rises_text, value_of, when
from .tables import figure, image, plain_table
from .wording import capital, percent_text, phrase, value_text

BEST_SHOWN, FRONT_SHOWN, FAILURES_SHOWN = 20, 25, 20


def sweep_page(swept: Swept, facts: dict) -> str:
    """Return the page of a sweep; ``facts`` says what ran (`study_provenance`)."""
    case, key, at = swept.case, leading_key(swept.case), shown_instant(swept)
    lines = designs_only(swept, at)
    best = ranked(lines, key)
    trade = front(lines, key, lambda line: worst_rise_percent(line, key[0]))
    names = [entry.name for entry in case.studies.sweep.vary]
    tone = "failed" if not best else "better" if best[0].change_percent(key) < -1.0 else "none"
    parts = []
    if best:
        parts = [
            section("trade-off", "What relief costs elsewhere", figure(
                image(svg_uri(trade_off(lines, key)), f"Change of {phrase(*key)} against the largest "
                      "rise in any other tissue, a dot per design", "chart")
                if len(best) > 1 else "",
                "Each dot is a design, solved and compared with no device. To the left: more relief of "
                "the target. Up: more paid elsewhere (0: nothing rises by more than 5 %). Numbers "
                "belong to the table below.") + wide_table(_head(names, key), [
                    _cells(line, names, key) for line in trade[:FRONT_SHOWN]])),
            section("effects", "What each value does to the target", figure(
                image(svg_uri(effects(lines, key, names)), "Change of the target over each value",
                      "chart"),
                "Every design over each of its values; orange: the median at that value.")),
            section("best", f"The {min(len(best), BEST_SHOWN)} designs that relieve the target most",
                    wide_table(_head(names, key), [
                        _cells(line, names, key) for line in best[:BEST_SHOWN]])),
        ]
    failed = [line for line in lines if line.failure]
    if failed:
        parts.append(section("failed", f"{len(failed)} designs without an answer", wide_table(
            ["design", *names, "reason"],
            [[line.design, *(value_of(line.varied[n]) for n in names), line.failure]
             for line in failed[:FAILURES_SHOWN]])))
    parts += [section("space", "The design space", space_table(case)),
              computed_section(facts, [("sampling", case.studies.sweep.sampling.replace("_", " "))])]
    return document(
        case, kind="Foot and device: computed design space",
        question=f"Which of {len(swept.designs)} designs lowers {phrase(*key)} most, and what does it "
                 "cost elsewhere?",
        facts=person_and_load(case, when(at)), headline=headline(swept), points=points(swept),
        tone=tone, sections=parts)


def space_table(case) -> str:
    """Return the varied values as a table."""
    rows = []
    for entry in case.studies.sweep.vary:
        spread = ", ".join(value_of(v) for v in entry.among) if entry.among else \
            f"{entry.low:g} to {entry.high:g}" + (f", step {entry.step:g}" if entry.step else "")
        rows.append((entry.name, entry.of, spread))
    return plain_table(rows, ("name", "value of the case", "from the list or range")) + (
        "<p>Some combinations are excluded by the case.</p>" if case.studies.sweep.exclude else "")


def _head(names, key) -> list[str]:
    return ["design", "device", *names, capital(phrase(*key).removeprefix("the ")), "change",
            "what rises most"]


def _cells(line, names, key) -> list:
    return [line.design, line.condition, *(value_of(line.varied[n]) for n in names),
            value_text(line.row.values[key], key[1], unit=True),
            percent_text(line.change_percent(key)), rises_text(line, 2)]

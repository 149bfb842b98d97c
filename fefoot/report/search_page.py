"""The page of a search."""

from __future__ import annotations

from ..study.choice import leading_key, shown_instant
from ..study.search import Found
from .search_charts import left_out, progress, trade_off
from .search_words import NUMBERS, headline, limit_text, points, question, row_of, shown_lines
from .study_page import computed_section, document, person_and_load, section, wide_table
from .style import svg_uri
from .sweep_page import space_table
from .sweep_words import when
from .tables import figure, image, plain_table
from .wording import capital, phrase


def _measure(what: str) -> str:
    """Return what a surrogate models in words."""
    return "change of the target" if what == "target" else phrase(*what.split(".")).removeprefix("the ")


def search_page(found: Found, facts: dict) -> str:
    """Return the page of a search; ``facts`` says what ran (`study_provenance`)."""
    case = found.swept.case
    asked, key = case.studies.search, leading_key(case)
    names = [entry.name for entry in case.studies.sweep.vary]
    limits = [limit_text(limit) for limit in asked.limits]
    head = ["design", *names, capital(phrase(*key).removeprefix("the ")), "change",
            *(limit.split(" up by ")[0].split(" at most ")[0].removeprefix("the ")
              for limit in limits), "meets"]
    parts = [
        section("designs", "The designs that answer" if found.answers else "The nearest designs",
                wide_table(head, [row_of(line, found, names) for line in shown_lines(found)])
                + ("<p>Limits: " + "; ".join(limits) + ".</p>" if limits else "")
                + f'<p class="key">{NUMBERS}</p>'),
        section("trade-off", "What relief costs", figure(
            image(svg_uri(trade_off(found)), "Change of the target against the worst limit", "chart"),
            "Each dot is a solved design. Dashed: the wanted reduction"
            + (" and the limits; shaded: where both are met." if limits else "."))),
        section("search", "How the search went", figure(
            image(svg_uri(progress(found)), "Best change within limits over solved designs", "chart"),
            "The best design within the limits so far; dashed: the wanted reduction.")),
        section("surrogate", "What the surrogate is worth", figure(
            image(svg_uri(left_out(found)), "Predicted against solved, each design left out", "chart"),
            "Each design predicted from all the others, against its solve. The surrogate only proposes "
            "designs; no number on this page comes from it.") + plain_table(
                [(_measure(fit.what), f"{fit.error:.3g} {fit.unit}", f"{fit.span:.3g} {fit.unit}")
                 for fit in found.fits], ("measure", "leave-one-out error", "span of the solves"))),
        section("space", "The design space", space_table(case)),
        computed_section(facts, [("designs", f"{len(found.swept.designs)} solved, of at most "
                                  f"{asked.solves}; {found.ended}")]),
    ]
    return document(
        case, kind="Foot and device: search for a design", question=question(found),
        facts=person_and_load(case, when(shown_instant(found.swept))), headline=headline(found),
        points=points(found), tone="better" if found.answers else "none", sections=parts)

"""The frame of a study's page: one self-contained HTML document, like the report of a comparison."""

from __future__ import annotations

import re
from collections.abc import Sequence
from importlib import resources

from ..case.values import Case
from ..study.counter import duration
from .answer import CAUTIONS
from .page import SEEN
from .tables import plain_table, text

_STYLE = """\
table.study th, table.study td { overflow-wrap: normal; padding-right: 1rem; }
table.study:not(.measures) th.short:first-child { min-width: 3.5rem; }
table.study .short { white-space: nowrap; }
table.study thead .short { white-space: normal; }
table.study td.long { min-width: 14rem; }
table.study:not(.measures) th.long { min-width: 10.5rem; }
table.study .wordy { min-width: 9rem; }
table.study .number { text-align: right; }
.pairs td, .sources td, .sources th { overflow-wrap: break-word; }
@media (max-width: 46rem) { table.study td.long { min-width: 18rem; } }
@media print { table.study td.long, table.study:not(.measures) th.long { min-width: 7rem; }
  table.study th, table.study td { padding-right: 0.5rem; } }
"""
SHORT, WORDY = 34, 20
"""Columns whose cells have no more signs than the first are never wrapped; headings with more than the
second get room for their words."""
_NUMBER = re.compile(r"[+−-]?\d[\d.,]*( ?(%|N|Nm|N m|mm|kPa|MPa|°))?|–")


def document(case: Case, *, kind: str, question: str, facts: str, headline: str,
             points: Sequence[str], tone: str, sections: Sequence[str]) -> str:
    """Return the page.

    Parameters
    ----------
    kind : str
        What sort of study it is, in a few words.
    question, facts, headline : str
    points : sequence of str
        Sentences that qualify the headline.
    tone : {"better", "none", "failed"}
        Colour of the answer.
    sections : sequence of str
        HTML after answer and cautions.
    """
    css = resources.files(__package__).joinpath("style.css").read_text(encoding="utf-8")
    policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
    listed = "".join(f"<li>{text(point)}</li>" for point in points)
    warned = "".join(f"<li>{text(line)}</li>" for line in CAUTIONS)
    body = [
        f'<header><p class="kind">{text(kind)}</p><h1>{text(case.title)}</h1>'
        f'<p class="question">{text(question)}</p><p class="facts">{text(facts)}</p></header>',
        f'<section id="answer" class="{tone}" aria-labelledby="answer-title"><div>'
        f'<h2 id="answer-title">The answer</h2><p class="headline">{text(headline)}</p>'
        f"<ul>{listed}</ul></div></section>",
        '<section id="cautions" aria-labelledby="cautions-title">'
        f'<h2 id="cautions-title">Read with caution</h2><ul>{warned}</ul></section>', *sections]
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        f"<title>{text(case.title)}</title>\n<style>\n{css}{_STYLE}</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(part for part in body if part) + "\n</main>\n</body>\n</html>\n")


def section(name: str, title: str, body: str) -> str:
    """Return a titled section."""
    return f'<section id="{name}" aria-labelledby="{name}-title">' \
           f'<h2 id="{name}-title">{text(title)}</h2>\n{body}</section>'


def person_and_load(case: Case, when: str) -> str:
    """Return person, activity, instant and model in one line."""
    return (f"{case.person.side} foot, {case.person.length_mm:g} mm long, body mass "
            f"{case.person.body_mass_kg:g} kg · {case.activity.activity.title}, {when} · "
            f"{SEEN[case.model]}")


def wide_table(head: Sequence[str], rows: Sequence[Sequence[object]]) -> str:
    """Return a table that scrolls sideways on a narrow screen; its first column names the rows.

    Columns of numbers stand to the right, short ones are never wrapped, others have room.
    """
    kinds = [_kind([str(row[k]) for row in rows]) for k in range(len(head))]
    top = "".join(f'<th scope="col" class="{kind}{" wordy" * (len(h) > WORDY)}">{text(h)}</th>'
                  for h, kind in zip(head, kinds, strict=True))
    body = "".join(
        "<tr>" + "".join(
            f'<th scope="row" class="{kind}">{text(cell)}</th>' if k == 0 else
            f'<td class="{kind}">{text(cell)}</td>'
            for k, (cell, kind) in enumerate(zip(row, kinds, strict=True))) + "</tr>"
        for row in rows)
    return (f'<div class="wide"><table class="study"><thead><tr>{top}</tr></thead>'
            f"<tbody>{body}</tbody></table></div>")


def _kind(cells: Sequence[str]) -> str:
    """Return the class of a column."""
    if cells and all(_NUMBER.fullmatch(cell) for cell in cells):
        return "short number"
    return "short" if all(len(cell) <= SHORT for cell in cells) else "long"


def computed_section(facts: dict, extra: Sequence[tuple[str, str]] = ()) -> str:
    """Return the section that says what ran and where."""
    runs = facts["runs"]
    rows = [*extra,
            ("runs", f"{runs['wanted']}: {runs['computed']} computed now, {runs['reused']} reused from "
             f"the store, {runs['failed']} failed"),
            ("time", duration(facts["wall_seconds"])), ("computed on", facts["computed_on"]),
            ("random seed", facts["random_seed"]),
            ("fefoot", f"{facts['fefoot']}, physics {facts['physics']}"),
            ("libraries", ", ".join(f"{k} {v}" for k, v in facts["libraries"].items()))]
    return section("method", "How this was computed", (
        "<p>Every run is one solve of its own, from the unloaded foot, with one thread; a row does not "
        "depend on the others. Model, assumptions and limits are those of a comparison of the same "
        "case.</p>") + plain_table(rows, kind="pairs"))

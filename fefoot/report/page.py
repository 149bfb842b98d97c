"""The report: one self-contained HTML page that a practitioner can read and print."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from importlib import resources
from pathlib import PurePath

from ..case.cautions import cautions
from ..case.values import Case
from ..outcome.measured import compared_pressure
from ..outcome.values import Comparison, Outcome
from ..study.reasons import advice
from . import method
from .answer import (
    CAUTIONS,
    answer,
    leading_row,
    over_the_step,
    when_words,
    worst_index,
)
from .charts import target_bars
from .course import stance_parts
from .device_part import device_part
from .measured_part import measured_part
from .picture_part import picture_part
from .pictures import shared_limits
from .ranking import ranking
from .scan_picture import scan_figure
from .style import png_uri, svg_uri
from .surety import surety
from .tables import (
    LEGEND,
    check_sentence,
    checks,
    definitions,
    figure,
    image,
    measures,
    plain_table,
    shares,
    text,
)
from .view3d import View, view
from .wording import (
    capital,
    counted,
    failure_text,
    labels,
    phrase,
    tissue_title,
    value_text,
)

SCAN_DPI = 110
PAPER = ('<p class="paper key">On paper: the answer, the target and pictures. The page itself also '
         "has all tissues, device drawings, checks, assumptions and sources; measures.csv has every "
         "number.</p>")
SEEN = {"sagittal": "slice: along the foot", "rearfoot": "slice: across the heel",
        "foot3d": "the whole foot"}

Sheets = dict[str, list[tuple[str, object, str]]]


def page(case: Case, comparisons: Sequence[Comparison], provenance: dict, sheets: Sheets) -> str:
    """Return the report of a case as one HTML document without any outside resource.

    Parameters
    ----------
    case : Case
    comparisons : sequence of Comparison
        One per instant solved; tables and pictures show the one that loads the target most.
    provenance : dict
        What ran: versions, solver, times; nested dicts become labels.
    sheets : dict of device name -> list of (label, value, unit)
        Build sheets.

    Raises
    ------
    ValueError
        When there is no comparison.
    """
    if not comparisons:
        raise ValueError("a report needs at least one comparison")
    worst = worst_index(case, comparisons)
    shown = comparisons[worst]
    measured = compared_pressure(case, comparisons)
    turned = view(case, shown) or View("")
    seen = "Under the foot" if case.model == "foot3d" else "Inside the foot"
    parts = [
        _head(case, shown, comparisons),
        f'<div class="first">{_answer(case, shown, comparisons)}{_cautions(case)}</div>',
        _section("costs", "The devices in order", ranking(case, shown)) if shown.rows else "",
        PAPER,
        _target(case, shown),
        _section("view", "The foot in space", turned.html) if turned.html else "",
        _section("pictures", seen, picture_part(case, shown)) if shared_limits(shown.outcomes) else "",
        *(_section(*part) for part in stance_parts(case, comparisons, worst)),
        _section("measured", "Against the measured pressure", measured_part(case, measured))
        if measured else "",
        _section("devices", "The devices", device_part(case, sheets)) if case.devices else "",
        _tissues(case, shown),
        _checks(comparisons, worst),
        _method(case, comparisons, provenance),
        turned.data,
    ]
    css = resources.files(__package__).joinpath("style.css").read_text(encoding="utf-8")
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy(turned.scripts)}">\n'
        f"<title>{text(case.title)}</title>\n<style>\n{css}</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(part for part in parts if part) + "\n</main>\n</body>\n</html>\n")


def policy(scripts: Sequence[str]) -> str:
    """Return what a page may load: its own pictures and styles, and scripts by their hash."""
    allowed = " ".join(
        f"'sha256-{base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()}'"
        for script in scripts) or "'none'"
    return ("default-src 'none'; connect-src 'none'; base-uri 'none'; form-action 'none'; "
            f"img-src data:; style-src 'unsafe-inline'; script-src {allowed}")


def _section(name: str, title: str, body: str) -> str:
    return f'<section id="{name}" aria-labelledby="{name}-title">' \
           f'<h2 id="{name}-title">{text(title)}</h2>\n{body}</section>'


def _head(case: Case, shown: Comparison, comparisons) -> str:
    person, devices = case.person, len(shown.outcomes) - 1
    row = leading_row(case, shown)
    what = phrase(row.tissue, row.quantity) if row else f"the load on the {tissue_title(case.target)}"
    if devices == 0:
        question = f"How large is {what}, and what do the other tissues carry?"
    elif devices == 1:
        question = f"Does the device lower {what}, and what does it cost elsewhere?"
    else:
        question = f"Which of the {counted(devices)} devices lowers {what} most, and what does it "\
                   "cost elsewhere?"
    when = when_words(case, shown) + (
        f", the one of {len(comparisons)} instants that loads the target most"
        if len(comparisons) > 1 else "")
    facts = (f"{person.side} foot, {person.length_mm:g} mm long, body mass "
             f"{person.body_mass_kg:g} kg · {when} · {SEEN[case.model]}")
    return (f'<header><p class="kind">Foot and device: computed comparison</p>'
            f"<h1>{text(case.title)}</h1>"
            f'<p class="question">{text(question)}</p><p class="facts">{text(facts)}</p></header>')


def _answer(case: Case, shown: Comparison, comparisons: Sequence[Comparison]) -> str:
    found = answer(case, shown)
    sure = surety(case, shown, leading_row(case, shown))
    title = "The answer" + (f", at {shown.stance_percent:.3g} % of stance"
                            if len(comparisons) > 1 else "")
    step = over_the_step(case, comparisons)
    do = advice(case, [outcome.failure for c in comparisons for outcome in c.outcomes])
    points = "".join(f"<li>{text(point)}</li>" for point in (
        *step, *found.points, *((f"What to do: {do}.",) if do else ())))
    expect = (f'<p class="expect"><b>The case expected:</b> {text(case.expect)}</p>'
              if case.expect else "")
    return (f'<section id="answer" class="{found.tone}" aria-labelledby="answer-title">'
            f'<h2 id="answer-title">{text(title)}</h2>'
            f'<p class="headline">{text(found.headline)}</p>'
            f'<p class="sure"><b>How sure:</b> {text(sure)}</p>'
            f"<ul>{points}</ul>{expect}</section>")


def _cautions(case: Case) -> str:
    own = (f"{capital(line)}." for line in cautions(case))
    items = "".join(f"<li>{text(line)}</li>" for line in (*own, *CAUTIONS))
    return ('<section id="cautions" aria-labelledby="cautions-title">'
            f'<h2 id="cautions-title">Read with caution</h2><ul>{items}</ul></section>')


def _target(case: Case, shown: Comparison) -> str:
    rows = [row for row in shown.rows if row.tissue == case.target]
    title = f"Target: {tissue_title(case.target)}"
    if not rows:
        return _section("target", title, _failures(shown.outcomes))
    row = rows[0]
    names = labels(shown.outcomes)
    alt = f"Bars of {phrase(row.tissue, row.quantity)}: " + "; ".join(
        f"{n} {failure_text(o) or value_text(v, row.quantity, unit=True)}"
        for n, o, v in zip(names, shown.outcomes, row.values, strict=True))
    note = ("" if row.strength is None else
            f" Published strength: {value_text(row.strength, row.quantity, unit=True)}"
            + (f" ({row.strength_source})." if row.strength_source else "."))
    chart = figure(
        image(svg_uri(target_bars(row, shown.outcomes)), alt, "chart"),
        text(f"{capital(phrase(row.tissue, row.quantity))} in each condition, and the change "
             f"against no device (dashed line).{note}"))
    caption = f"All measures of the {tissue_title(case.target)} at {shown.stance_percent:.3g} % "\
              "of stance"
    return _section("target", title, chart + measures(
        shown, rows, target="", caption=caption) + LEGEND)


def _failures(outcomes: Sequence[Outcome]) -> str:
    return plain_table([(n, failure_text(o) or "no value for this tissue")
                        for n, o in zip(labels(outcomes), outcomes, strict=True)])


def _tissues(case: Case, shown: Comparison) -> str:
    if not shown.rows:
        return ""
    table = measures(shown, shown.rows, target=case.target,
                     caption="Each value, and under it the change against no device")
    return (
        _section("strength", "How close to published strength", shares(
            shown, shown.rows, case.target))
        + _section("tissues", "All tissues", table + LEGEND + "<h3>What the measures mean</h3>"
                   + definitions(shown.rows)))


def _checks(comparisons: Sequence[Comparison], worst: int) -> str:
    shown = comparisons[worst]
    body = f"<p>{text(check_sentence(shown.outcomes))}</p>" + checks(shown.outcomes)
    others = [(f"{c.stance_percent:.3g} % of stance", check_sentence(c.outcomes))
              for i, c in enumerate(comparisons) if i != worst]
    if others:
        body += "<h3>Other instants</h3>" + plain_table(others)
    return _section("checks", "Can the solution be trusted numerically?", body)


def _method(case, comparisons, provenance) -> str:
    lines = "".join(f"<li>{text(line)}</li>" for line in method.assumptions(case))
    activity = case.activity.activity
    parts = [
        f"<ul>{lines}</ul>",
        "<h3>Person</h3>", plain_table(method.person_rows(case), kind="pairs"),
        "<h3>Activity</h3>",
        f"<p>{text(activity.title)}. {text(activity.source)} ({text(activity.flag)})</p>",
        plain_table(method.activity_rows(case, comparisons),
                    ("stance", "force up", "force forward", "centre of pressure", "shank lean")),
        "<h3>Materials</h3>",
        plain_table(method.material_rows(case),
                    ("material", "law and constants", "stretch", "source"), "sources"),
    ]
    if case.scan is not None:
        parts += ["<h3>The scan</h3>", _scan(case)]
    parts += ["<h3>What ran</h3>", plain_table(method.provenance_rows(provenance), kind="pairs")]
    costs = method.cost_rows(comparisons)
    if costs:
        parts.append(plain_table(costs, ("solve", "seconds", "Newton iterations",
                                         "factorisations", "linear solver")))
        parts += [f"<p>{text(sentence)}</p>" for sentence in (
            method.growth_sentence(comparisons), method.descent_sentence(comparisons)) if sentence]
    return _section("method", "How this was computed", "\n".join(parts))


def _scan(case: Case) -> str:
    """What was found in the scan, and the picture of it in place."""
    from ..foot.landmarks import landmarks

    facts = "".join(f"<li>{text(fact)}</li>" for fact in case.scan.facts)
    drawn = image(png_uri(scan_figure(case, landmarks(case.person.dimensions())), SCAN_DPI),
                  f"Scan of a {case.scan.choice.kind} in place: from below or above, the side, behind")
    name = text(PurePath(case.scan.choice.file).name)
    return f"<p>{name}</p><ul>{facts}</ul>" + figure(
        drawn, "The scan as it was put in place. Dashed: the outline of a device for this person.")

"""The report: one self-contained HTML page that a practitioner can read and print."""

from __future__ import annotations

from collections.abc import Sequence
from importlib import resources
from pathlib import PurePath

from ..case.values import Case
from ..outcome.values import Comparison, Outcome
from . import method
from .answer import CAUTIONS, answer, leading_row, worse_with, worst_index
from .charts import pressure_profile, target_bars
from .course import stance_parts
from .pictures import cable_names, colour_bar, is_target, section_picture, shared_limits
from .scan_picture import scan_figure
from .style import png_uri, svg_uri
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
from .wording import (
    capital,
    counted,
    failure_text,
    labels,
    percent_text,
    phrase,
    rise_text,
    step_text,
    tissue_title,
    value_text,
)

PICTURE_DPI, MANY_PICTURES, LOW_DPI = 180, 6, 110
COSTS_SHOWN = 6
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
    parts = [
        _head(case, shown, comparisons),
        _answer(case, shown, len(comparisons) > 1),
        _cautions(),
        _target(case, shown),
        *(_section(*part) for part in stance_parts(case, comparisons, worst)),
        _section("costs", "What rises with each device", _costs(shown)) if shown.rows else "",
        _pictures(case, shown),
        _tissues(case, shown),
        _checks(comparisons, worst),
        _method(case, comparisons, provenance, sheets),
    ]
    css = resources.files(__package__).joinpath("style.css").read_text(encoding="utf-8")
    policy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        f"<title>{text(case.title)}</title>\n<style>\n{css}</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(part for part in parts if part) + "\n</main>\n</body>\n</html>\n")


def _section(name: str, title: str, body: str) -> str:
    return f'<section id="{name}" aria-labelledby="{name}-title">' \
           f'<h2 id="{name}-title">{text(title)}</h2>\n{body}</section>'


def _head(case: Case, shown: Comparison, comparisons) -> str:
    person, devices = case.person, len(shown.outcomes) - 1
    row = leading_row(case, shown)
    what = phrase(row.tissue, row.quantity) if row else tissue_title(case.target)
    if devices == 0:
        question = f"How large is {what}, and what do the other tissues carry?"
    elif devices == 1:
        question = f"Does the device lower {what}, and what does it cost elsewhere?"
    else:
        question = f"Which of the {counted(devices)} devices lowers {what} most, and what does it "\
                   "cost elsewhere?"
    when = (f"{len(comparisons)} instants of stance; shown: the one that loads the target most, at "
            f"{shown.stance_percent:.3g} %" if len(comparisons) > 1
            else f"at {shown.stance_percent:.3g} % of stance")
    facts = (f"{person.side} foot, {person.length_mm:g} mm long, body mass "
             f"{person.body_mass_kg:g} kg · {case.activity.activity.title}, {when} · "
             f"{SEEN[case.model]}")
    return (f'<header><p class="kind">Foot and device: computed comparison</p>'
            f"<h1>{text(case.title)}</h1>"
            f'<p class="question">{text(question)}</p><p class="facts">{text(facts)}</p></header>')


def _answer(case: Case, shown: Comparison, several: bool) -> str:
    found = answer(case, shown)
    title = "The answer" + (f", at {shown.stance_percent:.3g} % of stance" if several else "")
    points = "".join(f"<li>{text(point)}</li>" for point in found.points)
    expect = (f'<aside class="expect"><h3>What the case expected</h3><p>{text(case.expect)}</p>'
              "</aside>") if case.expect else ""
    return (f'<section id="answer" class="{found.tone}" aria-labelledby="answer-title"><div>'
            f'<h2 id="answer-title">{text(title)}</h2>'
            f'<p class="headline">{text(found.headline)}</p>'
            f"<ul>{points}</ul></div>{expect}</section>")


def _cautions() -> str:
    items = "".join(f"<li>{text(line)}</li>" for line in CAUTIONS)
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


def _costs(shown: Comparison) -> str:
    lines = []
    for i, name in enumerate(labels(shown.outcomes)):
        if i == 0:
            continue
        failed = failure_text(shown.outcomes[i])
        rows = {(r.tissue, r.quantity): r for r in shown.rows}
        found = worse_with(shown, i)
        rises = [
            f"{phrase(t, q)} {step_text(rows[t, q], i)}" if (t, q) in rows
            else f"{phrase(t, q)} {rise_text(p)}" for t, q, p in found[:COSTS_SHOWN]]
        if len(found) > COSTS_SHOWN:
            rises.append(f"and {counted(len(found) - COSTS_SHOWN)} more in the table of all "
                         "tissues")
        lines.append((name, failed or "; ".join(rises) or "nothing rises by more than 5 %"))
    if not lines:
        return "<p>There is no device in this case.</p>"
    return plain_table(lines, ("device", "what rises by more than 5 %, largest first"))


def _pictures(case: Case, shown: Comparison) -> str:
    limits = shared_limits(shown.outcomes)
    if limits is None:
        return ""
    printed = case.model == "foot3d"
    dpi = PICTURE_DPI if len(shown.outcomes) <= MANY_PICTURES else LOW_DPI
    bar = figure(
        image(svg_uri(colour_bar(limits, printed)), "Colour bar of "
               f"{'contact pressure' if printed else 'equivalent stress'}, 0 to "
               f"{limits.stress_kPa:.0f} kPa", "bar"),
        "One colour range, one pressure range and one line width per newton for all pictures. "
        + ("The sole from above, medial side down, coloured by the pressure on it. " if printed
           else "Pale: bones. Grey: device. ")
        + "Blue-green lines: tendons and ligaments, thicker with more tension, dotted where slack"
        + ("; strong blue: the target."
           if any(is_target(name, case.target) for name in _cables(shown)) else ".")
        + f" Under each foot: {'largest ' if printed else ''}contact pressure on the sole; dashed: "
        "centre of pressure.", "key")
    figures, row = [], leading_row(case, shown)
    for i, (name, outcome) in enumerate(zip(labels(shown.outcomes), shown.outcomes, strict=True)):
        if outcome.failure is not None or outcome.picture is None:
            why = failure_text(outcome) or "no picture"
            figures.append(f'<figure class="section failed"><figcaption><strong>{text(name)}'
                           f"</strong> {text(why)}</figcaption></figure>")
            continue
        peak = max((float(p.max(initial=0.0)) for _, p in outcome.picture.contacts.values()),
                   default=0.0)
        alt = (f"{'Print' if printed else 'Deformed slice'} of the foot, {name}: "
               f"{'' if printed else 'stress in the soft tissue, bones, '}cables "
               f"({', '.join(cable_names(outcome))}) and contact pressure up to {peak:.0f} kPa")
        drawn = image(png_uri(section_picture(outcome, limits, case.target, case.model), dpi), alt)
        value = "" if row is None or row.values[i] is None else (
            f"{capital(phrase(row.tissue, row.quantity))}: "
            f"{value_text(row.values[i], row.quantity, unit=True)}"
            + (f" ({percent_text(row.changes_percent[i])})" if i else ""))
        figures.append(figure(
            drawn, f"<strong>{text(name)}</strong><br>{text(value)}", "section"))
    profile = figure(
        image(svg_uri(pressure_profile(shown.outcomes, limits, case.model)),
               "Contact pressure along the sole, one line per condition", "chart"),
        "Contact pressure on the sole, all conditions.")
    grid = f'<div class="pictures {case.model}">{"".join(figures)}</div>'
    title = "Under the foot" if printed else "Inside the foot"
    return _section("pictures", title, bar + grid + profile)


def _cables(shown: Comparison) -> set[str]:
    return {name for o in shown.outcomes if o.picture is not None for name in o.picture.cables}


def _checks(comparisons: Sequence[Comparison], worst: int) -> str:
    shown = comparisons[worst]
    body = f"<p>{text(check_sentence(shown.outcomes))}</p>" + checks(shown.outcomes)
    others = [(f"{c.stance_percent:.3g} % of stance", check_sentence(c.outcomes))
              for i, c in enumerate(comparisons) if i != worst]
    if others:
        body += "<h3>Other instants</h3>" + plain_table(others)
    return _section("checks", "Can the solution be trusted numerically?", body)


def _method(case, comparisons, provenance, sheets) -> str:
    lines = "".join(f"<li>{text(line)}</li>" for line in method.assumptions(case))
    titles = {device.name: device.title or device.name for device in case.devices}
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
    if sheets:
        built = "".join(
            f"<div><h3>Build sheet: {text(titles.get(name, name))}</h3>"
            f'{plain_table(method.sheet_rows(sheet), kind="pairs")}</div>'
            for name, sheet in sheets.items())
        parts.append(f'<div class="sheets">{built}</div>')
    if case.scan is not None:
        parts += ["<h3>The scan</h3>", _scan(case)]
    parts += ["<h3>What ran</h3>", plain_table(method.provenance_rows(provenance), kind="pairs")]
    costs = method.cost_rows(comparisons)
    if costs:
        parts.append(plain_table(costs, ("solve", "seconds", "Newton iterations",
                                         "factorisations", "linear solver")))
    return _section("method", "How this was computed", "\n".join(parts))


def _scan(case: Case) -> str:
    """What was found in the scan, and the picture of it in place."""
    from ..foot.landmarks import landmarks

    facts = "".join(f"<li>{text(fact)}</li>" for fact in case.scan.facts)
    drawn = image(png_uri(scan_figure(case, landmarks(case.person.dimensions())), LOW_DPI),
                  f"Scan of a {case.scan.choice.kind} in place: from below or above, the side, behind")
    name = text(PurePath(case.scan.choice.file).name)
    return f"<p>{name}</p><ul>{facts}</ul>" + figure(
        drawn, "The scan as it was put in place. Dashed: the outline of a device for this person.")

"""What a search found, in words: for the terminal and for its page."""

from __future__ import annotations

from ..study.choice import excess, leading_key
from ..study.search import Found, miss, worst_excess
from ..study.sweep import Line
from . import study_terminal as terminal
from .sweep_words import end_text, rises_text, value_of, values_text
from .wording import percent_text, phrase, quantity_of, value_text

SHOWN = 8
NUMBERS = \
    "Designs are numbered in the order in which this search solved them; a sweep has its own numbers."


def limit_text(limit) -> str:
    """Return a limit in words."""
    if limit.most is not None:
        return f"{phrase(limit.tissue, limit.quantity)} at most " \
               f"{value_text(limit.most, limit.quantity, unit=True)}"
    return f"{phrase(limit.tissue, limit.quantity)} up by at most {limit.rise_percent:g} %"


def question(found: Found) -> str:
    """Return the question in words."""
    case = found.swept.case
    asked = case.studies.search
    limits = "; ".join(limit_text(limit) for limit in asked.limits)
    return (f"At least {asked.reduction_percent:g} % off {phrase(*leading_key(case))}"
            + (f", with {limits}?" if limits else ", whatever it costs elsewhere?"))


def design_text(line: Line, key) -> str:
    """Return a design in words: its number, values and what it does to the target."""
    return (f"number {line.design} ({values_text(line.varied)}): {phrase(*key)} "
            f"{value_text(line.base.values[key], key[1])} → "
            f"{value_text(line.row.values[key], key[1], unit=True)} "
            f"({percent_text(line.change_percent(key))})")


def headline(found: Found) -> str:
    """Return the answer in one sentence."""
    key = leading_key(found.swept.case)
    if found.answers:
        return f"{len(found.answers)} of the {len(found.swept.designs)} designs that were solved " \
               f"meet the question. The best is {design_text(found.answers[0], key)}."
    if found.closest is None:
        return "There is no answer: no design could be compared."
    return f"No device in this space meets the limits, as far as {len(found.swept.designs)} solved " \
           f"designs tell. The closest is {design_text(found.closest, key)}."


def points(found: Found) -> list[str]:
    """Return the sentences that qualify the answer."""
    case = found.swept.case
    asked, key = case.studies.search, leading_key(case)
    out = []
    shown = found.shown
    if not found.answers and shown is not None:
        out += [f"It misses: {text}." for text in missed(shown, asked, key)]
        if found.kept and found.kept[0].change_percent(key) < 0.0:
            out.append(f"Within the limits the most is {design_text(found.kept[0], key)}.")
        elif not found.kept:
            out.append("No design that was solved keeps every limit.")
    if shown is not None:
        out.append(f"What gets worse with it: {rises_text(shown, 4)}.")
        ends = end_text(found.swept, shown, "best" if found.answers else "closest")
        out += [ends] if ends else []
    first = found.fits[0]
    out.append(f"The surrogate misses the target's change by {first.error:.2g} percent points when a "
               f"design is left out, of a span of {first.span:.3g}; it only proposes, and every "
               "number here comes from a solve.")
    out.append(f"{found.started} designs spread over the space, then "
               f"{len(found.swept.designs) - found.started} proposed; {found.ended}.")
    return out


def missed(line: Line, asked, key) -> list[str]:
    """Return what of the question a design does not meet, in words."""
    out = []
    change = line.change_percent(key)
    if change > -asked.reduction_percent:
        out.append(f"the reduction: {percent_text(change)} instead of −{asked.reduction_percent:g} %")
    for limit in asked.limits:
        over = excess(line, limit)
        if over is None or over > 0.0:
            value = line.row.values.get((limit.tissue, limit.quantity))
            out.append(f"{limit_text(limit)}; it has "
                       f"{value_text(value, limit.quantity, unit=True)}")
    return out


def table(found: Found, width: int = 100) -> str:
    """Return the answer of a search for the terminal."""
    case = found.swept.case
    asked, key = case.studies.search, leading_key(case)
    names = [entry.name for entry in case.studies.sweep.vary]
    lines = [*terminal.wrapped(question(found), width), *terminal.wrapped(headline(found), width)]
    for point in points(found):
        lines += terminal.wrapped(point, width, "  ")
    words = quantity_of(key[1])
    head = ["design", *names, words.title, "change",
            *(f"limit {n}" for n in range(1, len(asked.limits) + 1)), "meets"]
    rows = [row_of(line, found, names) for line in shown_lines(found)]
    lines += ["", *terminal.aligned(head, rows, len(names) + 1)]
    lines += [f"limit {n}: {terminal.plain(limit_text(limit))}"
              for n, limit in enumerate(asked.limits, 1)]
    lines += terminal.wrapped(NUMBERS, width)
    return "\n".join([*lines, "", *terminal.cautions(width)]) + "\n"


def shown_lines(found: Found) -> list[Line]:
    """Return the designs to show: answers first, else those that miss by least."""
    case = found.swept.case
    asked, key = case.studies.search, leading_key(case)
    if found.answers:
        return list(found.answers[:SHOWN])
    known = {line.design: line for line in (*found.kept, *found.front)}
    if found.closest is not None:
        known[found.closest.design] = found.closest
    return sorted(known.values(), key=lambda line: (miss(line, asked, key), line.design))[:SHOWN]


def row_of(line: Line, found: Found, names) -> list[str]:
    """Return the cells of one design: values, target, change, each limited measure, verdict."""
    case = found.swept.case
    asked, key = case.studies.search, leading_key(case)
    limited = [value_text(line.row.values.get((limit.tissue, limit.quantity)), limit.quantity,
                          unit=True) for limit in asked.limits]
    kept = worst_excess(line, asked) <= 0.0
    enough = line.change_percent(key) <= -asked.reduction_percent
    verdict = "all" if kept and enough else "limits" if kept else "reduction" if enough else "neither"
    return [str(line.design), *(value_of(line.varied[n]) for n in names),
            value_text(line.row.values[key], key[1], unit=True),
            percent_text(line.change_percent(key)), *limited, verdict]

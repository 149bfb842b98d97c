"""What a sweep found, in words: for the terminal and for its page."""

from __future__ import annotations

from ..study.choice import designs_only, ends_reached, leading_key, ranked, rises, shown_instant
from ..study.reasons import advice
from ..study.sweep import REFERENCE, Line, Swept
from . import study_terminal as terminal
from .wording import capital, percent_text, phrase, quantity_of, rise_text, value_text

SHOWN, RISES_SHOWN = 10, 3


def value_of(value) -> str:
    """Return a varied value as text."""
    return f"{value:g}" if isinstance(value, float | int) else str(value)


def values_text(varied: dict) -> str:
    """Return the varied values of a design as text: shell_mm 3, cover eva_soft."""
    return ", ".join(f"{name} {value_of(value)}" for name, value in varied.items())


def design_text(line: Line, swept: Swept) -> str:
    """Return which design a line is: its number, values, and device where that is not always one."""
    device = "" if swept.case.studies.sweep.device else f"{line.condition}, "
    return f"number {line.design} ({device}{values_text(line.varied)})"


def when(stance_percent: float | None) -> str:
    """Return at which instant designs are shown, in words."""
    return "each at its own instant" if stance_percent is None else \
        f"at {stance_percent:.3g} % of stance"


def rises_text(line: Line, shown: int = RISES_SHOWN) -> str:
    """Return what rises by more than 5 % with a design, largest first."""
    found = rises(line)
    listed = [f"{phrase(t, q)} {rise_text(p)}" for t, q, p in found[:shown]]
    more = len(found) - len(listed)
    return "; ".join(listed) + (f"; and {more} more" if more > 0 else "") if found else \
        "nothing rises by more than 5 %"


def end_text(swept: Swept, line: Line, which: str = "best") -> str | None:
    """Return a sentence on values that a design has at the end of their range; None without any."""
    names = ends_reached(swept, line)
    if not names:
        return None
    listed = " and ".join(f"{name} ({value_of(line.varied[name])})" for name in names)
    return (f"The {which} design lies at the end of {listed}: a wider range may hold a better one.")


def headline(swept: Swept) -> str:
    """Return the answer in one sentence."""
    key, at = leading_key(swept.case), shown_instant(swept)
    best = ranked(designs_only(swept, at), key)
    if not swept.case.devices:
        return "There is no device to compare: the table holds the values without one."
    if not best:
        return "There is no answer: no design could be compared."
    change = best[0].change_percent(key)
    if change > -1.0:
        return f"None of the {len(best)} designs that were computed lowers {phrase(*key)}."
    base = value_text(best[0].base.values[key], key[1])
    now = value_text(best[0].row.values[key], key[1], unit=True)
    return (f"Of {len(best)} designs, {design_text(best[0], swept)} lowers "
            f"{phrase(*key)} most: {base} → {now} ({percent_text(change)}).")


def points(swept: Swept) -> list[str]:
    """Return the sentences that qualify the answer."""
    key, at = leading_key(swept.case), shown_instant(swept)
    lines = designs_only(swept, at)
    best = ranked(lines, key)
    out = [f"What gets worse with it: {rises_text(best[0], 4)}."] if best else []
    if best and (ends := end_text(swept, best[0])):
        out.append(ends)
    free = [line for line in best if not rises(line) and line.change_percent(key) < -1.0]
    if free:
        out.append(f"{len(free)} designs lower it and raise nothing by more than 5 %; the best of them "
                   f"is {design_text(free[0], swept)}, "
                   f"{percent_text(free[0].change_percent(key))}.")
    elif best:
        out.append("No design lowers it without raising something else by more than 5 %.")
    failed = [line for line in lines if line.failure]
    if failed:
        out.append(f"{len(failed)} of {len(lines)} designs have no answer; the table gives the reason "
                   f"for each. The first: {design_text(failed[0], swept)}, {failed[0].failure}.")
        ways = advice(swept.case, [line.failure for line in failed])
        if ways:
            out.append(f"Where no equilibrium is found: {ways}.")
    others = [f"{line.condition} {percent_text(line.change_percent(key))}" for line in swept.lines
              if line.design == REFERENCE and line.condition != "barefoot"
              and at in (None, line.stance_percent) and not line.failure]
    if others:
        out.append(f"Not varied: {', '.join(others)}.")
    return out


def table(swept: Swept, width: int = 100) -> str:
    """Return the answer of a sweep for the terminal: the best designs and what each costs."""
    key, at = leading_key(swept.case), shown_instant(swept)
    best = ranked(designs_only(swept, at), key)[:SHOWN]
    names = [entry.name for entry in swept.case.studies.sweep.vary]
    words = quantity_of(key[1])
    device = [] if swept.case.studies.sweep.device else ["device"]
    head = ["design", *device, *names, f"{words.title}, {words.unit}", "change",
            "largest rise elsewhere"]
    rows = [[str(line.design), *(line.condition for _ in device),
             *(value_of(line.varied[n]) for n in names),
             value_text(line.row.values[key], key[1]), terminal.percent(line.change_percent(key)),
             _worst(line, key)] for line in best]
    lines = [*terminal.wrapped(headline(swept), width)]
    for point in points(swept):
        lines += terminal.wrapped(point, width, "  ")
    if rows:
        lines += ["", terminal.plain(f"{capital(phrase(*key))}, {when(at)}; "
                                     f"the best {len(rows)} designs:"),
                  *terminal.aligned(head, rows, len(names) + len(device) + 1)]
    return "\n".join([*lines, "", *terminal.cautions(width)]) + "\n"


def _worst(line: Line, key) -> str:
    found = [entry for entry in rises(line) if entry[0] != key[0]]
    if not found:
        return "none above 5 %"
    tissue, quantity, percent = found[0]
    return f"{terminal.plain(rise_text(percent))} {phrase(tissue, quantity).removeprefix('the ')}"

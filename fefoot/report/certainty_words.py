"""What a certainty study found, in words: for the terminal and for its page."""

from __future__ import annotations

from ..study.certainty import STEADY_PERCENT, Certain, Spread, settings
from ..study.certainty_table import devices_of, leading
from ..study.indices import WIDEST_HALF
from . import study_terminal as terminal
from .wording import DASH, percent_text, phrase, plain, quantity_of, tissue_title

SHOWN, MATTERS = 9, 0.1
SAME_PERCENT = 1.0
TOO_FEW = "too few samples to say"


def title_of(found: Certain, device: str) -> str:
    """Return a device's title, or its name."""
    titles = {d.name: d.title for d in found.case.devices}
    return titles.get(device) or plain(device)


def held(spread: Spread) -> str:
    """Return in how many samples a change has its sign: all, or 15 of 16."""
    return "all" if spread.same_sign == spread.count else f"{spread.same_sign} of {spread.count}"


def hardly(spread: Spread) -> bool:
    """Say whether a measure hardly changes in any sample, so that a sign says nothing."""
    return abs(spread.median) < SAME_PERCENT and max(abs(spread.low), abs(spread.high)) < 5.0


def sign_cell(spread: Spread) -> str:
    """Return in how many samples the sign holds, as a cell."""
    return DASH if hardly(spread) else held(spread)


def verdict(spread: Spread) -> str:
    """Return in how many samples a change has its sign, in words."""
    if hardly(spread):
        return "hardly changes"
    words = f"{'less' if spread.median < 0 else 'more'} in {held(spread)} samples"
    return words if spread.same_sign_percent >= STEADY_PERCENT else f"open: {words}"


def matters(spread: Spread, most: int = 3) -> str:
    """Return which unknowns make the change vary, by their total indices; so many at most.

    Where the index that looks largest is known too badly, nothing can be said.
    """
    if not spread.indices:
        return DASH
    if not spread.indices[0].total_known:
        return TOO_FEW
    named = [f"{plain(i.unknown)} {i.total:.2f}" for i in spread.indices
             if i.total_known and i.total >= MATTERS][:most]
    return ", ".join(named) or "none by itself"


def too_rough(spread: Spread) -> list[str]:
    """Return the unknowns whose total index is known too badly to be shown."""
    return [plain(i.unknown) for i in spread.indices or () if not i.total_known]


def more_samples(found: Certain) -> str:
    """Return how an index that is not shown can be had."""
    return (f"An index whose 95 % interval is wider than ± {WIDEST_HALF:g} is not shown: raise samples "
            f"under [certainty] (now {settings(found.case).samples}; four times as many halve the "
            "interval).")


def headline(found: Certain) -> str:
    """Return the answer in one sentence per device: the target's change and how its sign holds."""
    parts = []
    for device in devices_of(found):
        rows = [s for s in leading(found, device) if s.tissue == found.case.target]
        if not rows:
            parts.append(f"‘{title_of(found, device)}’: no answer")
            continue
        s = rows[0]
        parts.append(f"‘{title_of(found, device)}’ changes {phrase(*s.key)} by "
                     f"{percent_text(s.median)} (band {percent_text(s.low)} to "
                     f"{percent_text(s.high)}; {verdict(s)})")
    return ". ".join(parts) + "."


def points(found: Certain) -> list[str]:
    """Return the sentences that qualify the answer."""
    out, rough = [], False
    for device in devices_of(found):
        rows = leading(found, device)
        target = [s for s in rows if s.tissue == found.case.target]
        rough = rough or any(too_rough(s) for s in rows)
        if target and target[0].indices:
            unsaid = too_rough(target[0])
            said = matters(target[0])
            more = f"; {TOO_FEW} for {', '.join(unsaid)}" if unsaid and said != TOO_FEW else ""
            out.append(f"What makes the change with ‘{title_of(found, device)}’ vary most (total "
                       f"index): {said}{more}.")
        rises = [s for s in rows if s.tissue != found.case.target and s.low > SAME_PERCENT]
        if rises:
            listed = ", ".join(f"{phrase(*s.key)} {percent_text(s.median)} (in {held(s)} samples)"
                               for s in rises[:3])
            out.append(f"What rises with ‘{title_of(found, device)}’: {listed}.")
    out += [more_samples(found)] if rough else []
    out += beyond_text(found)
    if found.missing:
        lost = len({number for number, _, _ in found.missing})
        out.append(f"{lost} of {len(found.samples) - 1} samples have a run without answer and are left "
                   "out, so the bands may be too narrow, and there are no indices.")
    return out


def beyond_text(found: Certain) -> list[str]:
    """Return a sentence on samples in which soft tissue is compressed beyond its law; or none."""
    if not found.beyond:
        return []
    sampled = {entry.sample for entry in found.beyond if entry.sample}
    worst = max(found.beyond, key=lambda entry: entry.compression_percent - entry.meant_percent)
    case = "" if len(sampled) == len({entry.sample for entry in found.beyond}) else \
        " and the case as it stands"
    return [f"{len(sampled)} of {len(found.samples) - 1} samples{case} are extrapolated: there the "
            "soft tissue is compressed beyond the stretches that its law is meant for (furthest: "
            f"{tissue_title(worst.pad)} by {percent_text(worst.compression_percent, sign=False)}, "
            f"with {worst.material} meant for up to "
            f"{percent_text(worst.meant_percent, sign=False)})."]


def table(found: Certain, width: int = 100) -> str:
    """Return the answer of a certainty study for the terminal."""
    lines = terminal.wrapped(headline(found), width)
    for point in points(found):
        lines += terminal.wrapped(point, width, "  ")
    for device in devices_of(found):
        rows = [[_name(s), terminal.percent(s.median),
                 f"{terminal.percent(s.low)} to {terminal.percent(s.high)}",
                 sign_cell(s), matters(s, 1)] for s in leading(found, device)[:SHOWN]]
        head = [f"{device}: change of", "median", "5 to 95 %", "sign holds in", "varies most with"]
        lines += ["", *terminal.aligned(head, rows)]
    return "\n".join([*lines, "", *terminal.cautions(width)]) + "\n"


def _name(spread: Spread) -> str:
    return f"{tissue_title(spread.tissue)[:38]}, {quantity_of(spread.quantity).title}"

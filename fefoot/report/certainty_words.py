"""What a certainty study found, in words: for the terminal and for its page."""

from __future__ import annotations

from ..study.certainty import STEADY_PERCENT, Certain, Spread
from ..study.certainty_table import devices_of, leading
from . import study_terminal as terminal
from .wording import percent_text, phrase, plain, quantity_of, tissue_title

SHOWN, MATTERS, ROUGH = 9, 0.1, 0.3
SAME_PERCENT = 1.0


def title_of(found: Certain, device: str) -> str:
    """Return a device's title, or its name."""
    titles = {d.name: d.title for d in found.case.devices}
    return titles.get(device) or plain(device)


def verdict(spread: Spread) -> str:
    """Return how sure the sign of a change is, in words."""
    sure = f"in {spread.same_sign_percent:.0f} % of the samples"
    if abs(spread.median) < SAME_PERCENT and max(abs(spread.low), abs(spread.high)) < 5.0:
        return "hardly changes"
    word = "less" if spread.median < 0 else "more"
    return f"{word} {sure}" if spread.same_sign_percent >= STEADY_PERCENT else f"open: {word} {sure}"


def matters(spread: Spread, most: int = 3) -> str:
    """Return which unknowns make the change vary, by their total indices; so many at most."""
    if spread.indices is None:
        return "–"
    named = [f"{plain(i.unknown)} {i.total:.2f}" for i in spread.indices if i.total >= MATTERS][:most]
    return ", ".join(named) or "none by itself"


def headline(found: Certain) -> str:
    """Return the answer in one sentence per device: the target's change and how sure its sign is."""
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
    out = []
    for device in devices_of(found):
        rows = leading(found, device)
        target = [s for s in rows if s.tissue == found.case.target]
        if target and target[0].indices:
            out.append(f"What makes the change with ‘{title_of(found, device)}’ vary most (total "
                       f"index, share of the variance): {matters(target[0])}.{_rough(target[0])}")
        sure = [s for s in rows if s.tissue != found.case.target and s.low > SAME_PERCENT]
        if sure:
            listed = ", ".join(f"{phrase(*s.key)} {percent_text(s.median)}" for s in sure[:3])
            out.append(f"What rises for sure with ‘{title_of(found, device)}’: {listed}.")
    if found.missing:
        lost = len({number for number, _, _ in found.missing})
        out.append(f"{lost} of {len(found.samples) - 1} samples have a run without answer and are left "
                   "out, so the bands may be too narrow, and there are no indices.")
    return out


def _rough(spread: Spread) -> str:
    widest = max(index.total_half_width for index in spread.indices)
    return "" if widest <= ROUGH else (
        f" With so few samples these indices give an order at best (± {widest:.1f}); raise "
        "certainty.samples.")


def table(found: Certain, width: int = 100) -> str:
    """Return the answer of a certainty study for the terminal."""
    lines = terminal.wrapped(headline(found), width)
    for point in points(found):
        lines += terminal.wrapped(point, width, "  ")
    for device in devices_of(found):
        rows = [[_name(s), terminal.percent(s.median),
                 f"{terminal.percent(s.low)} to {terminal.percent(s.high)}",
                 f"{s.same_sign_percent:.0f}%", matters(s, 1)] for s in leading(found, device)[:SHOWN]]
        head = [f"{device}: change of", "median", "5 to 95 %", "sign holds", "varies most with"]
        lines += ["", *terminal.aligned(head, rows)]
    return "\n".join([*lines, "", *terminal.cautions(width)]) + "\n"


def _name(spread: Spread) -> str:
    return f"{tissue_title(spread.tissue)[:38]}, {quantity_of(spread.quantity).title}"

"""Numbers, tissues and conditions as the words the page and the terminal share."""

from __future__ import annotations

import math
from collections.abc import Sequence

from ..case.tissues import TISSUES
from ..outcome.quantities import QUANTITIES, Quantity
from ..outcome.values import Outcome, Row
from ..study.reasons import plain_reason

DASH = "–"
SAME_PERCENT = 1.0
"""Changes smaller than this are called about the same."""
MANYFOLD_PERCENT = 900.0
"""From here a rise is told as a multiple."""

_PHRASE = {
    "tension_N": "the tension in the {}",
    "stretch_percent": "the stretch of the {}",
    "peak_pressure_kPa": "the peak pressure on the {}",
    "mean_pressure_kPa": "the mean pressure on the {}",
    "strain_energy_density_kPa": "the strain-energy density in the {}",
    "force_N": "the force across the {}",
    "moment_Nm": "the moment about the {}",
    "bending_stress_MPa": "the bending stress in the {}",
}
_NEITHER = ("load_share_percent", "rotation_degrees", "pressure_centre_percent",
            "pressure_centre_mm", "navicular_drop_mm")
_NUMBER_WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine")


def one_line(text: object) -> str:
    """Return a text without line breaks, control signs and runs of blanks."""
    words = " ".join(str(text).split())
    return "".join(c for c in words if c.isprintable())


def capital(text: str) -> str:
    """Return a text with a capital first letter, the others as they are."""
    return text[:1].upper() + text[1:]


def counted(number: int) -> str:
    """Return a small number in words."""
    return _NUMBER_WORDS[number] if number < len(_NUMBER_WORDS) else str(number)


def plain(name: str) -> str:
    """Return a key as words: without underscores."""
    return one_line(name).replace("_", " ")


def tissue_title(name: str) -> str:
    """Return a tissue's plain title."""
    return TISSUES[name].title if name in TISSUES else plain(name)


def quantity_of(name: str) -> Quantity:
    """Return a quantity's words, unit and decimals."""
    return QUANTITIES[name] if name in QUANTITIES else Quantity(plain(name), "", 2, "")


def phrase(tissue: str, quantity: str) -> str:
    """Return one measure in words: the tension in the plantar fascia."""
    title = quantity_of(quantity).title
    return _PHRASE.get(quantity, f"the {title} of the {{}}").format(tissue_title(tissue))


def is_burden(quantity: str) -> bool:
    """Say whether less of a quantity means that the tissue carries less."""
    return quantity not in _NEITHER


def value_text(value: float | None, quantity: str, unit: bool = False) -> str:
    """Return a value with the decimals of its quantity; a dash where there is none."""
    if value is None or not math.isfinite(value):
        return DASH
    words = quantity_of(quantity)
    text = f"{value:.{words.decimals}f}"
    if float(text) == 0.0:
        text = text.removeprefix("-")
    text = text.replace("-", "−")
    return f"{text} {words.unit}" if unit and words.unit else text


def percent_text(percent: float | None, sign: bool = True) -> str:
    """Return a percentage, one decimal below ten; a dash where there is none."""
    if percent is None or not math.isfinite(percent):
        return DASH
    text = f"{percent:{'+' if sign else ''}.{0 if abs(percent) >= 9.95 else 1}f}"
    if float(text) == 0.0:
        text = "0"
    return text.replace("-", "−") + " %"


def rise_text(percent: float | None) -> str:
    """Return a change in percent; in words when it is from (next to) nothing.

    A rise from nothing is given as infinity.
    """
    if percent == math.inf:
        return "from nothing"
    if percent is not None and percent >= MANYFOLD_PERCENT:
        return f"to {1.0 + 0.01 * percent:.0f} times"
    return percent_text(percent)


def step_text(row: Row, index: int) -> str:
    """Return a measure without and with one device: 640 → 520 N (−19 %).

    A rise from a base too small for a percentage says so in words.
    """
    before, after = row.values[0], row.values[index]
    change = row.changes_percent[index]
    if None not in (before, after) and change is None and abs(after) > abs(before):
        change = math.inf
    return (f"{value_text(before, row.quantity)} → {value_text(after, row.quantity, unit=True)} "
            f"({rise_text(change)})")


def verdict(row: Row, index: int) -> str:
    """Return what a device does to a measure: less, more, same, other, or nothing.

    ``other`` is a change that is neither better nor worse by itself; the sizes decide, not the
    signs. Empty where either value is missing.
    """
    before, after, change = row.values[0], row.values[index], row.changes_percent[index]
    if index == 0 or None in (before, after, change):
        return ""
    if abs(change) < SAME_PERCENT:
        return "same"
    if not is_burden(row.quantity):
        return "other"
    return "less" if abs(after) < abs(before) else "more"


def share_percent(row: Row, index: int = 0) -> float | None:
    """Return a value as a share of the published strength, percent."""
    value = row.values[index]
    return None if None in (value, row.strength) else 100.0 * abs(value) / row.strength


def title_of(outcome: Outcome) -> str:
    """Return a condition's title, or its name when it has none."""
    return one_line(outcome.title) or plain(outcome.name)


def labels(outcomes: Sequence[Outcome]) -> list[str]:
    """Return one distinct label per condition; equal titles get their names added."""
    titles = [title_of(o) for o in outcomes]
    return [
        f"{title} ({one_line(o.name)})" if titles.count(title) > 1 else title
        for title, o in zip(titles, outcomes, strict=True)
    ]


def failure_text(outcome: Outcome) -> str | None:
    """Return ``failed: reason``, or None."""
    return None if outcome.failure is None else f"failed: {one_line(plain_reason(outcome.failure))}"

"""The answer in plain words, built from a comparison."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ..case.values import Case
from ..outcome.values import Comparison, Row
from .wording import (
    SAME_PERCENT,
    capital,
    counted,
    failure_text,
    labels,
    one_line,
    phrase,
    rise_text,
    share_percent,
    step_text,
    tissue_title,
    value_text,
    verdict,
)

CAUTIONS = (
    "This is a research model of a simplified foot. It is not a diagnosis and not a prescription.",
    "The numbers compare devices on one computed foot. A share of a published strength is a "
    "relative index, not a prediction of injury or of healing.",
    "Nobody has measured the tissues of this person: published properties differ widely, a real "
    "foot moves in more ways than this one, and of 92 published findings tried on the model it met 49.",
    "Local rules and licensed practice decide what may be made and worn.",
)
WORSE_SHOWN = 4
LEAST_SHARE = 0.05
_STEP_WORDS = {"less": "less", "more": "more", "same": "about the same"}


@dataclass(frozen=True)
class Answer:
    """One sentence, and the sentences that qualify it.

    ``tone`` is "better" when a device lowers the target, "none" when none does, "failed" when
    nothing can be said, "plain" without devices.
    """

    headline: str
    points: tuple[str, ...]
    tone: str


def leading_row(case: Case, comparison: Comparison) -> Row | None:
    """Return the target tissue's first measure."""
    return next((row for row in comparison.rows if row.tissue == case.target), None)


def worst_index(case: Case, comparisons: Sequence[Comparison]) -> int:
    """Return which instant loads the target most: without a device, or at all if that failed."""
    def size(index, first_only):
        row = leading_row(case, comparisons[index])
        values = () if row is None else row.values[:1] if first_only else row.values
        return max((abs(v) for v in values if v is not None), default=-1.0)

    numbers = range(len(comparisons))
    first_only = any(size(i, True) >= 0 for i in numbers)
    return max(numbers, key=lambda i: size(i, first_only))


def answer(case: Case, comparison: Comparison) -> Answer:
    """Return the answer of one instant in plain words."""
    names = [f"‘{label}’" for label in labels(comparison.outcomes)]
    failed = [
        f"{name} {failure_text(outcome).rstrip('.')}."
        for name, outcome in zip(names, comparison.outcomes, strict=True) if outcome.failure
    ]
    row = leading_row(case, comparison)
    if row is None or all(value is None for value in row.values):
        return Answer("There is no answer: nothing could be computed.", tuple(failed), "failed")
    what = phrase(row.tissue, row.quantity)
    if row.values[0] is None:
        return Answer(
            "There is no comparison: the foot without a device could not be computed.",
            tuple(failed), "failed")
    strength = _strength(row, comparison)
    if len(names) == 1:
        carried = value_text(row.values[0], row.quantity, unit=True)
        return Answer(f"Without a device, {what} is {carried}.", tuple(strength), "plain")
    done = [i for i in range(1, len(names)) if row.values[i] is not None]
    if not done:
        return Answer("There is no comparison: no device could be computed.",
                      (*failed, *strength), "failed")
    best = next((i for i in done if comparison.outcomes[i].name == comparison.best), None)
    others = [f"{names[i]} {step_text(row, i)}" for i in done if i != best]
    if best is None:
        points = [f"{capital(what)}: {', '.join(others)}."] if others else []
        raised = len(done) == len(names) - 1 == 1 and (
            row.changes_percent[1] or 0.0) > SAME_PERCENT
        headline = (f"{names[1]} raises {what}: {step_text(row, 1)}." if raised
                    else _none_lowers(len(names) - 1, len(done), what))
        return Answer(headline, (*(() if raised else points), *failed, *strength), "none")
    points = [*_worse(comparison, best, names[best])]
    if others:
        points.append(f"The other{'s' if len(others) > 1 else ''}: {', '.join(others)}.")
    return Answer(_lowers(len(names) - 1, len(done), names[best], what, row, best),
                  (*points, *failed, *strength), "better")


def when_words(case: Case, comparison: Comparison) -> str:
    """Return when the answer holds: the activity, and the instant where it has several."""
    activity = case.activity.activity
    title = capital(one_line(activity.title))
    if len(activity.instants) == 1:
        return title
    return f"{title}, at {comparison.stance_percent:.3g} % of stance"


def over_the_step(case: Case, comparisons: Sequence[Comparison]) -> tuple[str, ...]:
    """Return for each device when in the step it lowers or raises the target, as sentences.

    Instants at which the target carries less than a twentieth of its largest load are left out.
    """
    rows = [(c, leading_row(case, c)) for c in comparisons]
    bare = [abs(r.values[0]) if r is not None and r.values[0] is not None else 0.0 for _, r in rows]
    counted_in = [(c, r) for (c, r), size in zip(rows, bare, strict=True)
                  if size > LEAST_SHARE * max(bare, default=0.0)]
    if len(counted_in) < 2:
        return ()
    out = []
    for i, name in enumerate(labels(comparisons[0].outcomes)):
        runs = _runs([(c.stance_percent, verdict(r, i)) for c, r in counted_in]) if i else ()
        said = [f"{_STEP_WORDS[found]} {_span(first, last)}" for found, first, last in runs
                if found in _STEP_WORDS]
        if said:
            out.append(f"Over the step ‘{name}’: {', '.join(said)} of stance.")
    return tuple(out)


def _runs(course):
    """Group neighbouring instants with the same verdict: (verdict, first, last percent)."""
    out = []
    for percent, found in course:
        if out and out[-1][0] == found:
            out[-1] = (found, out[-1][1], percent)
        else:
            out.append((found, percent, percent))
    return out


def _span(first: float, last: float) -> str:
    return f"at {first:.3g} %" if first == last else f"from {first:.3g} to {last:.3g} %"


def _of_the(devices: int, done: int) -> str:
    return (f"Of the {counted(devices)} devices" if devices == done
            else f"Of the {counted(done)} devices that could be computed" if done > 1
            else f"Of {counted(devices)} devices only one could be computed;")


def _lowers(devices, done, name, what, row, best) -> str:
    step = step_text(row, best)
    hardly = "hardly " if abs(row.changes_percent[best] or 0.0) < SAME_PERCENT else ""
    if devices == 1:
        return f"{name} {hardly}lowers {what}: {step}."
    if done == 1:
        return f"{_of_the(devices, done)} {name} {hardly}lowers {what}: {step}."
    return f"{_of_the(devices, done)}, {name} lowers {what} most{', but hardly' if hardly else ''}"\
           f": {step}."


def _none_lowers(devices, done, what) -> str:
    if devices == 1:
        return f"The device does not lower {what}."
    if done < devices:
        return f"No device that could be computed lowers {what}."
    return f"None of the {counted(devices)} devices lowers {what}."


def worse_with(comparison: Comparison, index: int) -> list[tuple[str, str, float]]:
    """Return what rises with one device: (tissue, quantity, percent), largest first."""
    name = comparison.outcomes[index].name
    return [entry[1:] for entry in comparison.worse if entry[0] == name]


def _worse(comparison, index, name) -> list[str]:
    found = worse_with(comparison, index)
    if not found:
        return [f"With {name} nothing else rises by more than 5 %."]
    listed = [f"{phrase(t, q)} {rise_text(p)}" for t, q, p in found[:WORSE_SHOWN]]
    more = len(found) - len(listed)
    tail = f", and {counted(more)} more in the table below" if more else ""
    return [f"What gets worse with {name}: {', '.join(listed)}{tail}."]


def _strength(row, comparison) -> list[str]:
    share = share_percent(row)
    if share is None:
        return []
    words = (f"Without a device the {tissue_title(row.tissue)} carries {share:.0f} % of its "
             "published strength")
    if row.tissue in comparison.ranking:
        place = comparison.ranking.index(row.tissue) + 1
        words += f", place {place} of the {len(comparison.ranking)} tissues with a known strength"
    return [words + "."]


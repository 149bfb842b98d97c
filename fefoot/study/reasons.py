"""Why a condition has no numbers: plain words first, the solver's own words in parentheses."""

from __future__ import annotations

import re

from ..case.values import Case

NO_EQUILIBRIUM = "no equilibrium was found"
_SOLVER = "not converged: "
_BEYOND = re.compile(
    r"(?:(?P<label>.*?): )?the load could not be carried beyond (?P<percent>\d+) % of it: (?P<rest>.*)",
    re.DOTALL)
_TOUCH = "first contact"


def plain_reason(text: str | None) -> str | None:
    """Return the reason of a failure with plain words first.

    ``not converged: flat: the load could not be carried beyond 61 % of it: no equilibrium after 30
    Newton iterations`` becomes ``no equilibrium was found beyond 61 % of the load (no equilibrium
    after 30 Newton iterations)``. Other reasons, and those in plain words already, stay as they are.
    """
    if text is None or not text.startswith(_SOLVER):
        return text
    detail = " ".join(text.removeprefix(_SOLVER).split())
    found = _BEYOND.fullmatch(detail)
    if found is None:
        return f"{NO_EQUILIBRIUM} ({detail})"
    percent = int(found["percent"])
    if (found["label"] or "").endswith(_TOUCH):
        where = " at first contact"
    elif percent == 0:
        where = " at any part of the load"
    else:
        where = f" beyond {percent} % of the load"
    return f"{NO_EQUILIBRIUM}{where} ({found['rest']})"


def advice(case: Case, reasons) -> str | None:
    """Return what to do about failures, or None where none of the reasons is a missing equilibrium.

    Contact that grips is no way out where the case has it already, nor across the heel, where it
    does not converge.
    """
    if not any(NO_EQUILIBRIUM in (plain_reason(reason) or "") for reason in reasons):
        return None
    ways = ["lower the load", "choose another instant"]
    if case.model != "rearfoot" and case.solver.contact != "gripping":
        ways.append('set contact = "gripping" under [solver]')
    return f"{', '.join(ways[:-1])} or {ways[-1]}"

"""The unknowns of a certainty study: the case's own, or the shipped ones of its model."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import replace
from importlib import resources

from ..case.address import address, applied, value_at
from ..case.studies import Unknown
from ..case.values import Case

CUT_SPREADS = 2.0
"""A normal spread is cut off at so many standard deviations."""


@functools.cache
def shipped() -> tuple[tuple[tuple[str, ...], Unknown], ...]:
    """Return (models, unknown) of each shipped unknown; the flag stands in its source."""
    text = resources.files(__package__).joinpath("unknowns.toml").read_text(encoding="utf-8")
    return tuple(
        (tuple(row["models"]), Unknown(
            row["name"], row["of"], tuple(row.get("among", ())), middle=row.get("middle"),
            spread=row.get("spread"), source=f"{row['source']} ({row['flag']})"))
        for row in tomllib.loads(text)["unknown"])


def unknowns_of(case: Case) -> tuple[Unknown, ...]:
    """Return the unknowns of a case, their middles filled in.

    A case's own list replaces the shipped one. Without devices their stiffness is left out.
    """
    own = case.studies.certainty.unknowns if case.studies.certainty else ()
    found = own or tuple(u for models, u in shipped() if case.model in models
                         and (case.devices or not u.of.startswith("material.")))
    return tuple(
        replace(u, middle=value_at(case, None, address(u.of, case, None)))
        if u.spread is not None and u.middle is None else u for u in found)


def value_of(unknown: Unknown, share: float, key):
    """Return an unknown's value at a share of its distribution, 0 to 1.

    Alternatives are equally likely; a range is even; a normal spread is cut off at `CUT_SPREADS`
    and at the range that the schema's ``key`` allows.
    """
    if unknown.among:
        return unknown.among[min(int(share * len(unknown.among)), len(unknown.among) - 1)]
    if unknown.low is not None:
        return unknown.low + share * (unknown.high - unknown.low)
    from scipy.special import ndtr, ndtri

    low = ndtr(-CUT_SPREADS)
    value = unknown.middle + unknown.spread * float(ndtri(low + share * (1.0 - 2.0 * low)))
    return min(max(value, key.low), key.high)


def case_at(case: Case, unknowns, shares) -> tuple[Case, dict]:
    """Return the case at a point of the unit cube, and the values there by name."""
    values = {}
    for unknown, share in zip(unknowns, shares, strict=True):
        at = address(unknown.of, case, None)
        values[unknown.name] = value_of(unknown, float(share), at.key)
        case, _ = applied(case, None, at, values[unknown.name])
    return case, values

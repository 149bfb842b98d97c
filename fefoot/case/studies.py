"""What a case file asks of a study: a design space, unknowns, a question with limits."""

from __future__ import annotations

from dataclasses import dataclass

from .schema import Key, _number
from .tissues import TISSUES

COLUMNS = ("design", "sample", "condition", "stance_percent", "status", "reason", "run")
"""Columns of the studies' tables besides varied values and measures."""
SAMPLINGS = ("grid", "latin_hypercube", "sobol")
SWEEP = (
    Key("device", "name", "which device of the case is varied; may be left out where there is one", ""),
    Key("sampling", "choice", "every combination, or so many samples spread over the space", "grid",
        choices=SAMPLINGS),
    Key("samples", "integer", "how many, for latin_hypercube and sobol (there a power of two)", 64,
        "", 2, 65536),
    Key("seed", "integer", "seed of the samples", 1, "", 0, 2**31),
)
VARIED = (
    Key("name", "name", "short name of the value, for tables and exclusions"),
    Key("of", "text", "which value is varied, such as layer.2.thickness_mm or person.body_mass_kg"),
)
RANGE = (
    _number("from", "", -1e6, 1e6, None, "lowest value"),
    _number("to", "", -1e6, 1e6, None, "highest value"),
)
STEP = _number("step", "", 1e-6, 1e6, None, "distance of values in a grid; samples snap to it")
SPREAD = (
    _number("middle", "", -1e6, 1e6, None, "mean; left out: what the case says"),
    _number("spread", "", 1e-9, 1e6, None,
            "one standard deviation of a normal spread that is cut off at two"),
)
SOURCE = Key("source", "text", "where the spread comes from", "given in the case file")
CERTAINTY = (
    Key("samples", "integer", "base samples, a power of two; each costs (unknowns + 2) runs of every "
        "condition", 16, "", 4, 4096),
    Key("seed", "integer", "seed of the samples", 1, "", 0, 2**31),
)
SEARCH = (
    _number("reduction_percent", "percent", 0, 100, 10.0,
            "how much less of the target's first measure is wanted"),
    Key("solves", "integer", "most designs that are solved", 40, "", 4, 10000),
    Key("start", "integer", "designs of the first, spread sample", 12, "", 3, 5000),
    Key("seed", "integer", "seed of samples and proposals", 1, "", 0, 2**31),
)
LIMIT = (
    Key("tissue", "choice", "which tissue", choices=tuple(TISSUES)),
    Key("quantity", "text", "which of its quantities, such as peak_pressure_kPa"),
    _number("most", "", -1e6, 1e6, None, "largest size allowed, in the quantity's unit"),
    _number("rise_percent", "percent", -100, 10000, None, "largest rise allowed against no device"),
)

TABLES: dict[str, tuple[Key, ...]] = {
    "sweep": SWEEP, "sweep.vary": (*VARIED, *RANGE, STEP), "certainty": CERTAINTY,
    "certainty.unknown": (*VARIED, *RANGE, *SPREAD, SOURCE), "search": SEARCH, "search.limit": LIMIT,
}
"""Keys of the studies by table. Besides, ``among`` lists values, and a ``[[sweep.exclude]]`` names
varied values with a value, a list, or limits ``{ below = 3, above = 1 }``."""


@dataclass(frozen=True)
class Vary:
    """A varied value: its short name, its address, and a list (``among``) or a range with a step."""

    name: str
    of: str
    among: tuple = ()
    low: float | None = None
    high: float | None = None
    step: float | None = None

    def count(self) -> int | None:
        """Return how many values there are; None for a range without step."""
        if self.among:
            return len(self.among)
        return None if self.step is None else int((self.high - self.low) / self.step + 1e-9) + 1

    def values(self) -> tuple | None:
        """Return the values in order; None for a range without step."""
        if self.among or self.step is None:
            return self.among or None
        return tuple(round(self.low + k * self.step, 9) for k in range(self.count()))

    def at(self, share: float):
        """Return the value at a share, 0 to 1 (excluded), of the list or range."""
        known = self.values()
        if known is not None:
            return known[min(int(share * len(known)), len(known) - 1)]
        return self.low + share * (self.high - self.low)


@dataclass(frozen=True)
class Sweep:
    """A design space.

    ``exclude`` holds one dict per forbidden combination, of varied name to a value, a list of
    values, or limits ``{"below": x, "above": y}``; all of its lines must hold.
    """

    device: str
    sampling: str
    samples: int
    seed: int
    vary: tuple[Vary, ...]
    exclude: tuple[dict, ...] = ()

    def excludes(self, design: dict) -> bool:
        """Say whether a design, varied name to value, is one of the forbidden combinations."""
        return any(all(_holds(design[name], rule) for name, rule in rules.items())
                   for rules in self.exclude)


def _holds(value, rule) -> bool:
    if isinstance(rule, dict):
        return value < rule.get("below", float("inf")) and value > rule.get("above", float("-inf"))
    return value in rule if isinstance(rule, tuple) else value == rule


@dataclass(frozen=True)
class Unknown:
    """What nobody knows about this person or load: alternatives, a range, or a normal spread."""

    name: str
    of: str
    among: tuple = ()
    low: float | None = None
    high: float | None = None
    middle: float | None = None
    spread: float | None = None
    source: str = ""


@dataclass(frozen=True)
class Certainty:
    """A certainty study; without ``unknowns`` the shipped ones of the model are taken."""

    samples: int = 16
    seed: int = 1
    unknowns: tuple[Unknown, ...] = ()


@dataclass(frozen=True)
class Limit:
    """A limit on one measure: its largest size in the unit, or its largest rise in percent."""

    tissue: str
    quantity: str
    most: float | None = None
    rise_percent: float | None = None


@dataclass(frozen=True)
class Search:
    """A question to the design space of the sweep."""

    reduction_percent: float
    solves: int
    start: int
    seed: int
    limits: tuple[Limit, ...] = ()


@dataclass(frozen=True)
class Studies:
    """The studies that a case file describes; None where it does not."""

    sweep: Sweep | None = None
    certainty: Certainty | None = None
    search: Search | None = None


NONE = Studies()


def is_power_of_two(number: int) -> bool:
    """Say whether a whole number is a power of two."""
    return number > 0 and number & (number - 1) == 0

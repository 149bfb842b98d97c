"""How far the answer depends on what nobody can measure."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..case.studies import Certainty, Unknown
from ..case.values import Case
from ..errors import InputError
from ..outcome.comparison import change_percent
from .compare import BAREFOOT
from .engine import Evaluate, Row, Tally, evaluated, keyed
from .entries import RunStore
from .indices import Index, design, indices
from .reasons import advice
from .run import Run, solve_run
from .unknowns import case_at, unknowns_of

BAND_PERCENT = 5.0, 95.0
MISSING_SHOWN = 12
STEADY_PERCENT = 90.0
"""A sign that holds in so many percent of the samples is called certain enough."""
PADS = "heel_pad", "metatarsal_pad"
"""Soft tissue whose compression is measured."""


@dataclass(frozen=True)
class Spread:
    """The change of one measure with one device over the samples.

    Attributes
    ----------
    device, tissue, quantity : str
    count : int
        Samples with a change.
    median, low, high : float
        Percent; the band holds the middle 90 % of the samples.
    same_sign_percent : float
        Share of the samples in which the change has the sign of the median.
    case_percent : float or None
        Change with the case as it stands.
    indices : tuple of Index or None
        None where the change does not vary, or the design is not complete.
    """

    device: str
    tissue: str
    quantity: str
    count: int
    median: float
    low: float
    high: float
    same_sign_percent: float
    case_percent: float | None
    indices: tuple[Index, ...] | None

    @property
    def key(self) -> tuple[str, str]:
        """(tissue, quantity)."""
        return self.tissue, self.quantity

    @property
    def same_sign(self) -> int:
        """Samples in which the change has the sign of the median."""
        return round(self.count * self.same_sign_percent / 100.0)


@dataclass(frozen=True)
class Sample:
    """One sample: its number, the values of the unknowns, a row per condition.

    ``tissue`` names the material of its soft tissue, ``least_stretch`` is the lowest stretch that
    this material's constants are meant for.
    """

    number: int
    values: dict
    rows: dict[str, Row]
    tissue: str = ""
    least_stretch: float = 0.0

    def change(self, device: str, key: tuple[str, str]) -> float | None:
        """Return the change of a measure with a device against no device, percent."""
        return change_percent(self.rows[device].values.get(key),
                              self.rows[BAREFOOT].values.get(key))


@dataclass(frozen=True)
class Beyond:
    """A pad of a sample that is compressed beyond what its material's constants are meant for."""

    sample: int
    condition: str
    pad: str
    material: str
    compression_percent: float
    meant_percent: float


@dataclass(frozen=True)
class Certain:
    """What a certainty study found; the first sample, number 0, is the case as it stands."""

    case: Case
    unknowns: tuple[Unknown, ...]
    samples: tuple[Sample, ...]
    spreads: tuple[Spread, ...]
    missing: tuple[tuple[int, str, str], ...]
    tally: Tally
    seconds: float

    @property
    def beyond(self) -> tuple[Beyond, ...]:
        """Pads of all samples, the case as it stands included, that are compressed too far."""
        return tuple(entry for sample in self.samples for entry in beyond(sample))


def settings(case: Case) -> Certainty:
    """Return the case's certainty settings, or the defaults."""
    return case.studies.certainty or Certainty()


def certainty(case: Case, store: str | Path | RunStore, *, executor=None,
              evaluate: Evaluate = solve_run, tell=None, again: bool = False,
              without_indices: bool = False) -> Certain:
    """Compute every condition of a case over a sample of its unknowns.

    Parameters
    ----------
    case : Case
        With a device and one instant.
    store, executor, evaluate, tell, again
        See `fefoot.study.engine.evaluated`.
    without_indices : bool
        Whether an incomplete design is accepted: bands over the samples that have an answer, no
        indices.

    Raises
    ------
    InputError
        Without a device, for several instants, without SALib; when runs failed and
        ``without_indices`` is not set: the message names the missing samples.
    """
    began = time.perf_counter()
    instants = case.activity.instants()
    _refuse(case, instants)
    unknowns, chosen = unknowns_of(case), settings(case)
    names = [unknown.name for unknown in unknowns]
    points = design(names, chosen.samples, chosen.seed)
    cases = [(case, {}), *(case_at(case, unknowns, point) for point in points)]
    conditions = [BAREFOOT, *(device.name for device in case.devices)]
    runs = []
    for at, _ in cases:
        (instant,) = at.activity.instants()
        runs += [Run.of(at, device, instant) for device in (None, *at.devices)]
    store = store if isinstance(store, RunStore) else RunStore(store)
    rows, tally = evaluated(keyed(runs), store, executor=executor, evaluate=evaluate, tell=tell,
                            again=again)
    width = len(conditions)
    samples = tuple(
        Sample(n, values, dict(zip(conditions, rows[n * width:(n + 1) * width], strict=True)),
               at.person.plantar_tissue, at.material(at.person.plantar_tissue).stretch_range[0])
        for n, (at, values) in enumerate(cases))
    missing = tuple((s.number, name, row.failure) for s in samples[1:]
                    for name, row in s.rows.items() if row.failure)
    if missing and not without_indices:
        raise incomplete(case, samples, missing)
    spreads = spreads_of(samples, conditions[1:], names, None if missing else chosen.seed)
    return Certain(case, unknowns, samples, spreads, missing, tally, time.perf_counter() - began)


def _refuse(case: Case, instants) -> None:
    if not case.devices:
        raise InputError("there is no device whose effect could be certain", file=case.file,
                         key="device", hint="add a [[device]]")
    if len(instants) != 1:
        raise InputError("a certainty study looks at one instant", file=case.file, key="activity.at",
                         value=case.activity.at, allowed="'peak', or a percent of stance",
                         hint="choose the instant that loads the target most")


def beyond(sample: Sample) -> list[Beyond]:
    """Return the pads of a sample that are compressed beyond the range of their material.

    A pad's compression is that of the whole height between bone and sole, so that somewhere in it
    the stretch is lower still.
    """
    meant = 100.0 * (1.0 - sample.least_stretch)
    return [Beyond(sample.number, condition, pad, sample.tissue, value, meant)
            for condition, row in sample.rows.items() for pad in PADS
            if (value := row.values.get((pad, "compression_percent"))) is not None and value > meant]


def incomplete(case: Case, samples, missing) -> InputError:
    """Return the error for a design with failed runs; it names the samples that are missing."""
    listed = []
    for number, name, reason in missing[:MISSING_SHOWN]:
        values = ", ".join(f"{k} {v:.4g}" if isinstance(v, float) else f"{k} {v}"
                           for k, v in samples[number].values.items())
        listed.append(f"sample {number}, {name} ({values}): {reason}")
    more = len(missing) - len(listed)
    lost = len({number for number, _, _ in missing})
    ways = advice(case, [reason for *_, reason in missing])
    text = "\n           ".join([*listed, *([f"and {more} more"] if more > 0 else [])])
    return InputError(
        f"the design is incomplete: {lost} of {len(samples) - 1} samples have a run without answer, "
        f"and indices from the rest would be wrong\n  missing: {text}",
        file=case.file, key="certainty",
        hint="narrow the unknown that fails, try again with --again, or ask for bands alone with "
             "--without-indices" + (f"; for an equilibrium, {ways}" if ways else ""))


def spreads_of(samples: Sequence[Sample], devices, names, seed: int | None) -> tuple[Spread, ...]:
    """Return the spread of every measure's change with every device over all but the first sample.

    ``seed`` is that of the intervals of the indices; None leaves the indices out.
    """
    keys = sorted({key for s in samples for row in s.rows.values() for key in row.values})
    out = []
    for device in devices:
        for key in keys:
            changes = [s.change(device, key) for s in samples[1:]]
            known = np.array([c for c in changes if c is not None])
            if len(known) < max(2, len(changes) // 2):
                continue
            median = float(np.median(known))
            low, high = (float(v) for v in np.percentile(known, BAND_PERCENT))
            sign = np.sign(median)
            complete = seed is not None and len(known) == len(changes)
            out.append(Spread(
                device, *key, len(known), median, low, high,
                100.0 * float(np.mean(np.sign(known) == sign)),
                samples[0].change(device, key),
                indices(names, known, seed) if complete else None))
    return tuple(out)

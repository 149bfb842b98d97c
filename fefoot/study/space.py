"""The designs of a sweep: every combination, a Latin hypercube, or a Sobol sequence."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from ..case.address import address, applied
from ..case.agree import disagreements
from ..case.studies import Sweep
from ..case.values import Case
from ..device.device import Device
from ..errors import InputError


@dataclass(frozen=True)
class Design:
    """One point of a design space.

    Attributes
    ----------
    number : int
        From 1, in the order of the space.
    values : dict of varied name -> value
    case : Case
        The case with this design's person, activity and materials.
    device : Device or None
        The varied device with this design's values.
    refusal : str or None
        Why the values contradict each other; such a design is not solved.
    """

    number: int
    values: dict
    case: Case
    device: Device | None
    refusal: str | None = None


def varied_device(case: Case) -> Device | None:
    """Return the device that the sweep varies; None where only person and load are varied."""
    name = case.studies.sweep.device
    return next((device for device in case.devices if device.name == name), None)


def sweep_of(case: Case) -> Sweep:
    """Return the sweep of a case; InputError where it has none."""
    if case.studies.sweep is None:
        raise InputError("the case has no design space", file=case.file, key="sweep",
                         hint="add [sweep] and [[sweep.vary]] with name, of, and among or from, to")
    return case.studies.sweep


def designs(case: Case) -> list[Design]:
    """Return the designs of a case's sweep in a fixed order, without the excluded ones.

    Raises
    ------
    InputError
        When the case has no sweep, or everything is excluded.
    """
    sweep = sweep_of(case)
    points = grid(sweep) if sweep.sampling == "grid" else sampled(sweep)
    allowed = [values for values in points if not sweep.excludes(values)]
    if not allowed:
        raise InputError("every design is excluded", file=case.file, key="sweep.exclude",
                         hint="loosen the exclusions")
    return [design_of(case, number, values) for number, values in enumerate(allowed, 1)]


def grid(sweep: Sweep) -> list[dict]:
    """Return every combination of the varied values; the last one named changes fastest."""
    names = [entry.name for entry in sweep.vary]
    return [dict(zip(names, point, strict=True))
            for point in itertools.product(*(entry.values() for entry in sweep.vary))]


def sampled(sweep: Sweep) -> list[dict]:
    """Return the distinct designs of a seeded Latin hypercube or scrambled Sobol sample."""
    from scipy.stats import qmc

    kind = qmc.Sobol if sweep.sampling == "sobol" else qmc.LatinHypercube
    shares = kind(len(sweep.vary), rng=np.random.default_rng(sweep.seed)).random(sweep.samples)
    return distinct(at_shares(sweep, row) for row in shares)


def at_shares(sweep: Sweep, shares) -> dict:
    """Return the design at a point of the unit cube."""
    return {entry.name: entry.at(float(share))
            for entry, share in zip(sweep.vary, shares, strict=True)}


def distinct(points) -> list[dict]:
    """Return points without repetition, in order."""
    return list({tuple(point.items()): point for point in points}.values())


def design_of(case: Case, number: int, values: dict) -> Design:
    """Return the design with the given values."""
    device = varied_device(case)
    for entry in case.studies.sweep.vary:
        at = address(entry.of, case, device)
        case, device = applied(case, device, at, values[entry.name])
    case = replaced(case, device)
    problem = next(disagreements(case), None)
    refusal = None if problem is None else f"refused: {problem.key}: {problem.problem}"
    return Design(number, values, case, device, refusal)


def replaced(case: Case, device: Device | None) -> Case:
    """Return a case with a device in place of the one of its name."""
    from dataclasses import replace

    if device is None:
        return case
    return replace(case, devices=tuple(
        device if d.name == device.name else d for d in case.devices))

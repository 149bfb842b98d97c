"""How many solves the studies of a case cost at most."""

from __future__ import annotations

from collections.abc import Iterator

from .address import address, value_at
from .values import Case

NOT_OF_DEVICE = ("person", "activity", "load")
"""First parts of the addresses that also change the bare foot."""


def study_lines(case: Case) -> Iterator[str]:
    """Yield a line for each study of a case: what it would compute, and how many solves that is."""
    studies = case.studies
    if studies.sweep is not None:
        names = ", ".join(entry.name for entry in studies.sweep.vary)
        count, solves = sweep_cost(case)
        kind = "combinations" if studies.sweep.sampling == "grid" else \
            f"samples ({studies.sweep.sampling})"
        yield f"sweep: {count} {kind} of {names}: at most {solves} solves"
    refused = _refused(case)
    if studies.search is not None:
        yield "search: " + (refused or f"at most {studies.search.solves} designs: at most "
                            f"{search_cost(case)} solves")
    if studies.certainty is not None:
        if not case.devices:
            refused = "cannot be done without a [[device]]"
        samples, unknowns, solves = certainty_cost(case)
        yield "certainty: " + (refused or f"{samples} base samples of {unknowns} unknowns: at most "
                               f"{solves} solves, each condition in each sample")


def _refused(case: Case) -> str:
    """Return why this case cannot be searched or be certain; empty where it can."""
    if len(case.activity.instants()) == 1:
        return ""
    return "looks at one instant; set activity.at to 'peak' or a percent of stance"


def sweep_cost(case: Case) -> tuple[int, int]:
    """Return how many designs a sweep has, exclusions left out, and how many solves it costs at most.

    Besides the designs: the devices that are not varied and the bare foot, and the bare foot anew
    wherever person, load or instant are varied.
    """
    from ..study.space import grid, sampled

    sweep = case.studies.sweep
    points = grid(sweep) if sweep.sampling == "grid" else sampled(sweep)
    points = [values for values in points if not sweep.excludes(values)]
    bare = [entry for entry in sweep.vary if entry.of.split(".")[0] in NOT_OF_DEVICE]
    own = len(case.activity.instants())
    each = 1 if any(entry.of == "activity.at" for entry in bare) else own
    conditions = 1 + len(case.devices)
    if not sweep.device:
        return len(points), conditions * (own + each * len(points))
    device = next(d for d in case.devices if d.name == sweep.device)
    bases = {tuple(values[entry.name] for entry in bare) for values in points} - {
        tuple(value_at(case, device, address(entry.of, case, device)) for entry in bare)}
    return len(points), (conditions - 1) * own + each * (len(points) + len(bases))


def search_cost(case: Case) -> int:
    """Return how many solves a search costs at most: its designs, and what they are compared with."""
    sweep, most = case.studies.sweep, case.studies.search.solves
    bare = any(entry.of.split(".")[0] in NOT_OF_DEVICE for entry in sweep.vary)
    return most * (2 if bare and sweep.device else 1) + max(len(case.devices), 1)


def certainty_cost(case: Case) -> tuple[int, int, int]:
    """Return base samples, unknowns, and how many solves a certainty study costs at most.

    A design of N base samples of k unknowns has N (k + 2) samples; the case as it stands comes first.
    """
    from ..study.unknowns import unknowns_of

    samples, unknowns = case.studies.certainty.samples, len(unknowns_of(case))
    return samples, unknowns, (1 + samples * (unknowns + 2)) * (1 + len(case.devices))

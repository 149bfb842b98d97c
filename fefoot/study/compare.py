"""Compare devices: solve every condition of a case and write the run folder."""

from __future__ import annotations

import resource
import time
from dataclasses import dataclass
from pathlib import Path

from ..case.values import Case
from ..errors import ConvergenceError, FefootError, InputError
from ..mechanics.events import Note, SolveFailed
from ..outcome.checks import checks
from ..outcome.comparison import compare_outcomes
from ..outcome.measures import measures
from ..outcome.picture import picture
from ..outcome.values import Comparison, Outcome
from .model import build
from .question import demand, heel_share, question
from .solve import solve_model

BAREFOOT = "barefoot"
LEAST_FORCE_N = 5.0


@dataclass(frozen=True)
class Result:
    """What a comparison found: one :class:`Comparison` per instant, and where it was written."""

    case: Case
    comparisons: tuple[Comparison, ...]
    folder: Path | None

    @property
    def failed(self) -> bool:
        """Whether any condition has no numbers."""
        return any(o.failure for c in self.comparisons for o in c.outcomes)


def compare(case: Case, out: str | Path | None = None, listener=None) -> Result:
    """Solve a case with and without its devices.

    Parameters
    ----------
    case : Case
    out : path or None
        Run folder to write; it must not exist yet. None writes nothing.
    listener : callable, optional
        Receives events.

    Raises
    ------
    InputError
        When the folder exists, or a section misses the device.
    """
    from .store import RunFolder

    started = time.perf_counter()
    tell = listener or (lambda event: None)
    folder = RunFolder(out) if out is not None else None
    if folder:
        tell = folder.listening(tell)
    for text in _warnings(case):
        tell(Note(text))
    comparisons = []
    for instant in case.activity.instants():
        outcomes = [condition(case, device, instant, tell) for device in (None, *case.devices)]
        comparisons.append(compare_outcomes(tuple(outcomes), case.target))
    comparisons = tuple(comparisons)
    path = None
    if folder:
        seconds = time.perf_counter() - started
        peak_MB = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
        path = folder.write(case, comparisons, {"wall_seconds": seconds, "memory_MB": peak_MB})
    return Result(case, comparisons, path)


def condition(case: Case, device, instant, tell) -> Outcome:
    """Solve one condition; a failure becomes an outcome without numbers."""
    name = device.name if device else BAREFOOT
    title = (device.title or device.name) if device else "no device"
    label = name if len(case.activity.instants()) == 1 else \
        f"{name} at {instant.stance_percent:g} %"
    force = demand(case, instant)
    if force.vertical_N < LEAST_FORCE_N:
        raise InputError(
            "the heel carries no load at this instant", file=case.file, key="activity.at",
            value=instant.stance_percent,
            allowed=f"instants with a heel share above zero (here {heel_share(instant):.2f})",
            hint="choose an earlier instant, or the sagittal model")
    try:
        solved = solve_model(build(question(case, device, instant)), force,
                             tolerance=case.solver.tolerance, label=label, listener=tell)
    except ConvergenceError as problem:
        tell(SolveFailed(label, str(problem)))
        return Outcome(name, title, instant.stance_percent, f"not converged: {problem}",
                       history=tuple(problem.history))
    except InputError:
        raise
    except FefootError as problem:
        tell(SolveFailed(label, str(problem)))
        return Outcome(name, title, instant.stance_percent, str(problem))
    rows = checks(solved)
    bad = [check for check in rows if not check.passed]
    tally = solved.solution.tally
    cost = {"seconds": solved.seconds, "newton_iterations": len(solved.solution.history),
            "factorisations": tally.factorisations, "factor_seconds": tally.factor_seconds,
            "symbolic": tally.symbolic, "unknowns": solved.model.system.coordinates.size,
            "solvers": dict(tally.solvers)}
    if bad:
        reason = "; ".join(f"{c.name} {c.value:.2g} {c.unit} (limit {c.limit:g})".replace("  ", " ")
                           for c in bad)
        tell(SolveFailed(label, f"checks failed: {reason}"))
        return Outcome(name, title, instant.stance_percent, f"checks failed: {reason}", (), rows,
                       cost, tuple(solved.solution.history))
    return Outcome(name, title, instant.stance_percent, None, measures(solved), rows, cost,
                   tuple(solved.solution.history), picture(solved))


def _warnings(case: Case):
    """Yield what a reader should know about the case's materials."""
    from ..material.stability import stability

    for name in case.material_names():
        material = case.material(name)
        report = stability(material, *material.stretch_range)
        if not report.stable:
            yield f"material {name}: {report.sentence()}"

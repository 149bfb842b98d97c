"""Compare devices: solve every condition of a case and write the run folder."""

from __future__ import annotations

import contextlib
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from ..case.values import Case
from ..errors import ConvergenceError, FefootError, InputError
from ..foot.reference import reference_mesh
from ..mechanics import mkl
from ..mechanics.descent import descents
from ..mechanics.events import Note, SolveFailed
from ..mechanics.threads import one_for_arrays
from ..outcome.checks import checks
from ..outcome.comparison import compare_outcomes
from ..outcome.measures import measures
from ..outcome.picture import picture
from ..outcome.values import Comparison, Outcome
from .growth import solve_question
from .parallel import carried_out, processes_for
from .question import demand, heel_share, question

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


def compare(case: Case, out: str | Path | None = None, listener=None,
            processes: int | None = None) -> Result:
    """Solve a case with and without its devices.

    Each condition is solved in a process of its own, several at a time, where there are several
    conditions and cores.

    Parameters
    ----------
    case : Case
    out : path or None
        Run folder to write; it must not exist yet. None writes nothing.
    listener : callable, optional
        Receives events; those of conditions that are solved side by side mix.
    processes : int, optional
        Most conditions to solve at a time. By default as many as there are cores where a process
        starts as a copy of this one (Linux), else one: elsewhere each imports the calling script
        once more, which then needs a main guard.

    Raises
    ------
    InputError
        When the folder exists, a section misses the device, or it carries no load.
    """
    from .store import RunFolder

    started = time.perf_counter()
    tell = listener or (lambda event: None)
    folder = RunFolder(out) if out is not None else None
    if folder:
        tell = folder.listening(tell)
    for text in _warnings(case):
        tell(Note(text))
    instants = case.activity.instants()
    for instant in instants:
        _refuse_no_load(case, instant)
    jobs = [(case, device, instant) for instant in instants for device in (None, *case.devices)]
    count = processes_for(len(jobs)) if processes is None else processes
    if count > 1:
        _prepare(case)
    solved = carried_out(_solve, jobs, tell, count, _longest_first(jobs),
                         idle=_import_writers if folder else None)
    width = 1 + len(case.devices)
    comparisons = tuple(
        compare_outcomes(tuple(outcome for outcome, _ in solved[first:first + width]), case.target)
        for first in range(0, len(jobs), width))
    path = None
    if folder:
        seconds = time.perf_counter() - started
        peak_MB = sum(sorted(memory_MB for _, memory_MB in solved)[-max(count, 1):])
        path = folder.write(case, comparisons, {
            "wall_seconds": seconds, "memory_MB": peak_MB, "processes": count})
    return Result(case, comparisons, path)


@one_for_arrays()
def condition(case: Case, device, instant, tell) -> Outcome:
    """Solve one condition; a failure becomes an outcome without numbers."""
    name = device.name if device else BAREFOOT
    title = (device.title or device.name) if device else "no device"
    label = name if len(case.activity.instants()) == 1 else \
        f"{name} at {instant.stance_percent:g} %"
    try:
        solved = solve_question(question(case, device, instant), demand(case, instant),
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
            "grown_from": solved.grown_from, "descents": descents(solved.solution.history),
            "solvers": dict(tally.solvers)}
    if bad:
        reason = "; ".join(f"{c.name} {c.value:.2g} {c.unit} (limit {c.limit:g})".replace("  ", " ")
                           for c in bad)
        tell(SolveFailed(label, f"checks failed: {reason}"))
        return Outcome(name, title, instant.stance_percent, f"checks failed: {reason}", (), rows,
                       cost, tuple(solved.solution.history))
    return Outcome(name, title, instant.stance_percent, None, measures(solved), rows, cost,
                   tuple(solved.solution.history), picture(solved))


def _refuse_no_load(case: Case, instant) -> None:
    if demand(case, instant).vertical_N < LEAST_FORCE_N:
        raise InputError(
            "the heel carries no load at this instant", file=case.file, key="activity.at",
            value=instant.stance_percent,
            allowed=f"instants with a heel share above zero (here {heel_share(instant):.2f})",
            hint="choose an earlier instant, or the sagittal model")


def _solve(job, tell) -> tuple[Outcome, float]:
    """Solve one condition; also return the peak memory of this process, MB."""
    outcome = condition(*job, tell)
    return outcome, _peak_memory_MB()


def _longest_first(jobs) -> list[int]:
    """Return the order in which to begin: the device with most layers and features first."""
    def size(number):
        device = jobs[number][1]
        return len(device.layers) + len(device.features) if device else -1

    return sorted(range(len(jobs)), key=size, reverse=True)


def _prepare(case: Case) -> None:
    """Do once what every process would do for itself: find PARDISO, make the mesh of the foot."""
    mkl.available()
    if case.model != "foot3d":
        with contextlib.suppress(FefootError):  # each condition says so itself
            reference_mesh(case.model, case.solver.mesh_size_mm, False)


def _import_writers() -> None:
    """Import what the run folder will be written with, and name the physics that it states."""
    import matplotlib.figure  # noqa: F401
    import meshio  # noqa: F401

    from .physics import physics_version

    physics_version()


def _peak_memory_MB() -> float:
    """Return the most memory that this process has had, MB; 0 where it cannot be asked (Windows)."""
    try:
        import resource
    except ImportError:
        return 0.0
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (2**20 if sys.platform == "darwin" else 2**10)


def _warnings(case: Case):
    """Yield what a reader should know about the case's materials."""
    from ..material.stability import stability

    for name in case.material_names():
        material = case.material(name)
        report = stability(material, *material.stretch_range)
        if not report.stable:
            yield f"material {name}: {report.sentence()}"

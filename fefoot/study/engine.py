"""From a list of runs to a list of rows: reused from the store, or computed and kept there.

Every run is computed cold from the same path, so that a row never depends on its neighbours, on their
order, or on who else computes beside it.
"""

from __future__ import annotations

import contextlib
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from ..errors import FefootError
from . import parallel
from .entries import RunStore
from .reasons import plain_reason
from .run import THREADS, Run, described, key_of, solve_run

NOT_KEPT = "interrupted: "
"""How the failure of a run begins that was not computed to its end; it is tried again next time."""


@dataclass(frozen=True)
class Row:
    """What is known of one run.

    Attributes
    ----------
    key : str
    failure : str or None
        Why there are no values, plain words first.
    values : dict of (tissue, quantity) -> float
    strengths : dict of (tissue, quantity) -> float
    cost : dict
        seconds, newton_iterations, factorisations.
    checks : tuple
        Name, value, limit, unit, passed.
    """

    key: str
    failure: str | None
    values: dict[tuple[str, str], float]
    strengths: dict[tuple[str, str], float]
    cost: dict
    checks: tuple = ()

    @classmethod
    def of(cls, key: str, kept: dict) -> Row:
        """Return the row of what the store keeps."""
        known = [m for m in kept["measures"] if m[2] is not None]
        return cls(key, plain_reason(kept["failure"]), {(t, q): value for t, q, value, _ in known},
                   {(t, q): s for t, q, _, s in known if s is not None}, kept["cost"],
                   tuple(tuple(check) for check in kept["checks"]))


@dataclass(frozen=True)
class Tally:
    """How far a study is: distinct runs wanted, reused, computed, failed of all, seconds so far."""

    wanted: int
    reused: int = 0
    computed: int = 0
    failed: int = 0
    seconds: float = 0.0

    @property
    def done(self) -> int:
        """Runs that are known."""
        return self.reused + self.computed

    @property
    def seconds_left(self) -> float | None:
        """Expected time left, from the runs computed so far; None before the first."""
        if not self.computed:
            return None if self.done < self.wanted else 0.0
        return self.seconds / self.computed * (self.wanted - self.done)

    def sentence(self) -> str:
        """Return the tally in words."""
        return (f"{self.wanted} runs: {self.computed} computed, {self.reused} reused, "
                f"{self.failed} failed")


@dataclass(frozen=True)
class Keyed:
    """A run with its key and the description that the key stands for."""

    key: str
    description: dict
    run: Run


def keyed(runs: Iterable[Run]) -> list[Keyed]:
    """Return runs with their keys."""
    out = []
    for run in runs:
        description = described(run)
        out.append(Keyed(key_of(description), description, run))
    return out


Evaluate = Callable[[Run, Callable], dict]


def evaluated(jobs: Sequence[Keyed], store: RunStore, *, executor=None, evaluate: Evaluate = solve_run,
              tell=None, again: bool = False) -> tuple[list[Row], Tally]:
    """Return the row of every job, in order, and the tally.

    Parameters
    ----------
    jobs : sequence of Keyed
        Jobs with the same key are computed once.
    store : RunStore
    executor : callable, optional
        ``executor(jobs, store, evaluate)`` yields ``(key, kept)`` as runs end, each already in the
        store unless it did not come to an end; by default `on_processes`.
    evaluate : callable of a run and a listener
        Returns what the store keeps of a run.
    tell : callable of a Tally, optional
        Called after each run.
    again : bool
        Whether runs that failed before are tried again.

    Raises
    ------
    InputError
        When the store cannot be written.
    """
    wanted = {job.key: job for job in jobs}
    known: dict[str, dict] = {}
    for key in wanted:
        kept = store.get(key)
        if kept is not None and not (again and kept["failure"]):
            known[key] = kept
    missing = [job for key, job in wanted.items() if key not in known]
    reused, failed = len(known), sum(1 for kept in known.values() if kept["failure"])
    began = time.perf_counter()
    tally = Tally(len(wanted), reused, 0, failed)
    tell = tell or (lambda tally: None)
    tell(tally)
    with contextlib.closing((executor or on_processes())(missing, store, evaluate)) as ended:
        for key, kept in ended:
            known[key] = kept
            failed += bool(kept["failure"])
            tally = Tally(len(wanted), reused, len(known) - reused, failed,
                          time.perf_counter() - began)
            tell(tally)
    return [Row.of(job.key, known[job.key]) for job in jobs], tally


def unfinished(problem: Exception) -> dict:
    """Return the row of a run that did not come to an end, for a reason that may pass."""
    words = " ".join(f"{type(problem).__name__}: {problem}".split())[:300]
    return {"failure": f"{NOT_KEPT}{words}", "measures": [], "checks": [], "cost": {}}


def on_processes(count: int | None = None):
    """Return an executor: each run in a process of its own, so many at a time, one thread each."""
    def execute(jobs, store, evaluate):
        if not jobs:
            return
        if evaluate is solve_run:
            prepare(jobs)
        processes = count or parallel.processes_for(len(jobs))
        tasks = [(job, store, evaluate) for job in jobs]
        with contextlib.closing(parallel.as_done(
                finish, tasks, lambda event: None, processes, threads_each=THREADS)) as ended:
            for number, kept, problem in ended:
                if isinstance(problem, FefootError):
                    raise problem
                yield jobs[number].key, kept if problem is None else unfinished(problem)

    return execute


def finish(task, tell) -> dict:
    """Compute one run in this process and put it into the store.

    An exception of the evaluation is a bug or a shortage: it goes to the caller and is not kept.
    """
    job, store, evaluate = task
    kept = store.get(job.key)
    if kept is not None and not kept["failure"]:
        return kept  # another study on this store was faster
    kept = evaluate(job.run, tell)
    store.put(job.key, job.description, kept)
    return kept


def prepare(jobs) -> None:
    """Do once what every process would do for itself: imports, PARDISO, the mesh of the foot."""
    from ..mechanics import mkl
    from . import compare, solve  # noqa: F401

    mkl.available()

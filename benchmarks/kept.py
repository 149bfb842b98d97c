"""Runs that are kept in a store, so that a stopped table goes on where it stopped."""

from __future__ import annotations

import sys
from collections.abc import Hashable, Mapping

STORE = "runs/benchmarks"


def progress(tally) -> None:
    """Say on the error stream how far a study is."""
    print(tally.sentence(), file=sys.stderr, flush=True)


def rows_of(runs: Mapping[Hashable, object], compute: bool, workers: int = 2) -> dict:
    """Return the row of every named run.

    Without ``compute`` only what the store has; None for the rest.
    """
    from fefoot.study.engine import Row, evaluated, keyed, on_processes
    from fefoot.study.entries import RunStore

    jobs, store = keyed(runs.values()), RunStore(STORE)
    if compute:
        rows, _ = evaluated(jobs, store, executor=on_processes(workers), tell=progress)
        return dict(zip(runs, rows, strict=True))
    return {name: found and Row.of(job.key, found)
            for name, job in zip(runs, jobs, strict=True) for found in [store.get(job.key)]}

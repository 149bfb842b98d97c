"""Runs that are kept, so that a stopped table goes on where it stopped.

Those of the whole foot are committed, since all of them take hours; a run is used again only while its
key is the same, hence not after a change of the physics or of a library's version.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Hashable, Mapping
from pathlib import Path

STORE = "runs/benchmarks"
"""Store of the runs of the sections of the foot."""
SOLVED = Path(__file__).with_name("solved")
"""Store of the runs of the whole foot."""


def progress(tally) -> None:
    """Say on the error stream how far a study is."""
    print(tally.sentence(), file=sys.stderr, flush=True)


def rows_of(runs: Mapping[Hashable, object], compute: bool, workers: int = 2,
            folder: Path = SOLVED) -> dict:
    """Return the row of every named run of the whole foot.

    Without ``compute`` only what the store has; None for the rest.
    """
    from fefoot.study.engine import Row, evaluated, keyed, on_processes
    from fefoot.study.entries import RunStore

    jobs, store = keyed(runs.values()), RunStore(folder)
    if compute:
        rows, _ = evaluated(jobs, store, executor=on_processes(workers), tell=progress)
        return dict(zip(runs, rows, strict=True))
    return {name: found and Row.of(job.key, found)
            for name, job in zip(runs, jobs, strict=True) for found in [store.get(job.key)]}


def former(folder: Path = SOLVED) -> list[tuple[Path, dict]]:
    """Return file and entry of every run of another version of the physics."""
    from fefoot.study.physics import physics_version

    entries = [(file, json.loads(file.read_bytes())) for file in sorted(folder.glob("*/*.json"))]
    return [(file, entry) for file, entry in entries
            if entry["condition"]["physics"] != physics_version()]


def forget_former_physics(folder: Path = SOLVED) -> int:
    """Remove the runs of other versions of the physics; return how many there were."""
    gone = former(folder)
    for file, _ in gone:
        file.unlink()
    return len(gone)

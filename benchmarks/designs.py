"""Many designs of one shipped question: time per design against a cold solve, and what workers gain.

The same designs are computed on processes and on a local Dask cluster, each with a store of its own.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from statistics import median

from .hunt import asked
from .kept import STORE, progress

CASE, COUNT, FEW = "sore_heel_standing", 1000, 23
CLUSTER_STORE = f"{STORE}_cluster"


def timed(workers: int, count: int = FEW) -> tuple[float, list[dict]]:
    """Return the seconds of a few designs in an empty store, and their values."""
    from fefoot.study.engine import on_processes
    from fefoot.study.sweep import sweep

    case = asked(CASE, count)
    with tempfile.TemporaryDirectory() as empty:
        start = time.perf_counter()
        swept = sweep(case, empty, executor=on_processes(workers))
        return time.perf_counter() - start, [line.row.values for line in swept.lines]


def on_both(count: int, workers: int):
    """Return the sweep computed on processes and the sweep computed on a local Dask cluster."""
    from fefoot.study.cluster import on_cluster
    from fefoot.study.engine import on_processes
    from fefoot.study.sweep import sweep

    case = asked(CASE, count)
    return tuple(sweep(case, store, executor=executor, tell=progress) for store, executor in (
        (STORE, on_processes(workers)), (CLUSTER_STORE, on_cluster("local", workers))))


def same_values(one, other) -> bool:
    """Return whether two sweeps have the same designs, failures and values to the last digit."""
    return [(line.design, line.varied, line.failure, line.row.values) for line in one.lines] == [
        (line.design, line.varied, line.failure, line.row.values) for line in other.lines]


def design_lines(count: int = COUNT, workers: int = 2) -> Iterator[str]:
    """Yield the lines of the section; runs are kept, so that a stopped one goes on."""
    from fefoot.study.choice import leading_key, ranked

    yield f"\nInsoles of {CASE}, the values of the search below free, one thread per worker."
    timed(1, 2)  # imports, the foot's mesh
    (one, first), (two, second) = timed(1), timed(workers)
    yield (f"\n{FEW} designs and no device, after imports and meshing: {one:.0f} s on one worker, "
           f"{two:.0f} s on {workers}; efficiency {one / (workers * two):.2f} (goal 0.9). "
           f"Same values: {'yes' if first == second else 'no'}.")
    swept, clustered = on_both(count, workers)
    lines = [line for line in swept.lines if line.varied]
    known = ranked(lines, leading_key(swept.case))
    seconds = [line.row.cost["seconds"] for line in lines if line.row.cost.get("seconds")]
    cold = swept.lines[0].base.cost["seconds"]
    changes = [line.change_percent(leading_key(swept.case)) for line in known]
    yield (f"\n{len(lines)} designs: {len(known)} with an answer, {len(lines) - len(known)} without; "
           f"change of the target {changes[0]:.1f} to {changes[-1]:.1f} %. The same on a local Dask "
           f"cluster of {workers} workers: "
           f"{'identical' if same_values(swept, clustered) else '**not identical**'} values.")
    yield (f"\nMedian time of a design {median(seconds):.1f} s in its worker, "
           f"{median(seconds) / workers:.1f} s on {workers} workers; no device, cold, {cold:.1f} s: "
           f"{median(seconds) / workers / cold:.2f} of it (goal 0.3). Every design is solved cold on "
           "purpose: rough contact remembers how it was loaded, and a row must not depend on its "
           "neighbours.")

"""Many designs of one shipped question: time per design against a cold solve, and what workers gain."""

from __future__ import annotations

import tempfile
import time
from collections.abc import Iterator
from statistics import median

from .hunt import STORE, asked, progress

CASE, COUNT, FEW = "sore_heel_standing", 1000, 16


def timed(workers: int) -> tuple[float, list[dict]]:
    """Return the seconds of a few designs in an empty store, and their values."""
    from fefoot.study.engine import on_processes
    from fefoot.study.sweep import sweep

    case = asked(CASE, FEW)
    with tempfile.TemporaryDirectory() as empty:
        start = time.perf_counter()
        swept = sweep(case, empty, executor=on_processes(workers))
        return time.perf_counter() - start, [line.row.values for line in swept.lines]


def design_lines(count: int = COUNT, workers: int = 2) -> Iterator[str]:
    """Yield the lines of the section; runs are kept, so that a stopped one goes on."""
    from fefoot.study.choice import leading_key, ranked
    from fefoot.study.engine import on_processes
    from fefoot.study.sweep import sweep

    yield f"\nInsoles of {CASE}, the values of the search below free, one thread per worker."
    (one, first), (two, second) = timed(1), timed(workers)
    yield (f"\n{FEW} designs and no device: {one:.0f} s on one worker, {two:.0f} s on {workers}; "
           f"efficiency {one / (workers * two):.2f} (goal 0.9). Same values: "
           f"{'yes' if first == second else 'no'}.")
    case = asked(CASE, count)
    swept = sweep(case, STORE, executor=on_processes(workers), tell=progress)
    lines = [line for line in swept.lines if line.varied]
    known = ranked(lines, leading_key(case))
    seconds = [line.row.cost["seconds"] for line in lines if line.row.cost.get("seconds")]
    cold = swept.lines[0].base.cost["seconds"]
    changes = [line.change_percent(leading_key(case)) for line in known]
    yield (f"\n{len(lines)} designs: {len(known)} with an answer, {len(lines) - len(known)} without; "
           f"change of the target {changes[0]:.1f} to {changes[-1]:.1f} %.")
    yield (f"\nMedian time of a design {median(seconds):.1f} s in its worker, "
           f"{median(seconds) / workers:.1f} s on {workers} workers; no device, cold, {cold:.1f} s: "
           f"{median(seconds) / workers / cold:.2f} of it (goal 0.3). Every design is solved cold on "
           "purpose: rough contact remembers how it was loaded, and a row must not depend on its "
           "neighbours.")

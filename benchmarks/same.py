"""Whether a change of the physics moved a number, and the kept runs taken over when it did not.

Any changed statement renames the physics, also one that no number can notice (a warning avoided, a
name). Before hours of runs are made again, a random sample of them is: only when every measure, check
and count of every one is the same to the last digit are the rest taken over under the new name.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from .kept import SOLVED, former, progress

TIMES = "seconds", "factor_seconds"
"""Costs that differ from one solve to the next."""


def numbers(kept: dict) -> dict:
    """Return what a solve repeats: all that is kept of it but the times."""
    return kept | {"cost": {k: v for k, v in kept["cost"].items() if k not in TIMES}}


def repeated(runs: Iterable, count: int, folder: Path = SOLVED, *, seed: int | None = None,
             evaluate=None, workers: int = 2) -> list[tuple[dict, dict]]:
    """Solve ``count`` runs kept under another physics again; return (before, now) of each.

    Parameters
    ----------
    runs : iterable of Run
        Among which those that were kept are looked for.
    seed : int, optional
        Of the draw.
    evaluate : callable, optional
        By default the solve itself.
    """
    from fefoot.study.engine import evaluated, keyed, on_processes
    from fefoot.study.entries import RunStore
    from fefoot.study.run import key_of, solve_run

    store, names = RunStore(folder), {entry["condition"]["physics"] for _, entry in former(folder)}
    before = {}
    for job in keyed(runs):
        for name in names:
            found = store.get(key_of(job.description | {"physics": name}))
            if found is not None:
                before[job.key] = job, found
    drawn = np.random.default_rng(seed).permutation(sorted(before))[:count]
    with tempfile.TemporaryDirectory() as place:
        anew = RunStore(place)
        evaluated([before[key][0] for key in drawn], anew, evaluate=evaluate or solve_run,
                  executor=on_processes(workers), tell=progress)
        return [(before[key][1], anew.get(key)) for key in drawn]


def taken_over(folder: Path = SOLVED) -> int:
    """Keep every run of another physics under the present one; return how many there were."""
    from fefoot.study.entries import RunStore
    from fefoot.study.physics import physics_version
    from fefoot.study.run import key_of

    store, entries = RunStore(folder), former(folder)
    for file, entry in entries:
        description = entry["condition"] | {"physics": physics_version()}
        key = key_of(description)
        if store.get(key) is None:
            store.put(key, description, entry["kept"])
        file.unlink()
    return len(entries)


def confirm(count: int) -> int:
    """Repeat ``count`` runs of the whole foot, take the rest over if all agree; return the exit code."""
    from .crowd import COUNT, drawn
    from .crowd import runs as persons
    from .whole_foot import runs as studies

    pairs = repeated([*persons(map(drawn, range(COUNT))).values(), *studies().values()], count)
    different = sum(then is None or now is None or numbers(then) != numbers(now) for then, now in pairs)
    print(f"{len(pairs)} runs solved again, {different} with another number")
    if different or not pairs:
        print("none taken over")
        return 1
    print(f"{taken_over()} runs taken over")
    return 0

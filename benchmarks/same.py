"""Whether a change of the physics moved a number, and the kept runs taken over when it did not.

Any changed statement renames the physics, also one that no number can notice (a warning avoided, a
name). Before hours of runs are made again, a random sample of them is: only when every run ends as it
did, with the same measures, are the rest taken over under the new name.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterable
from pathlib import Path

import numpy as np

from .kept import SOLVED, former, progress

WAY = "grown_from", "descents"
"""What of the way to an answer has to be the same; a hard solve may take a few iterations more."""
RELATIVE, ABSOLUTE = 1e-5, 1e-6
"""What a measure may differ by from one solve to the next: the sums of the linear solver depend on
where arrays lie in memory, and equilibrium is sought to a tolerance (measured: 6e-7, no change)."""


def differs(then: dict | None, now: dict | None) -> str | None:
    """Return in what two solves of a run differ by more than two of the same code; None for nothing."""
    if then is None or now is None:
        return "not solved"
    for what in ("failure", *WAY):
        a, b = (kept[what] if what == "failure" else kept["cost"].get(what) for kept in (then, now))
        if a != b:
            return f"{what}: {a} before, {b} now"
    a, b = (values(kept) for kept in (then, now))
    if a.keys() != b.keys():
        return "other measures"
    wrong = [name for name in a if not np.isclose(a[name], b[name], RELATIVE, ABSOLUTE)]
    return f"{' '.join(wrong[0])}: {a[wrong[0]]} before, {b[wrong[0]]} now" if wrong else None


def values(kept: dict) -> dict[tuple[str, str], float]:
    """Return what was measured, by tissue and quantity."""
    return {(tissue, quantity): value for tissue, quantity, value, _ in kept["measures"]
            if value is not None}


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
    """Repeat ``count`` runs of the whole foot; if all agree take the rest over. Return an exit code."""
    from .crowd import COUNT, drawn
    from .crowd import runs as persons
    from .whole_foot import runs as studies

    pairs = repeated([*persons(map(drawn, range(COUNT))).values(), *studies().values()], count)
    words = [differs(then, now) for then, now in pairs]
    for line in filter(None, words):
        print(line)
    if any(words) or not pairs:
        print(f"{sum(map(bool, words))} of {len(pairs)} runs differ; none taken over")
        return 1
    print(f"{len(pairs)} runs solved again, no measure differs by more than a repeated solve does; "
          f"{taken_over()} taken over")
    return 0

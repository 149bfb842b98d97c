"""Whether a change of the physics moved a number, and the kept runs taken over when it did not.

Any changed statement renames the physics, also one that no number can notice (a warning avoided, a
name). Before hours of runs are made again, a random sample of them is solved with the former and with
the present sources, one after the other on this machine: only when all that is kept of every one is the
same to the last digit, but for the times, are all runs taken over under the new name. The kept numbers
are no measure for that: solved again days later, some differ in their last digits whatever the version.
"""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterable
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import numpy as np

from .kept import SOLVED, former

TIMES = "seconds", "factor_seconds"
"""Costs that differ from one solve to the next."""
SOLVE = """import pickle, sys
from fefoot.mechanics import threads
from fefoot.study.run import THREADS, solve_run
threads.limit(THREADS)
run = pickle.load(sys.stdin.buffer)
pickle.dump(solve_run(run, lambda event: None), sys.stdout.buffer)"""
"""What either version does with a run."""


def numbers(kept: dict) -> dict:
    """Return what a solve repeats: all that is kept of it but the times."""
    return kept | {"cost": {k: v for k, v in kept["cost"].items() if k not in TIMES}}


def known(runs: Iterable, folder: Path = SOLVED) -> list:
    """Return those of the runs that are kept under another physics."""
    from fefoot.study.engine import keyed
    from fefoot.study.entries import RunStore
    from fefoot.study.run import key_of

    store, names = RunStore(folder), {entry["condition"]["physics"] for _, entry in former(folder)}
    return [job.run for job in keyed(runs)
            if any(store.get(key_of(job.description | {"physics": name})) for name in names)]


def solved_with(sources: Path, run) -> dict:
    """Return what the package in the folder ``sources`` keeps of a run, solved in a process of its own.

    Raises
    ------
    subprocess.CalledProcessError
        When the process fails.
    """
    done = subprocess.run(
        [sys.executable, "-c", SOLVE], input=pickle.dumps(run), stdout=subprocess.PIPE, check=True,
        cwd=sources, env=os.environ | {"PYTHONPATH": str(sources), "OMP_NUM_THREADS": "1"})
    return pickle.loads(done.stdout)


@contextmanager
def sources_of(commit: str):
    """Give the folder of a commit's files for the length of the block."""
    here = Path(__file__).parents[1]
    with tempfile.TemporaryDirectory() as folder:
        packed = subprocess.run(["git", "archive", commit], cwd=here, capture_output=True)
        if packed.returncode:
            raise SystemExit(f"--same: {commit!r} is no commit of this repository")
        subprocess.run(["tar", "-x", "-C", folder], input=packed.stdout, check=True)
        yield Path(folder)


def unlike(runs: list, before: Callable, now: Callable) -> list:
    """Return the runs whose numbers differ between two ways of solving them."""
    out = []
    for place, run in enumerate(runs, start=1):
        if numbers(before(run)) != numbers(now(run)):
            out.append(run)
        print(f"{place} of {len(runs)} solved twice, {len(out)} differ", file=sys.stderr, flush=True)
    return out


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


def confirm(count: int, commit: str, seed: int | None = None) -> int:
    """Solve ``count`` kept runs with both versions, take all over if none differs; return a code."""
    from .crowd import COUNT, drawn
    from .crowd import runs as persons
    from .whole_foot import runs as studies

    found = known([*persons(map(drawn, range(COUNT))).values(), *studies().values()])
    sample = [found[k] for k in np.random.default_rng(seed).permutation(len(found))[:count]]
    with sources_of(commit) as then:
        differ = unlike(sample, partial(solved_with, then),
                        partial(solved_with, Path(__file__).parents[1]))
    if not sample:
        print("no kept run of the studies is of another physics: nothing to take over")
        return 1
    if differ:
        print(f"{len(differ)} of {len(sample)} runs differ; none taken over")
        return 1
    print(f"{len(sample)} runs are the same to the last digit; {taken_over()} taken over")
    return 0

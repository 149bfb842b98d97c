"""A sweep killed at random moments goes on where it was: nothing lost, nothing half, same table."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest
from study_cases import ROOT
from study_runs import STUDY

from fefoot.study.entries import RunStore

SCRIPT = Path(__file__).with_name("killed_sweep.py")
WIDE = """
[sweep]
device = "shell"
[[sweep.vary]]
name = "shell_mm"
of = "layer.2.thickness_mm"
from = 2
to = 5
step = 0.125
[[sweep.vary]]
name = "fill"
of = "feature.arch_fill.fill_percent"
from = 10
to = 90
step = 10
"""
RUNS = 25 * 9 + 2
pytestmark = pytest.mark.skipif(not hasattr(os, "killpg"), reason="needs process groups")


def start(file, store, table):
    return subprocess.Popen([sys.executable, str(SCRIPT), str(file), str(store), str(table)],
                            stdout=subprocess.PIPE, text=True, start_new_session=True,
                            env={**os.environ, "PYTHONPATH": str(ROOT)})


def finished(store):
    """Return the keys of all entries, each of which must be sound."""
    keys = {path.stem for path in store.path.glob("*/*.json")}
    assert all(store.get(key) is not None for key in keys)
    return keys


def kill_at_random(file, folder, rng, kills):
    table = folder / "killed.csv"
    store = RunStore(folder / "killed")
    before, done = set(), 0
    while done < kills:
        process = start(file, store.path, table)
        try:
            assert process.stdout.readline() == "ready\n"
            time.sleep(rng.uniform(0.0, 0.25))
        finally:
            os.killpg(process.pid, signal.SIGKILL)
            process.communicate()
        now = finished(store)
        assert before <= now, "a finished run was lost"
        before, done = now, done + 1
        if len(now) == RUNS:  # start again with an empty store, so that every kill interrupts
            for path in store.path.glob("*/*"):
                path.unlink()
            before = set()
    process = start(file, store.path, table)
    out, _ = process.communicate(timeout=120)
    assert process.returncode == 0
    assert out == (f"ready\n{RUNS} runs: {RUNS - len(before)} computed, {len(before)} reused, "
                   "0 failed\n")
    assert len(finished(store)) == RUNS
    assert not list(store.path.glob("*/.part-*"))
    return table.read_text(encoding="utf-8")


def undisturbed(file, folder):
    process = start(file, folder / "undisturbed", folder / "undisturbed.csv")
    assert process.communicate(timeout=120)[0].endswith(f"{RUNS} computed, 0 reused, 0 failed\n")
    return (folder / "undisturbed.csv").read_text(encoding="utf-8")


def test_a_few_kills(write, tmp_path, rng):
    file = write(STUDY + WIDE)
    assert kill_at_random(file, tmp_path, rng, 3) == undisturbed(file, tmp_path)


@pytest.mark.slow
def test_fifty_kills(write, tmp_path, rng):
    file = write(STUDY + WIDE)
    assert kill_at_random(file, tmp_path, rng, 50) == undisturbed(file, tmp_path)


def test_two_sweeps_at_once_on_one_store(write, tmp_path):
    file = write(STUDY + WIDE)
    both = [start(file, tmp_path / "store", tmp_path / f"{n}.csv") for n in range(2)]
    for process in both:
        out, _ = process.communicate(timeout=120)
        assert process.returncode == 0 and out.endswith("0 failed\n")
    first, second = ((tmp_path / f"{n}.csv").read_text(encoding="utf-8") for n in range(2))
    assert first == second and len(finished(RunStore(tmp_path / "store"))) == RUNS

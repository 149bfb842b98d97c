"""The same sweep on Dask clusters, one made here and one that runs already: the same numbers, the same
failures, the same refusals."""

import subprocess
import sys
from pathlib import Path

import pytest
from study_cases import ROOT, rearfoot_text

from fefoot.errors import InputError
from fefoot.study import cluster

HEEL = """
[[device]]
name = "flat"
[[device.layer]]
material = "eva_medium"
thickness_mm = 4
[sweep]
[[sweep.vary]]
name = "thick"
of = "layer.1.thickness_mm"
from = 3
to = 8
step = 0.5
"""
SCRIPT = """
import sys
from pathlib import Path
from distributed import LocalCluster
from study_runs import stubborn
from fefoot.case import read_case
from fefoot.study.cluster import on_cluster
from fefoot.study.engine import on_processes
from fefoot.study.run import solve_run
from fefoot.study.study_folder import table_files
from fefoot.study.sweep import sweep
from fefoot.study.sweep_table import columns_and_rows

if __name__ == "__main__":
    file, folder, evaluate = sys.argv[1], Path(sys.argv[2]), {"cheap": stubborn, "real": solve_run}[
        sys.argv[3]]
    running = LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None)
    for name, executor in (("running", on_cluster(running.scheduler_address)),
                           ("cluster", on_cluster("local", 2)), ("processes", on_processes(2))):
        swept = sweep(read_case(file), folder / name, executor=executor, evaluate=evaluate)
        table = table_files("designs", *columns_and_rows(swept))["designs.csv"]
        (folder / f"{name}.csv").write_text(table, encoding="utf-8")
        print(swept.tally.sentence())
    running.close()
"""


def on_all(write, tmp_path, evaluate, text):
    pytest.importorskip("distributed")
    script = write(SCRIPT, "on_both.py")
    places = f"{ROOT}:{Path(__file__).parent}"
    done = subprocess.run([sys.executable, str(script), str(write(text)), str(tmp_path), evaluate],
                          capture_output=True, text=True, check=False, timeout=500,
                          env={"PYTHONPATH": places, "PATH": "/usr/bin:/bin"})
    assert done.returncode == 0, done.stderr[-2000:]
    first, second, third = done.stdout.splitlines()
    assert first == second == third and "0 reused" in first
    tables = [(tmp_path / f"{n}.csv").read_text(encoding="utf-8")
              for n in ("running", "cluster", "processes")]
    assert tables[0] == tables[1] == tables[2]
    return first, tables[0]


def test_a_cheap_sweep_gives_the_same_table(write, tmp_path):
    said, table = on_all(write, tmp_path, "cheap", rearfoot_text(rest=HEEL))
    assert said.startswith("12 runs: 12 computed") and "1 failed" in said
    assert table.count("no equilibrium was found (the load cannot be carried)") == 1


@pytest.mark.slow
def test_a_real_sweep_gives_the_same_digits(write, tmp_path):
    said, _ = on_all(write, tmp_path, "real", rearfoot_text(rest=HEEL.replace("to = 8", "to = 4")))
    assert said == "4 runs: 4 computed, 0 reused, 0 failed"


def test_an_address_without_a_cluster_is_one_clear_error(monkeypatch):
    distributed = pytest.importorskip("distributed")

    def nobody(*words, **options):
        raise OSError("Timed out trying to connect")

    monkeypatch.setattr(distributed, "Client", nobody)
    with pytest.raises(InputError, match="no cluster answers") as caught:
        list(cluster.on_cluster("tcp://nowhere:8786")([object()], None, None))
    assert "--cluster" in str(caught.value) and "Timed out" in str(caught.value)


def test_without_the_library_it_says_what_to_install(monkeypatch):
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(InputError, match=r"dask\.distributed") as caught:
        cluster.on_cluster("local")
    assert "fefoot[cluster]" in str(caught.value)


class Fleet:
    def __init__(self, found):
        self.found = found

    def run(self, function):
        return {"tcp://worker:1": self.found}


def test_a_worker_with_other_versions_is_refused():
    cluster._same_everywhere(Fleet(cluster.here()), "tcp://x")
    with pytest.raises(InputError, match="other numbers") as caught:
        cluster._same_everywhere(Fleet({**cluster.here(), "numpy": "0.1"}), "tcp://x")
    assert "numpy 0.1 instead of" in str(caught.value) and "tcp://worker:1" in str(caught.value)


def test_a_worker_with_another_mesh_refuses(study):
    from dataclasses import replace

    from study_runs import SPACE, cheap

    from fefoot.mechanics import threads
    from fefoot.study.engine import keyed
    from fefoot.study.run import Run

    case = study(SPACE)
    (job,) = keyed([Run.of(case, None, case.activity.instants()[0])])
    before = threads._limit
    try:
        assert cluster.on_worker(job, cheap) == cheap(job.run, None)
        with pytest.raises(InputError, match="another mesh"):
            cluster.on_worker(replace(job, key="0" * 40), cheap)
    finally:
        threads._limit = before

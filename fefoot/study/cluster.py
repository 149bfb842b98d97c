"""Runs on a Dask cluster: a running one by its address, or one made here."""

from __future__ import annotations

import contextlib

from ..errors import FefootError, InputError
from ..mechanics import threads
from .engine import unfinished
from .physics import libraries, physics_version
from .run import THREADS, described, key_of

WORKER_ENVIRONMENT = {"OMP_NUM_THREADS": 1, "MKL_NUM_THREADS": 1, "OPENBLAS_NUM_THREADS": 1}
"""Of the workers of a cluster made here. Without the library's own limit on freed memory, under which
every array is fetched from the system anew (measured: a fifth of the time)."""
AHEAD = 3
"""Runs handed out per worker thread at a time, so that none waits and little is lost."""


def on_cluster(address: str, workers: int | None = None):
    """Return an executor for `fefoot.study.engine.evaluated`.

    Parameters
    ----------
    address : str
        ``"local"``, or the address of a scheduler: ``tcp://host:8786``.
    workers : int, optional
        How many workers a local cluster has; by default one per core.

    Raises
    ------
    InputError
        Without the library, without an answer from the address, or where a worker has other sources
        or libraries than this process.
    """
    try:
        import distributed
    except ImportError:
        raise InputError("a cluster needs the library dask.distributed", key="--cluster",
                         value=address, hint="install fefoot[cluster], or leave --cluster out",
                         ) from None

    def execute(jobs, store, evaluate):
        if not jobs:
            return
        with contextlib.ExitStack() as stack:
            client = stack.enter_context(_client(distributed, address, workers, stack))
            _same_everywhere(client, address)
            yield from _results(distributed, client, jobs, store, evaluate)

    return execute


def _client(distributed, address, workers, stack):
    if address == "local":
        import dask

        stack.enter_context(dask.config.set(
            {"distributed.nanny.pre-spawn-environ": WORKER_ENVIRONMENT}))
        cluster = stack.enter_context(distributed.LocalCluster(
            n_workers=workers or threads.cores(), threads_per_worker=1, dashboard_address=None,
            processes=True, silence_logs=50))
        return distributed.Client(cluster)
    try:
        return distributed.Client(address, timeout="10s")
    except (OSError, ValueError, TimeoutError) as problem:
        raise InputError("no cluster answers at this address", key="--cluster", value=address,
                         allowed="local, or the address of a scheduler, tcp://host:port",
                         hint=" ".join(str(problem).split())[:160]) from None


def _same_everywhere(client, address) -> None:
    mine = here()
    for worker, found in client.run(here).items():
        other = [f"{name} {found.get(name)} instead of {value}" for name, value in mine.items()
                 if found.get(name) != value]
        if other:
            raise InputError("a worker would compute other numbers than this machine",
                             key="--cluster", value=address, allowed="the same versions everywhere",
                             hint=f"worker {worker} has {', '.join(other)}")


def here() -> dict:
    """Return what decides numbers in this process: sources and libraries."""
    return {"fefoot": physics_version(), **libraries()}


def _results(distributed, client, jobs, store, evaluate):
    """Yield results as they come, with so many runs handed out that no worker waits."""
    waiting = iter(jobs)
    by_future = {}

    def hand_out(pool):
        job = next(waiting, None)
        if job is not None:
            future = client.submit(on_worker, job, evaluate, pure=False, retries=2)
            by_future[future.key] = job
            pool.add(future)

    workers = sum(client.nthreads().values())
    pool = distributed.as_completed()
    for _ in range(AHEAD * max(workers, 1)):
        hand_out(pool)
    for future in pool:
        job = by_future.pop(future.key)
        try:
            kept = future.result()
        except FefootError:
            raise
        except Exception as problem:
            yield job.key, unfinished(problem)
        else:
            store.put(job.key, job.description, kept)
            yield job.key, kept
        hand_out(pool)


def on_worker(job, evaluate) -> dict:
    """Compute one run on a worker.

    Raises
    ------
    InputError
        When the run would have another key here: another mesh, another version.
    """
    threads.limit(THREADS)
    if key_of(described(job.run)) != job.key:
        raise InputError("this worker would solve another mesh than the machine that asks",
                         key="--cluster", hint="install the same versions everywhere")
    return evaluate(job.run, lambda event: None)

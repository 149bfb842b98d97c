"""Threads of this process: how many it may use, and array work spread over them."""

from __future__ import annotations

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager

ARRAY_LIBRARIES = ["openblas", "blis"]
"""Libraries under NumPy and SciPy that start threads of their own; PARDISO's is told by itself."""
_limit: int | None = None
_pool: ThreadPoolExecutor | None = None


def cores() -> int:
    """Return the number of cores that this process may run on."""
    if hasattr(os, "sched_getaffinity"):
        return max(1, len(os.sched_getaffinity(0)))
    return os.cpu_count() or 1


def limit(count: int) -> None:
    """Let this process use so many threads: a process that shares the machine with its like."""
    global _limit
    _limit = max(1, count)
    _forget_pool()


def limited() -> bool:
    """Return whether a limit has been set."""
    return _limit is not None


def allowed() -> int:
    """Return the number of threads that this process may use."""
    return _limit or cores()


def spread(work, items) -> list:
    """Return ``[work(item) for item in items]``, done by several threads where there are several."""
    global _pool
    items = list(items)
    if len(items) < 2 or allowed() < 2:
        return [work(item) for item in items]
    if _pool is None:
        _pool = ThreadPoolExecutor(max_workers=allowed())
    return list(_pool.map(work, items))


@contextmanager
def one_for_arrays() -> Iterator[None]:
    """Let NumPy's and SciPy's matrix products run on one thread within the block, or the function.

    Theirs are small, many and already batched: several threads for each of them wait for one another
    more than they work (measured: solves alone 1.25 times, two side by side 1.75 times as long), and
    the last digits of a sum could depend on how many there are.
    """
    from threadpoolctl import ThreadpoolController

    with ThreadpoolController().select(internal_api=ARRAY_LIBRARIES).limit(limits=1):
        yield


def _forget_pool() -> None:
    """Drop the workers: a forked process has inherited the pool without its threads."""
    global _pool
    _pool = None


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_forget_pool)

"""Threads of this process: how many it may use, and array work spread over them."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor

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


def _forget_pool() -> None:
    """Drop the workers: a forked process has inherited the pool without its threads."""
    global _pool
    _pool = None


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_forget_pool)

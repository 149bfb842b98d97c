"""Independent tasks side by side, each in a process of its own.

A process shares nothing with its siblings, so that what one task computes does not depend on which
others ran before it.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import signal
import sys
import traceback
from collections import deque
from collections.abc import Iterator
from multiprocessing.connection import wait

from ..errors import FefootError
from ..mechanics import threads

START = "fork" if sys.platform == "linux" else "spawn"
"""How a process begins: as a copy of this one, or afresh (where a script needs a main guard)."""
EVENT, DONE, FAILED = "event", "done", "failed"


def processes_for(count: int) -> int:
    """Return how many processes ``count`` tasks take by default.

    One per core where a process is a copy; else one, since starting afresh imports the caller's
    script once more.
    """
    return min(count, threads.cores()) if START == "fork" else 1


def carried_out(task, jobs, tell, processes: int, order=None, idle=None) -> list:
    """Return ``[task(job, tell) for job in jobs]``.

    Parameters
    ----------
    task : callable of a job and a listener
        Importable, as jobs, events and results can be pickled.
    jobs : sequence
    tell : callable
        Receives the events of all tasks as they happen, those of one task in their order.
    processes : int
        Most tasks at a time; with one, or one job, they run in this process, one by one.
    order : sequence of int, optional
        In which order to begin; best the longest first.
    idle : callable, optional
        Called once in this process when a core has nothing left to do.

    Raises
    ------
    Exception
        What the first task to fail raised; the others are stopped. The same when this process is
        interrupted or ``tell`` raises.
    """
    if processes < 2 or len(jobs) < 2:
        return [task(job, tell) for job in jobs]
    results = [None] * len(jobs)
    share = max(1, threads.allowed() // processes)
    with contextlib.closing(as_done(task, jobs, tell, processes, order, idle, share)) as ended:
        for number, value, problem in ended:
            if problem is not None:
                raise problem
            results[number] = value
    return results


def as_done(task, jobs, tell, processes: int, order=None, idle=None,
            threads_each: int = 1) -> Iterator[tuple]:
    """Yield ``(number, result, None)`` or ``(number, None, problem)`` as each task ends.

    Every task has a process of its own, also where there is only one. Closing the iterator stops the
    tasks that run. A process that dies without a word gives a RuntimeError as its problem.
    """
    context = multiprocessing.get_context(START)
    waiting = deque(range(len(jobs)) if order is None else order)
    running = {}
    try:
        while waiting or running:
            while waiting and len(running) < processes:
                number = waiting.popleft()
                reader, writer = context.Pipe(duplex=False)
                process = context.Process(
                    target=_work, args=(writer, task, jobs[number], threads_each), daemon=True)
                process.start()
                writer.close()
                running[reader] = number, process
            if idle and len(running) < processes:
                idle()
                idle = None
            for reader in wait(list(running)):
                kind, value = _message(reader, running[reader][1])
                if kind == EVENT:
                    tell(value)
                    continue
                number, process = running.pop(reader)
                process.join()
                reader.close()
                yield (number, value, None) if kind == DONE else (number, None, value)
    finally:
        for _, process in running.values():
            process.terminate()
            process.join()


def _message(reader, process):
    try:
        return reader.recv()
    except EOFError:
        process.join()
        return FAILED, RuntimeError(f"a process ended without a result (code {process.exitcode})")


def _work(writer, task, job, share):
    """Do one task and send its events, then its result."""
    # whoever interrupts the command reaches every process; the first one stops the others
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threads.limit(share)
    try:
        message = DONE, task(job, lambda event: writer.send((EVENT, event)))
    except Exception as problem:
        if not isinstance(problem, FefootError):
            problem.add_note(traceback.format_exc())
        message = FAILED, problem
    writer.send(message)

"""A listener that shows the progress of solves on a stream."""

from __future__ import annotations

import shutil
import time
from typing import TextIO

from ..mechanics.events import Event, Note, SolveDone, SolveFailed, SolveStarted, StepDone


def sentence(event: Event) -> str:
    """Return one event in words."""
    match event:
        case SolveStarted(label):
            return f"{label}: started"
        case StepDone(label, step, load_factor, iterations, residual):
            return (f"{label}: step {step}, {100 * load_factor:.0f} % of the load, "
                    f"{iterations} iterations, residual {residual:.1e}")
        case SolveDone(label, seconds, factorisations):
            return f"{label}: done in {seconds:.1f} s, {factorisations} factorisations"
        case SolveFailed(label, reason):
            return f"{label}: failed, {reason.removeprefix(f'{label}: ')}"
        case Note(text):
            return text
    raise TypeError(f"not an event: {event!r}")


LONGEST_SILENCE_SECONDS = 60.0
FREE_ENDS = 12
"""So many solves are told as they end; of many more only one a minute."""


class Progress:
    """Write events to a stream: one updating line on a terminal, a line now and then elsewhere.

    On a terminal the steps of a running solve share a line; what ends a solve stays. Elsewhere
    there is a line for each note before the first solve, for each solve that fails, for the first
    dozen that end, and one a minute besides; ``log.txt`` of the run folder holds every event.
    """

    def __init__(self, stream: TextIO):
        self.stream = stream
        self.live = stream.isatty()
        self.open_line = False
        self.last = time.monotonic()
        self.ends, self.begun = 0, False

    def __call__(self, event: Event) -> None:
        """Show one event."""
        text = sentence(event)
        if not self.live:
            if self._due(event):
                self.stream.write(text + "\n")
                self.last = time.monotonic()
        elif isinstance(event, SolveStarted | StepDone):
            width = shutil.get_terminal_size().columns - 1
            self.stream.write("\r\x1b[2K" + text[:width])
            self.open_line = True
        else:
            self.close()
            self.stream.write(text + "\n")
        self.stream.flush()

    def _due(self, event: Event) -> bool:
        self.begun = self.begun or isinstance(event, SolveStarted)
        if isinstance(event, SolveFailed) or (isinstance(event, Note) and not self.begun):
            return True
        self.ends += isinstance(event, SolveDone)
        return ((isinstance(event, SolveDone) and self.ends <= FREE_ENDS)
                or time.monotonic() - self.last >= LONGEST_SILENCE_SECONDS)

    def close(self) -> None:
        """Clear a line that is still being updated."""
        if self.open_line:
            self.stream.write("\r\x1b[2K")
            self.stream.flush()
            self.open_line = False

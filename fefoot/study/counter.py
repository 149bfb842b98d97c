"""A listener that shows how far a study is: done, reused, failed, time left."""

from __future__ import annotations

import time
from typing import TextIO

from .engine import Tally

SECONDS_BETWEEN_LINES, LONGEST_SILENCE_SECONDS = 10.0, 60.0
SHARE_BETWEEN_LINES = 0.1


class Counter:
    """Write a tally to a stream: one updating line on a terminal, a line now and then elsewhere.

    Elsewhere there is a line at first and at the end, between them when a tenth of the runs has been
    done since the last one and some seconds have passed, or after a minute.
    """

    def __init__(self, stream: TextIO):
        self.stream = stream
        self.live = stream.isatty()
        self.last: tuple[float, float] | None = None
        self.open_line = False

    def __call__(self, tally: Tally) -> None:
        """Show a tally."""
        now, share = time.monotonic(), tally.done / max(tally.wanted, 1)
        if self.live:
            self.stream.write("\r\x1b[2K" + sentence(tally))
            self.open_line = True
        elif self._due(now, share):
            self.stream.write(sentence(tally) + "\n")
            self.last = now, share
        self.stream.flush()

    def _due(self, now: float, share: float) -> bool:
        if self.last is None:
            return True
        seconds, more = now - self.last[0], share - self.last[1]
        return (seconds >= LONGEST_SILENCE_SECONDS or (share >= 1.0 and more > 0.0)
                or (more >= SHARE_BETWEEN_LINES - 1e-9 and seconds >= SECONDS_BETWEEN_LINES))

    def close(self) -> None:
        """End the line that is being updated."""
        if self.open_line:
            self.stream.write("\n")
            self.stream.flush()
            self.open_line = False


def sentence(tally: Tally) -> str:
    """Return a tally as one line of progress."""
    left = tally.seconds_left
    return (f"{tally.done} of {tally.wanted} runs done ({tally.reused} reused, {tally.failed} failed)"
            + ("" if left is None or tally.done == tally.wanted
               else f", about {duration(left)} left"))


def duration(seconds: float) -> str:
    """Return a time span in words: 40 s, 12 min, 3.5 h."""
    if seconds < 90:
        return f"{seconds:.0f} s"
    return f"{seconds / 60:.0f} min" if seconds < 5400 else f"{seconds / 3600:.1f} h"

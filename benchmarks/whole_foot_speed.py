"""What a whole-foot comparison costs: the whole command, its solves, warm against cold.

The shipped case below on its coarse mesh, which is the default, with no device and its first two.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path

from .speed import command_lines, warm_lines
from .studies import CASES

CASE = "whole_foot_tibialis_posterior.toml"
DEVICES = 2
GOAL_SECONDS = 300
TABLE = "[[device]]"


def with_two_devices(text: str) -> str:
    """Return the text of a case file up to the end of its second device."""
    return TABLE.join(text.split(TABLE)[:1 + DEVICES])


def whole_foot_speed_lines() -> Iterator[str]:
    """Yield the lines of the section."""
    yield f"\n{' '.join(__doc__.split())}"
    with tempfile.TemporaryDirectory() as folder:
        case = Path(folder) / CASE
        case.write_text(with_two_devices((CASES / CASE).read_text(encoding="utf-8")), encoding="utf-8")
        yield from command_lines(case, GOAL_SECONDS)
        yield from warm_lines(case)

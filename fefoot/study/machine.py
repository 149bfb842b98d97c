"""The machine that computes, in words."""

from __future__ import annotations

import platform
from datetime import UTC, datetime
from pathlib import Path

INFO = Path("/proc/cpuinfo")
"""Where Linux names the processor."""


def cpu_name() -> str:
    """Return the processor's name, or what the system calls its kind where it has no name."""
    try:
        lines = INFO.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        lines = []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return next((name for name in names if name), "") or platform.processor() or \
        platform.machine() or "unknown"


def now_utc() -> str:
    """Return the present time as ISO 8601 in UTC, to the second: 2025-01-31T08:15:00+00:00."""
    return datetime.now(UTC).isoformat(timespec="seconds")

"""Events the solver emits; progress lines, logs and writers subscribe to them.

A listener is any callable that takes one event.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class SolveStarted:
    """A solve begins."""

    label: str


@dataclass(frozen=True)
class StepDone:
    """A load step or an augmentation pass has converged."""

    label: str
    step: int
    load_factor: float
    iterations: int
    residual: float


@dataclass(frozen=True)
class SolveDone:
    """A solve reached its full load."""

    label: str
    seconds: float
    factorisations: int


@dataclass(frozen=True)
class SolveFailed:
    """A solve stopped before its full load."""

    label: str
    reason: str


@dataclass(frozen=True)
class Note:
    """Something a reader of the log should know."""

    text: str


Event = SolveStarted | StepDone | SolveDone | SolveFailed | Note

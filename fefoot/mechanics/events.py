"""Events the solver emits; progress lines, logs and writers subscribe to them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class StepDone:
    """A load step or an augmentation pass has converged."""

    label: str
    step: int
    load_factor: float
    iterations: int
    residual: float

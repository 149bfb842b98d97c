"""What a benchmark is and what it returns."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One number of one problem beside its reference.

    Attributes
    ----------
    quantity : str
        With unit.
    target, ours : float
    source : str
        Citation or formula.
    known : str
        ``read``, ``recalled`` or ``computed``: how the target is known.
    tolerance : float
        Relative to ``scale``.
    why : str
        Why that tolerance.
    mesh : str
    scale : float or None
        What the error is divided by; the target's size by default.
    """

    quantity: str
    target: float
    ours: float
    source: str
    known: str
    tolerance: float
    why: str
    mesh: str
    scale: float | None = None

    @property
    def error(self) -> float:
        """Relative error."""
        return abs(self.ours - self.target) / (self.scale or abs(self.target))

    @property
    def passed(self) -> bool:
        """Whether the error is within the tolerance."""
        return self.error <= self.tolerance


@dataclass(frozen=True)
class Benchmark:
    """A problem: its title, the function that solves it, and whether it takes over ten seconds."""

    title: str
    run: Callable[[], list[Row]]
    slow: bool = False

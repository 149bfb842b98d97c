"""What a published finding is beside the model's answer."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

MET, MISSED, UNSOLVED = "met", "missed", "no solution"
CALIBRATION = "used in the calibration"
CONSTRUCTION = "holds by construction"
QUARTER = "a quarter of the value: no spread is published in what was read (common practice, no source)"
SPREAD = "one published standard deviation round the mean"
SIGN = "sign alone"
FIVE = ("changes below 5 % are not reported as changes by the product either (common practice, no "
        "source)")


@dataclass(frozen=True)
class Finding:
    """One published number, sign or order beside the model's.

    Attributes
    ----------
    quantity : str
        With unit.
    published : str
        What the paper reports.
    low, high : float
        Range in which the model's value counts as met; infinite ends for a sign.
    ours : float
        The model's value; nan when a solve failed.
    source : str
        Citation.
    known : str
        ``read`` (nearly always the abstract), ``recalled`` or ``computed``.
    condition : str
        What was solved, and where that departs from the paper.
    why : str
        Why that range.
    reason : str
        Likely reason of a miss; shown only then.
    use : str
        Empty, or why the row does not count as validated (``CALIBRATION``, ``CONSTRUCTION``).
    """

    quantity: str
    published: str
    low: float
    high: float
    ours: float
    source: str
    known: str
    condition: str
    why: str
    reason: str = "not known"
    use: str = ""

    @property
    def within(self) -> bool:
        """Whether the model's value lies in the range."""
        return math.isfinite(self.ours) and self.low <= self.ours <= self.high

    @property
    def status(self) -> str:
        """``met``, ``missed`` or ``no solution``, and why it does not count, if there is a reason."""
        word = MET if self.within else UNSOLVED if math.isnan(self.ours) else MISSED
        return f"{word}, {self.use}" if self.use else word

    @property
    def accepted(self) -> str:
        """The range in words."""
        if math.isinf(self.low):
            return f"below {self.high:.4g}"
        if math.isinf(self.high):
            return f"above {self.low:.4g}"
        return f"{self.low:.4g} to {self.high:.4g}"


@dataclass(frozen=True)
class Study:
    """One function of findings: its title, and whether it takes over twenty seconds."""

    title: str
    run: Callable[[], list[Finding]]
    slow: bool = False


def near(value: float, share: float = 0.25) -> tuple[float, float]:
    """Return the range ``share`` round a value."""
    ends = value * (1 - share), value * (1 + share)
    return min(ends), max(ends)

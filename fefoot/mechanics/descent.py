"""A way down the energy, for Newton's method to start anew where it is stuck.

Newton's method stops at a fold: where a bit of tissue is about to snap over, or where the next
equilibrium lies behind a ridge, corrections are long and the errors do not fall. With rays laid once,
and with the turn and the tension that balance the ankle held, the forces have an energy. Corrections
from a stabilised matrix go down it past the fold; where they end is a place to start from, no answer.
"""

from __future__ import annotations

import numpy as np

from ..errors import ConvergenceError

ROWS = "descent"
"""What the solve's name ends with in the rows of the history that a descent adds."""
LEVEL = 1e-6
"""Relative residual below which the energy counts as level."""
SHORTEST, BEHIND = 1e-4, 0.5
"""Smallest share of a correction, and the force along it, relative to that at its start, that may point
back at its end."""


def descended(step, load, rays, memory, evaluation, iterations, number):
    """Return the evaluation where the energy ends to fall, after ``iterations`` corrections at most.

    Parameters
    ----------
    step : Step
        Supplies corrections, and keeps the history.
    """
    system = step.system
    held = np.array(sorted(load.held), int)
    free = np.ones(system.coordinates.size, bool)
    free[held] = False
    if load.balance is not None:
        free[load.balance.turn] = False
    for used in range(iterations):
        norm = float(np.abs((evaluation.residual / step.levers)[free]).max(initial=0.0))
        norm /= step.scale(evaluation)
        step.record(f"{step.label}: {ROWS}", number, used, norm, evaluation)
        if norm < LEVEL:
            break
        try:
            dq = step.downhill(load, evaluation, held)
        except ConvergenceError:
            break
        lower = _lower(system, load, rays, memory, evaluation, dq, free,
                       step.settings.largest_move_mm)
        if lower is None:
            break
        evaluation = lower
    return evaluation


def descents(history) -> int:
    """Return how many descents the rows of a history tell of."""
    return sum(row["solve"].endswith(ROWS) and row["iteration"] == 0 for row in history)


def _lower(system, load, rays, memory, evaluation, dq, free, largest_move_mm):
    """Return the evaluation after the largest share of the correction that still leads down.

    The force along the correction is asked, not the energy itself, which does not follow it exactly in
    rough contact. None when there is no such share.
    """
    co, slope = system.coordinates, float(evaluation.residual[free] @ dq[free])
    largest = np.abs(dq[: co.first_body]).max(initial=1e-12)
    size = min(1.0, largest_move_mm / largest)
    while size > SHORTEST:
        new = system.evaluate(co.moved(evaluation.state, size * dq), load, rays, memory, tangent=False)
        if np.isfinite(new.energy_Nmm) and new.residual[free] @ dq[free] <= BEHIND * abs(slope):
            return new
        size *= 0.5
    return None

"""Solve one model at one instant."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

from ..load.stance import Demand, Stance
from ..mechanics.events import SolveDone, SolveStarted
from ..mechanics.linear import LinearSolver
from ..mechanics.newton import Settings, Solution, solve
from .model import Model

CONTACT_SETTINGS = Settings(
    step_tolerance=1e-2, iterations=30, first_step=0.25, penetration_mm=0.003,
    pressure_change=3e-3)
TOUCH_SETTINGS = Settings(step_tolerance=5e-2, iterations=30, first_step=1 / 3)


@dataclass(frozen=True)
class Solved:
    """A model in equilibrium under a demand.

    ``seconds`` is the wall time of the solve, ``first_N`` the force at first contact.
    """

    model: Model
    demand: Demand
    stance: Stance
    solution: Solution
    seconds: float


def stance_of(model: Model, demand: Demand) -> Stance:
    """Return the load path of a demand on a model."""
    return Stance(model.system, model.ground, demand, model.structure.muscles(), 1, model.scale_nodes)


def solve_model(model: Model, demand: Demand, *, settings: Settings = CONTACT_SETTINGS,
                label: str = "", listener=None) -> Solved:
    """Bring foot, device and ground into contact, then carry the full load.

    Raises
    ------
    ConvergenceError
        With the history, when the load cannot be carried.
    """
    start = time.perf_counter()
    stance = stance_of(model, demand)
    solver = LinearSolver(model.system.symmetric)
    if listener:
        listener(SolveStarted(label))
    try:
        touch = solve(model.system, stance.touch, settings=replace(
            TOUCH_SETTINGS, force_scale_N=demand.vertical_N), solver=solver,
                      label=f"{label}: first contact", augment=False)
        solution = solve(
            model.system, stance.carry(touch.state, touch.evaluation), state=touch.state,
            memory=touch.memory, settings=replace(settings, force_scale_N=demand.vertical_N),
            solver=solver, label=label,
            listener=listener, adjust=stance.adjust)
    finally:
        solver.free()
    solution.history[:0] = touch.history
    seconds = time.perf_counter() - start
    if listener:
        listener(SolveDone(label, seconds, solver.tally.factorisations))
    return Solved(model, demand, stance, solution, seconds)

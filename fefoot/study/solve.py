"""Solve one model at one instant."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace

import numpy as np

from ..errors import ConvergenceError
from ..load.stance import Demand, Stance
from ..load.stance3d import Stance3d
from ..mechanics.events import Note, SolveDone, SolveStarted
from ..mechanics.linear import LinearSolver
from ..mechanics.newton import Settings, Solution, solve
from ..mechanics.threads import one_for_arrays
from .model import Model

CONTACT_SETTINGS = Settings(
    step_tolerance=1e-2, iterations=30, first_step=0.25, penetration_mm=0.003,
    pressure_change=3e-3, stiffen=6)
WHOLE_FOOT_SETTINGS = replace(
    CONTACT_SETTINGS, relay=3, stiffen=4, penetration_mm=0.01, exact=False, follow=4,
    smallest_step=1 / 64, settle=True)
"""An unsymmetric factorisation of the whole foot costs several symmetric ones."""
FIRST_STEPS = 0.25, 0.1, 0.04
"""Load factors of the first step: after a failure the load is put on again in smaller steps."""
NEAR_SMOOTH = 0.5
"""Relative residual below which full steps with the exact matrix are taken where they are borne from
far off: on a plane, or where friction builds up smoothly; or where a meshed fascia turns, whose stiff
fibres short steps would follow endlessly."""
TOUCH_SETTINGS = Settings(step_tolerance=5e-2, iterations=30)
THIRDS = 1 / 3
TOUCH_STEPS = {"sagittal": (THIRDS,), "rearfoot": (THIRDS,), "foot3d": (1.0, THIRDS)}
"""Shares of the way to first contact made at a time: the next when it failed, or when an element was
squeezed to less than ``LEAST_VOLUME`` of its volume (most conditions keep 82 to 95 %; of
those below 80 % some could not be loaded)."""
LEAST_VOLUME = 0.8
TOUCH_FORCE_N = 1000.0
"""Largest force that first contact is judged against, since it carries next to nothing: against three
body weights a foot that the ground still pressed with 17 kN passed for one in equilibrium."""
FALLS = 8
"""How often the last attempt, in the whole foot each patient one, may go down the energy where it would
fail."""
HASTY = {"smallest_step": 0.25, "iterations": 20}
"""Limits of a solve that gives up early."""
WARM_TOLERANCE = 2e-3
"""Of the first step from a neighbouring solution, whose out-of-balance forces are small everywhere."""
SETTINGS = {"sagittal": CONTACT_SETTINGS, "rearfoot": CONTACT_SETTINGS,
            "foot3d": WHOLE_FOOT_SETTINGS}
"""How each model carries its load."""


@dataclass(frozen=True)
class Solved:
    """A model in equilibrium under a demand.

    ``seconds`` is the wall time of the solve; ``grown_from`` the share of the device's features from
    which it grew under load, 1 where the whole device was loaded from the beginning.
    """

    model: Model
    demand: Demand
    stance: Stance
    solution: Solution
    seconds: float
    grown_from: float = 1.0


def stance_of(model: Model, demand: Demand) -> Stance:
    """Return the load path of a demand on a model."""
    kind = Stance3d if model.system.coordinates.dim == 3 else Stance
    return kind(model.system, model.ground, demand, model.structure.muscles(), 1,
                model.scale_nodes, model.ground_node)


@one_for_arrays()
def solve_model(model: Model, demand: Demand, *, tolerance: float = CONTACT_SETTINGS.tolerance,
                label: str = "", listener=None, start: Solved | None = None,
                patient: bool = True, augment: bool = True) -> Solved:
    """Bring foot, device and ground into contact, then carry the full load.

    With ``start``, the solution of a neighbouring model with the same node numbering, the full load
    is put on at once from there. A solve that is not ``patient`` gives up early where there is another
    way to the answer. Without ``augment`` contact stays as soft as it is on the way: a state to start
    from, not an answer.

    Raises
    ------
    ConvergenceError
        With the history, when the load cannot be carried.
    """
    began = time.perf_counter()
    stance = stance_of(model, demand)
    solver = LinearSolver(model.system.symmetric)
    if listener:
        listener(SolveStarted(label))
    settings = settings_for(model, tolerance, demand.vertical_N)
    first_steps = FIRST_STEPS
    if not patient:
        settings, first_steps = replace(settings, **HASTY), FIRST_STEPS[:1]
    if start is not None:
        try:
            solution = _continue(model, stance, start, settings, solver, label, listener, augment)
        finally:
            solver.free()
        return _finished(model, demand, stance, solution, began, solver, label, listener)
    try:
        touch = _touching(model, stance, settings, solver, label)
        for attempt, first_step in enumerate(first_steps, start=1):
            last = attempt == len(first_steps)
            falls = FALLS if patient and (last or settings.settle) else 0
            path = replace(settings, first_step=first_step, falls=falls)
            try:
                solution = solve(
                    model.system, stance.carry(touch.state, touch.evaluation), state=touch.state,
                    memory=touch.memory, settings=path, solver=solver, label=label,
                    listener=listener, adjust=stance.adjust, augment=augment)
                break
            except ConvergenceError as problem:
                if last:
                    raise
                if listener:
                    listener(Note(f"{label}: {problem}; once more in smaller steps"))
    finally:
        solver.free()
    solution.history[:0] = touch.history
    return _finished(model, demand, stance, solution, began, solver, label, listener)


def _touching(model, stance, settings, solver, label) -> Solution:
    """Push the ground to first contact; in shorter steps where a long one squeezes an element."""
    steps, history = TOUCH_STEPS[model.question.model], []
    for first_step in steps:
        try:
            touch = solve(
                model.system, stance.touch, solver=solver, label=f"{label}: first contact",
                augment=False, settings=replace(
                    TOUCH_SETTINGS, first_step=first_step, near=settings.near, exact=settings.exact,
                    force_scale_N=min(settings.force_scale_N, TOUCH_FORCE_N)))
        except ConvergenceError as problem:
            if first_step == steps[-1]:
                raise
            history += problem.history
            continue
        history += touch.history
        if model.system.least_volume_ratio(touch.state) > LEAST_VOLUME:
            break
    return replace(touch, history=history)


def settings_for(model: Model, tolerance: float, force_N: float) -> Settings:
    """Return the settings for a model under a force."""
    question = model.question
    settings = SETTINGS[question.model]
    if question.device is None or question.grip_mm > 0 or question.fascia == "meshed":
        settings = replace(settings, near=NEAR_SMOOTH)
    return replace(settings, tolerance=tolerance, force_scale_N=force_N)


def _continue(model, stance, start, settings, solver, label, listener, augment) -> Solution:
    """Carry the full load from a neighbouring solution."""
    old, co = start.model.system.coordinates, model.system.coordinates
    if len(old.points) != len(co.points):
        raise ValueError("the neighbouring model has another mesh")
    was = start.solution.state
    state = replace(was, x=co.points + was.x - old.points,
                    centre=co.centres + was.centre - old.centres)
    state = co.moved(state, np.zeros(co.size))
    memory = tuple(replace(m, x=state.x) for m in start.solution.memory)
    return solve(model.system, lambda t: stance.full(state, start.solution.load), state=state,
                 memory=memory, settings=replace(settings, first_step=1.0, smallest_step=1.0,
                                                 step_tolerance=WARM_TOLERANCE),
                 solver=solver, label=label, listener=listener, adjust=stance.adjust, augment=augment)


def _finished(model, demand, stance, solution, began, solver, label, listener) -> Solved:
    seconds = time.perf_counter() - began
    if listener:
        listener(SolveDone(label, seconds, solver.tally.factorisations))
    return Solved(model, demand, stance, solution, seconds)

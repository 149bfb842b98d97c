"""Equilibrium: adaptive load steps, each by Newton's method, and augmentation of contact.

A *path* maps a load factor t in [0, 1] to a :class:`Load`. Intermediate steps are solved loosely; the
last one is solved tightly, with the contact multipliers updated until neither they nor the
penetration change.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..errors import ConvergenceError, LinearSolverError
from .contact import Contact, Memory
from .descent import descended
from .events import StepDone
from .iteration import Settings, Step
from .linear import LinearSolver, Tally
from .state import State
from .system import Evaluation, Load, System

LINGER = 12
"""Augmentation passes after which contacts that still change have their penalties raised again."""
BY_FORCE = 25
"""Augmentation passes after which a pressure counts by its force over the vertex's whole area: at the
edge of a target a vertex may see a sliver of it, where pressure that carries nothing settles slowly."""


@dataclass
class Solution:
    """An equilibrium.

    Attributes
    ----------
    state, memory, load, rays, evaluation
        Where everything is, what the contacts carry, under which load, and the evaluation there.
    history : list of dict
        One row per Newton iteration.
    tally : Tally
        Linear solves.
    """

    state: State
    memory: tuple[Memory, ...]
    load: Load
    rays: tuple
    evaluation: Evaluation
    history: list[dict]
    tally: Tally


def solve(system: System, path: Callable[[float], Load], *, state: State | None = None,
          memory: tuple[Memory, ...] | None = None, settings: Settings | None = None,
          solver: LinearSolver | None = None, label: str = "", listener=None,
          adjust: Callable | None = None, augment: bool = True) -> Solution:
    """Follow ``path`` from t = 0 to t = 1.

    Parameters
    ----------
    state, memory
        A start other than the reference, for a warm start.
    adjust : callable, optional
        ``adjust(load, state, evaluation) -> (Load, change)`` is asked before each augmentation
        pass of the last step, for loads that follow from the result (a muscle force that places
        the centre of pressure); the passes go on until the relative change is small.
    augment : bool
        Whether to update the contact multipliers at the end; without, the contact stays soft.
    listener : callable, optional
        Receives events.

    Raises
    ------
    ConvergenceError
        With the history, when the smallest step fails.
    """
    settings = settings or Settings()
    solver = solver or LinearSolver(system.symmetric)
    state = state or system.coordinates.start()
    memory = memory or system.memory(state)
    history: list[dict] = []
    step = Step(system, solver, settings, history, label)
    t, size, number, load = 0.0, settings.first_step, 0, None
    rays = system.rays(state, memory)
    while t < 1.0:
        number += 1
        goal = t + size if 1.0 - t - size > 1e-9 else 1.0
        last = goal == 1.0
        try:
            ahead = path(goal)
            if ahead.balance is not None and load is not None and load.balance is not None:
                ahead = ahead.carrying(load)
            result = step.run(
                state, ahead, memory, rays,
                settings.step_tolerance if not last or system.contacts else settings.tolerance,
                settings.iterations, number, fall=0.5 * size < settings.smallest_step)
        except (ConvergenceError, LinearSolverError) as problem:
            size *= 0.5
            if size < settings.smallest_step:
                reason = str(problem)
                raise ConvergenceError(
                    f"{label + ': ' if label else ''}the load could not be carried beyond "
                    f"{100 * t:.0f} % of it: {reason}", history) from None
            continue
        state, load, rays, evaluation, used = result
        memory = _advanced(system, memory, evaluation, state, coulomb=not last)
        rays = system.rays(state, memory)
        t = goal
        if listener:
            listener(StepDone(label, number, t, used, history[-1]["residual"]))
        size = size * 1.5 if used <= 6 else size
    if augment and (system.contacts or adjust):
        if settings.settle and system.symmetric and not step.stable:
            evaluation = descended(
                step, load, rays, memory, evaluation, settings.iterations, number)
            state, load, rays, evaluation, _ = step.run(
                evaluation.state, load, memory, rays, settings.step_tolerance, settings.iterations,
                number, follow=False, fall=True)
            memory = _advanced(system, memory, evaluation, state)
            rays = system.rays(state, memory)
        state, memory, load, rays, evaluation = _augment(
            step, state, memory, load, rays, evaluation, number, adjust, listener, label)
    return Solution(state, memory, load, rays, evaluation, history, solver.tally)


def _advanced(system, memory, evaluation, state, coulomb=False):
    """Let friction start anew from ``state``: that of rough contacts, and ``coulomb`` friction too."""
    return tuple(
        Contact.advanced(m, s, state.x)
        if not c.grip_mm and (c.rough or (coulomb and c.friction)) else m
        for m, s, c in zip(memory, evaluation.status, system.contacts, strict=True))


def _change(contacts, memory, previous, evaluation, by_force):
    """Return the largest change of a contact pressure, relative to the largest pressure."""
    largest = change = 0.0
    for contact, new, old, status in zip(contacts, memory, previous, evaluation.status, strict=True):
        share = np.minimum(status.area_mm2 / contact.own_area_mm2, 1.0) if by_force else 1.0
        largest = max(largest, float((share * new.pressure_MPa).max(initial=0.0)))
        change = max(change, float(
            (share * np.abs(new.pressure_MPa - old.pressure_MPa)).max(initial=0.0)))
    return change / max(largest, 1e-12)


def _augment(step, state, memory, load, rays, evaluation, number, adjust, listener, label):
    """Update multipliers and dependent loads until they stand still."""
    system, settings = step.system, step.settings
    for index in range(settings.passes):
        previous = memory
        stiffen = index < settings.stiffen or index >= LINGER
        memory = tuple(c.augmented(m, s, stiffen) for c, m, s in zip(
            system.contacts, memory, evaluation.status, strict=True))
        drift = 0.0
        if adjust:
            load, drift = adjust(load, state, evaluation)
        change = _change(system.contacts, memory, previous, evaluation, index >= BY_FORCE)
        deepest = max((float((-s.gap_mm).max(initial=0.0)) for s in evaluation.status),
                      default=0.0)
        done = (index > 0 and change < settings.pressure_change
                and deepest < settings.penetration_mm and drift < settings.adjustment)
        if index < settings.relay:
            memory = _advanced(system, memory, evaluation, state)
            rays = system.rays(state, memory)
        tolerance = settings.tolerance if done else min(
            1e-4, max(settings.tolerance, 0.05 * change))
        try:
            state, load, rays, evaluation, used = step.run(
                state, load, memory, rays, tolerance, 2 * settings.iterations, number, least=1,
                follow=False, again=index >= settings.relay, fall=True)
        except LinearSolverError as problem:
            raise ConvergenceError(f"{label}: {problem}", step.history) from None
        if listener:
            listener(StepDone(f"{label} (pass {index + 1})", number, 1.0, used,
                              step.history[-1]["residual"]))
        if done:
            return state, memory, load, rays, evaluation
    raise ConvergenceError(
        f"contact pressures still change after {settings.passes} augmentations", step.history)

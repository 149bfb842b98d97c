"""Solve a question; a device of the whole foot that cannot be loaded at once grows under load.

Steep features make the first contact of the unloaded foot so one-sided that the load path finds no
equilibrium although there is one. Then the device with its features at a share of their size is loaded
cold, and they grow under the full load, each solve starting from the last. Friction remembers that
path: it is named wherever the result is.
"""

from __future__ import annotations

from dataclasses import replace
from functools import reduce

from ..errors import ConvergenceError
from ..load.stance import Demand
from ..mechanics.events import Note
from ..mechanics.linear import Tally
from .model import Question, build
from .solve import Solved, solve_model

FIRST_SHARE, GROWTH, SMALLEST_GROWTH = 0.5, 1 / 8, 1 / 64
"""Share of the features that is loaded first, by how much they then grow at a time, and at least."""


def solve_question(question: Question, demand: Demand, **options) -> Solved:
    """Solve a question cold, or by growth where that is possible and needed.

    ``options`` are those of `fefoot.study.solve.solve_model`.

    Raises
    ------
    ConvergenceError
        That of the cold solve, when neither finds an equilibrium.
    MeshError, InputError
        From meshing.
    """
    model = build(question)
    if not grows(question):
        return solve_model(model, demand, **options)
    try:
        return solve_model(model, demand, patient=False, **options)
    except ConvergenceError as cold:
        if listener := options.get("listener"):
            listener(Note(f"{options.get('label', '')}: {cold}; now the device's features grow under "
                          "load"))
        try:
            return grown_under_load(question, demand, **options)
        except ConvergenceError as problem:
            raise ConvergenceError(f"{cold}; nor when its features grow under load: {problem}",
                                   cold.history + problem.history) from None


def grows(question: Question) -> bool:
    """Say whether a question's device has features that can grow."""
    return question.model == "foot3d" and question.device is not None and bool(
        question.device.features)


def grown_under_load(question: Question, demand: Demand, **options) -> Solved:
    """Load the device with half-grown features, then let them grow; by less where that fails.

    Raises
    ------
    ConvergenceError
        When the half-grown device cannot be loaded, or the smallest growth fails.
    """
    share, step = FIRST_SHARE, GROWTH
    solved = solve_model(build(replace(question, growth=share)), demand, augment=False, **options)
    past, seconds = [solved], solved.seconds
    while share < 1.0:
        goal = min(share + step, 1.0)
        try:
            solved = solve_model(
                build(replace(question, growth=goal)), demand, start=past[-1], augment=goal == 1.0,
                **options)
        except ConvergenceError:
            step *= 0.5
            if step < SMALLEST_GROWTH:
                raise
            continue
        share = goal
        past.append(solved)
        seconds += solved.seconds
    return _together(past, seconds)


def _together(past: list[Solved], seconds: float) -> Solved:
    """Return the last solve with the cost and the history of all."""
    last = past[-1]
    tally = reduce(Tally.plus, (solved.solution.tally for solved in past))
    history = [row for solved in past for row in solved.solution.history]
    return replace(last, seconds=seconds, grown_from=FIRST_SHARE,
                   solution=replace(last.solution, history=history, tally=tally))

"""Solve a question; a device of the whole foot that cannot be loaded at once grows under load.

Steep features make the first contact of the unloaded foot so one-sided that the load path finds no
equilibrium although there is one. Then the device with its features at a share of their size is loaded
cold, and they grow under the full load, each solve starting from the last. Friction remembers that
path: it is named wherever the result is.
"""

from __future__ import annotations

import time
from dataclasses import replace

from ..errors import ConvergenceError, FefootError
from ..load.stance import Demand
from ..mechanics.events import Note
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
    if not grows(question):
        return solve_model(build(question), demand, **options)
    began = time.perf_counter()
    try:
        return solve_model(build(question), demand, patient=False, **options)
    except ConvergenceError as cold:
        if listener := options.get("listener"):
            listener(Note(f"{options.get('label', '')}: {cold}; now the device's features grow under "
                          "load"))
        try:
            solved = grown_under_load(question, demand, **options)
        except FefootError as problem:
            raise ConvergenceError(
                f"{cold}; nor when its features grow under load: {problem}",
                cold.history + getattr(problem, "history", [])) from None
        return replace(solved, seconds=time.perf_counter() - began)


def grows(question: Question) -> bool:
    """Say whether a question's device has features that can grow."""
    return question.model == "foot3d" and question.device is not None and bool(
        question.device.features)


def grown_under_load(question: Question, demand: Demand, **options) -> Solved:
    """Load the device with half-grown features, then let them grow; by less where that fails.

    The result's tally and history are those of all solves that led to it.

    Raises
    ------
    ConvergenceError
        When the half-grown device cannot be loaded, or the smallest growth fails.
    """
    share, step = FIRST_SHARE, GROWTH
    began = time.perf_counter()
    solved = solve_model(build(replace(question, growth=share)), demand, augment=False, **options)
    tally, history = solved.solution.tally, solved.solution.history
    while share < 1.0:
        goal = min(share + step, 1.0)
        try:
            solved = solve_model(
                build(replace(question, growth=goal)), demand, start=solved, augment=goal == 1.0,
                **options)
        except ConvergenceError:
            step *= 0.5
            if step < SMALLEST_GROWTH:
                raise
            continue
        share = goal
        tally = tally.plus(solved.solution.tally)
        history = history + solved.solution.history
    return replace(solved, seconds=time.perf_counter() - began, grown_from=FIRST_SHARE,
                   solution=replace(solved.solution, history=history, tally=tally))

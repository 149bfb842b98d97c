"""From a question to the best designs: a surrogate proposes, real solves decide.

A first spread sample of the space is solved. Then a Gaussian process is fitted to the target's change
and to every limited measure, and the designs with the largest expected improvement times the chance
that all limits are kept are solved, a few at a time, until the solves are used up or nothing promises
to be better (Schonlau, Welch & Jones 1998, constrained expected improvement). Every number that is
shown comes from a solve, never from the surrogate.
"""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from ..case.studies import Search, Sweep
from ..case.values import Case
from ..errors import InputError
from .choice import (
    designs_only,
    excess,
    front,
    leading_key,
    ranked,
    shown_instant,
    worst_rise_percent,
)
from .engine import Evaluate, Tally
from .entries import RunStore
from .run import solve_run
from .space import at_shares, design_of, distinct, sweep_of
from .surrogate import Surrogate, fitted
from .sweep import Line, Swept, computed

CANDIDATES, NEAR = 4096, 512
"""Designs that may be proposed: spread over the space, and round the best one so far."""
NEAR_SHARE, MOVED_SHARE = 0.05, 0.25
"""How far round it, of each range; how often a value of a list or grid is another one."""
BATCH = 4
"""Designs proposed at a time; the same for every number of workers, so that answers are too."""
LEAST_GAIN_PERCENT = 0.01
"""Expected improvement of the change, in percent points, below which the search ends."""
_FEWEST = 3


@dataclass(frozen=True)
class Fit:
    """How well a surrogate predicts one measure: what it is, its unit, leave-one-out error."""

    what: str
    unit: str
    error: float
    span: float
    values: tuple[float, ...]
    left_out: tuple[float, ...]


@dataclass(frozen=True)
class Found:
    """What a search found.

    Attributes
    ----------
    swept : Swept
        All designs that were solved, in the order of solving.
    kept : tuple of Line
        Those that keep every limit, the largest fall of the target first.
    answers : tuple of Line
        Those of ``kept`` that also reach the wanted reduction.
    closest : Line or None
        Where no design answers: the one that misses by least; see `miss`.
    front : tuple of Line
        Trade-off of the target against the worst limit (or the largest rise without limits).
    fits : tuple of Fit
    started : int
        Designs of the first sample; the others were proposed by the surrogate.
    ended : str
        Why the search stopped, in words.
    """

    swept: Swept
    kept: tuple[Line, ...]
    answers: tuple[Line, ...]
    closest: Line | None
    front: tuple[Line, ...]
    fits: tuple[Fit, ...]
    started: int
    ended: str

    @property
    def shown(self) -> Line | None:
        """The design that the answer is about: the best one, else the closest."""
        return self.answers[0] if self.answers else self.closest


def question_of(case: Case) -> Search:
    """Return the search of a case; InputError where it has none."""
    if case.studies.search is None:
        raise InputError("the case asks no question", file=case.file, key="search",
                         hint="add [search] with reduction_percent, and [[search.limit]]")
    sweep_of(case)
    return case.studies.search


def miss(line: Line, asked: Search, key) -> float:
    """Return by how much a design misses the question, as the sum of shares; 0 answers it."""
    change = line.change_percent(key)
    short = 1.0 if change is None else max(change + asked.reduction_percent, 0.0) / 100.0
    return short + sum(_broken(line, limit) for limit in asked.limits)


def _broken(line, limit) -> float:
    over = excess(line, limit)
    return 1.0 if over is None else max(over, 0.0)


def worst_excess(line: Line, asked: Search) -> float:
    """Return the largest excess over any limit, as a share of it; negative keeps all."""
    return max((1.0 if (e := excess(line, limit)) is None else e for limit in asked.limits),
               default=-1.0)


def search(case: Case, store: str | Path | RunStore, *, executor=None,
           evaluate: Evaluate = solve_run, tell=None, again: bool = False) -> Found:
    """Answer a case's question with at most ``search.solves`` designs.

    Raises
    ------
    InputError
        Without a question or space, for several instants, when everything is excluded, or when no
        design of the first sample has an answer.
    """
    began = time.perf_counter()
    asked, space = question_of(case), sweep_of(case)
    if len(case.activity.instants()) != 1:
        raise InputError("a search looks at one instant", file=case.file, key="activity.at",
                         value=case.activity.at, allowed="'peak', or a percent of stance",
                         hint="choose the instant that loads the target most")
    if not space.device and case.devices:
        raise InputError("a search varies a device", file=case.file, key="sweep.device",
                         hint="name the device that is varied")
    store = store if isinstance(store, RunStore) else RunStore(store)
    options = {"executor": executor, "evaluate": evaluate, "again": again}
    pool = _candidates(space, asked.seed)
    if not pool:
        raise InputError("every design is excluded", file=case.file, key="sweep.exclude",
                         hint="loosen the exclusions")
    chosen = pool[:min(asked.start, asked.solves)]
    most = asked.solves + len(case.devices)
    rounds = [_solve(case, chosen, 1, store, options, _onward(tell, (), most))]
    started, ended = len(chosen), f"all {asked.solves} solves were used"
    while len(chosen) < asked.solves:
        solved = {_point(d.values) for part in rounds for d in part.designs}
        rest = [values for values in distinct(pool + _near_best(case, rounds, len(chosen)))
                if _point(values) not in solved]
        if not rest:
            ended = "every design of the space was solved"
            break
        proposed, promising = _proposals(case, rounds, rest, min(BATCH, asked.solves - len(chosen)))
        if not promising:
            ended = "no further design promises to be better"
            break
        rounds.append(_solve(case, proposed, len(chosen) + 1, store, options,
                             _onward(tell, rounds, most)))
        chosen = chosen + proposed
    return _found(case, rounds, started, ended, began)


def _candidates(space: Sweep, seed: int) -> list[dict]:
    """Return the allowed designs that may be solved: the whole space where it is small."""
    from scipy.stats import qmc

    shares = qmc.Sobol(len(space.vary), rng=np.random.default_rng(seed)).random(CANDIDATES)
    points = distinct(at_shares(space, row) for row in shares)
    return [values for values in points if not space.excludes(values)]


def _near_best(case, rounds, count: int) -> list[dict]:
    """Return allowed designs round the one that misses the question least, or relieves most."""
    asked, space, key = case.studies.search, case.studies.sweep, leading_key(case)
    lines = ranked(_lines(rounds), key)
    if not lines:
        return []
    best = min(lines, key=lambda line: (
        max(worst_excess(line, asked), 0.0), line.change_percent(key), line.design)).varied
    rng = np.random.default_rng([asked.seed, count])

    def moved(entry):
        known = entry.values()
        if known is None:
            step = NEAR_SHARE * (entry.high - entry.low) * rng.standard_normal()
            return float(min(max(best[entry.name] + step, entry.low), entry.high))
        return entry.at(rng.random()) if rng.random() < MOVED_SHARE else best[entry.name]

    points = [{entry.name: moved(entry) for entry in space.vary} for _ in range(NEAR)]
    return [values for values in points if not space.excludes(values)]


def _onward(tell, rounds, most: int):
    """Return a listener that adds what former rounds did; every round begins with the bare foot."""
    if tell is None:
        return None
    done = [part.tally for part in rounds]

    def onward(tally):
        parts = [*done, tally]
        tell(Tally(most, sum(t.reused for t in parts) - len(done),
                   sum(t.computed for t in parts), sum(t.failed for t in parts),
                   sum(t.seconds for t in parts)))

    return onward


def _solve(case, chosen: Sequence[dict], first: int, store, options, tell) -> Swept:
    designs = [design_of(case, n, values) for n, values in enumerate(chosen, first)]
    return computed(case, designs, store, others=first == 1, tell=tell, **options)


def _point(values: dict) -> tuple:
    return tuple(values.items())


def encoded(space: Sweep, values: dict) -> list[float]:
    """Return a design as a point of a cube: numbers scaled to their range, words one axis each."""
    out = []
    for entry in space.vary:
        value = values[entry.name]
        known = entry.values()
        if known and isinstance(known[0], str):
            out += [0.5 * (value == word) for word in known]
        else:
            low, high = (min(known), max(known)) if known else (entry.low, entry.high)
            out.append((value - low) / ((high - low) or 1.0))
    return out


def _lines(rounds) -> list[Line]:
    return [line for part in rounds for line in designs_only(part, shown_instant(part))]


def _measures(case, lines):
    """Return the modelled measures: (words, unit, value per line); the target's change first."""
    key, asked = leading_key(case), case.studies.search
    out = [("target", "%", [line.change_percent(key) for line in lines])]
    for limit in asked.limits:
        out.append((f"{limit.tissue}.{limit.quantity}", "% of the limit",
                    [None if (e := excess(line, limit)) is None else 100.0 * (1.0 + e)
                     for line in lines]))
    return out


def _fits(case, rounds) -> tuple[list[Surrogate], list[Fit]]:
    lines = [line for line in _lines(rounds) if line.failure is None]
    space = case.studies.sweep
    models, fits = [], []
    for words, unit, values in _measures(case, lines):
        known = [n for n, value in enumerate(values) if value is not None]
        if len(known) < _FEWEST:
            raise InputError("too few designs of the first sample have an answer", file=case.file,
                             key="search.start", value=len(known), allowed=f"at least {_FEWEST}",
                             hint="raise search.start, or look at what fails with fefoot sweep")
        model = fitted([encoded(space, lines[n].varied) for n in known], [values[n] for n in known])
        models.append(model)
        fits.append(Fit(words, unit, model.left_out_error(), float(np.ptp(model.values)),
                        tuple(model.values.tolist()), tuple(model.left_out().tolist())))
    return models, fits


def _proposals(case, rounds, rest, count) -> tuple[list[dict], bool]:
    """Return the designs to solve next, and whether any of them promises to be better."""
    from scipy.stats import norm

    asked, space = case.studies.search, case.studies.sweep
    models, _ = _fits(case, rounds)
    lines = [line for line in _lines(rounds) if line.failure is None]
    key = leading_key(case)
    kept = [line.change_percent(key) for line in lines
            if worst_excess(line, asked) <= 0.0 and line.change_percent(key) is not None]
    points = np.array([encoded(space, values) for values in rest])
    proposed, promising = [], False
    for _ in range(min(count, len(rest))):
        mean, spread = models[0].predict(points)
        keeps = np.ones(len(points))
        for model in models[1:]:
            middle, width = model.predict(points)
            keeps *= norm.cdf((100.0 - middle) / np.maximum(width, 1e-9))
        if kept:
            gain = min(kept) - mean
            z = gain / np.maximum(spread, 1e-9)
            score = (gain * norm.cdf(z) + spread * norm.pdf(z)) * keeps
            promising = promising or float(score.max()) > LEAST_GAIN_PERCENT
        else:
            score, promising = keeps, True
        at = int(np.argmax(score))
        proposed.append(rest[at])
        # until it is solved, the design counts as what the surrogates expect
        models = [model.believing(points[at]) for model in models]
        points, rest = np.delete(points, at, axis=0), rest[:at] + rest[at + 1:]
        if not len(points):
            break
    return proposed, promising


def _found(case, rounds, started, ended, began) -> Found:
    key, asked = leading_key(case), case.studies.search
    _, fits = _fits(case, rounds)
    rows = {row.key: row for r in rounds for line in r.lines for row in (line.row, line.base)
            if row.key}
    done = sum(r.tally.computed for r in rounds)
    tally = Tally(len(rows), len(rows) - done, done,
                  sum(1 for row in rows.values() if row.failure))
    swept = Swept(case, tuple(d for r in rounds for d in r.designs),
                  tuple(line for r in rounds for line in r.lines), tally,
                  time.perf_counter() - began)
    lines = ranked(designs_only(swept, shown_instant(swept)), key)
    kept = tuple(line for line in lines if worst_excess(line, asked) <= 0.0)
    answers = tuple(line for line in kept
                    if line.change_percent(key) <= -asked.reduction_percent)
    closest = None if answers else min(
        lines, key=lambda line: (miss(line, asked, key), line.design), default=None)
    return Found(swept, kept, answers, closest, tuple(front(lines, key, cost_of(asked, key))),
                 tuple(fits), started, ended)


def cost_of(asked: Search, key):
    """Return what relief is paid with: the worst limit in percent, or without limits the worst rise."""
    if asked.limits:
        return lambda line: 100.0 * (1.0 + worst_excess(line, asked))
    return lambda line: worst_rise_percent(line, key[0])


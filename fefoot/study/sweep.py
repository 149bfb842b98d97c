"""A sweep: every design of a space, against no device, through the store."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from ..case.values import Case
from ..outcome.comparison import change_percent
from .compare import BAREFOOT
from .engine import Evaluate, Keyed, Row, Tally, evaluated, keyed
from .entries import RunStore
from .run import Run, solve_run
from .space import Design, designs, varied_device

REFERENCE = 0
"""Design number of what is not varied: no device, and the case's other devices."""


@dataclass(frozen=True)
class Line:
    """One row of the table of a sweep.

    Attributes
    ----------
    design : int
        Its number; `REFERENCE` for what is not varied.
    condition : str
        Name of the device, or ``barefoot``.
    stance_percent : float
    varied : dict of varied name -> value
        What of it holds for this row.
    row : Row
    base : Row
        The row without a device for the same person and instant.
    """

    design: int
    condition: str
    stance_percent: float
    varied: dict
    row: Row
    base: Row

    def change_percent(self, key: tuple[str, str]) -> float | None:
        """Return the change of a measure against no device, percent."""
        return change_percent(self.row.values.get(key), self.base.values.get(key))

    @property
    def failure(self) -> str | None:
        """Why there is no comparison."""
        if self.row.failure:
            return self.row.failure
        return f"no comparison: without a device, {self.base.failure}" if self.base.failure else None


@dataclass(frozen=True)
class Swept:
    """What a sweep found."""

    case: Case
    designs: tuple[Design, ...]
    lines: tuple[Line, ...]
    tally: Tally
    seconds: float

    @property
    def varied(self) -> tuple[Line, ...]:
        """The rows of the varied designs."""
        return tuple(line for line in self.lines if line.design != REFERENCE)


def sweep(case: Case, store: str | Path | RunStore, *, executor=None, evaluate: Evaluate = solve_run,
          tell=None, again: bool = False) -> Swept:
    """Compute every design of a case's sweep, and no device, at every instant.

    Parameters
    ----------
    case : Case
        With a design space.
    store : path or RunStore
        Finished runs are taken from it and put into it.
    executor, evaluate, tell, again
        See `fefoot.study.engine.evaluated`.

    Raises
    ------
    InputError
        Without a design space, or when the store cannot be written.
    """
    began = time.perf_counter()
    return computed(case, designs(case), store, executor=executor, evaluate=evaluate, tell=tell,
                    again=again, began=began)


def computed(case: Case, chosen: Sequence[Design], store, *, began=None, others: bool = True,
             **options) -> Swept:
    """Compute the given designs with what they are compared with; see `sweep`.

    ``others`` says whether the case's devices that are not varied are computed too.
    """
    began = time.perf_counter() if began is None else began
    store = store if isinstance(store, RunStore) else RunStore(store)
    plan = _Plan()
    varied = varied_device(case)
    for instant in case.activity.instants() if others else ():
        for device in (None, *(d for d in case.devices if d is not varied)):
            plan.add(REFERENCE, case, device, instant, {})
    for design in chosen:
        if design.device is None:
            for instant in design.case.activity.instants():
                for device in (None, *case.devices):
                    plan.add(design.number, design.case, device, instant, design.values)
        elif design.refusal is None:
            for instant in design.case.activity.instants():
                plan.add(design.number, design.case, design.device, instant, design.values)
        else:
            plan.refuse(design)
    rows, tally = evaluated(plan.jobs, store, **options)
    return Swept(case, tuple(chosen), plan.lines(rows), tally, time.perf_counter() - began)


class _Plan:
    """The runs of a sweep, and which row of its table each of them becomes."""

    def __init__(self):
        self.jobs: list[Keyed] = []
        self.entries: list[tuple] = []

    def add(self, number, case, device, instant, values) -> None:
        job, base = keyed([Run.of(case, device, instant), Run.of(case, None, instant)])
        self.entries.append((number, device.name if device else BAREFOOT, instant.stance_percent,
                             values, len(self.jobs), None))
        self.jobs += [job, base]

    def refuse(self, design) -> None:
        row = Row("", design.refusal, {}, {}, {})
        for instant in design.case.activity.instants():
            self.entries.append((design.number, design.device.name, instant.stance_percent,
                                 design.values, None, row))

    def lines(self, rows) -> tuple[Line, ...]:
        return tuple(
            Line(number, name, percent, values, *((refused, refused) if at is None
                                                  else (rows[at], rows[at + 1])))
            for number, name, percent, values, at, refused in self.entries)

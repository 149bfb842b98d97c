"""Mesh and penalty studies of every shipped case: how far its answer moves."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from scipy.optimize import brentq

from fefoot.case.reader import read_case
from fefoot.outcome.comparison import WORSE_PERCENT, compare_outcomes
from fefoot.study.compare import BAREFOOT, condition
from fefoot.study.parallel import carried_out, processes_for

CASES = Path(__file__).resolve().parent.parent / "cases"
RATIO = 2.0**0.5
SIZES_MM = (8.0, 8.0 / RATIO, 4.0)
"""Coarse to fine; the last is the shipped cases' own."""
SHIPPED = 2
PENALTY_PERCENT = 1.0
HEAD_LINES = ("| case | condition | measure | values | mesh | change by the device [%] | mesh "
              "| penalty x2 [%] | |\n|---|---|---|---|---|---|---|---|---|")
LARGEST_ORDER = 4.0


@dataclass(frozen=True)
class Series:
    """One quantity on three meshes of element sizes h, coarse to fine.

    Where the three values are monotone, the order p solves
    (f1 - f2)/(f2 - f3) = (h1^p - h2^p)/(h2^p - h3^p) and the extrapolated value is
    f3 + (f3 - f2)/[(h2/h3)^p - 1], if p lies in (0, 4] (Roache 1998, Verification and Validation in
    Computational Science and Engineering, recalled). ``shipped`` is the place of the mesh that shipped
    cases use.
    """

    values: tuple[float, ...]
    sizes: tuple[float, ...] = SIZES_MM
    shipped: int = SHIPPED

    @property
    def order(self) -> float | None:
        """Observed order; None where the values are not monotone or do not settle."""
        coarse, middle, fine = self.values
        if not all(map(math.isfinite, self.values)) or (coarse - middle) * (middle - fine) <= 0:
            return None
        ratio = (coarse - middle) / (middle - fine)
        a, b, c = (size / self.sizes[-1] for size in self.sizes)

        def out(p):
            return (a**p - b**p) / (b**p - c**p) - ratio

        low = 1e-6
        return brentq(out, low, LARGEST_ORDER) if out(low) < 0 <= out(LARGEST_ORDER) else None

    @property
    def limit(self) -> float | None:
        """Extrapolated value."""
        if self.order is None:
            return None
        _, middle, fine = self.values
        return fine + (fine - middle) / ((self.sizes[1] / self.sizes[2])**self.order - 1)

    @property
    def band(self) -> float:
        """Distance of the shipped mesh's value from the limit, or the spread; nan after a failure."""
        if not all(map(math.isfinite, self.values)):
            return math.nan
        if self.limit is None:
            return max(self.values) - min(self.values)
        return abs(self.values[self.shipped] - self.limit)


MISSING = "a solve failed or is missing"


@dataclass(frozen=True)
class CaseStudy:
    """One condition of one case: target measure, its change by the device, and twice the penalty."""

    case: str
    condition: str
    quantity: str
    value: Series
    change_percent: Series | None
    penalty_percent: float

    @property
    def value_percent(self) -> float:
        """Band of the value over the shipped mesh's value, percent."""
        return 100.0 * self.value.band / abs(self.value.values[self.value.shipped])

    @property
    def misses(self) -> tuple[str, ...]:
        """What is out of its limit."""
        if math.isnan(self.value.band):
            return (MISSING,)
        found = []
        if not self.value_percent <= WORSE_PERCENT:
            found.append(f"value moves by {self.value_percent:.1f} %")
        if self.change_percent is not None and not self.change_percent.band <= WORSE_PERCENT:
            found.append(f"change moves by {self.change_percent.band:.1f} points")
        if math.isnan(self.penalty_percent):
            found.append(f"twice the penalty: {MISSING}")
        elif self.penalty_percent > PENALTY_PERCENT:
            found.append(f"penalty moves it by {self.penalty_percent:.2f} %")
        return tuple(found)


SETTINGS = (*((size, 1.0) for size in SIZES_MM), (SIZES_MM[SHIPPED], 2.0))
"""Mesh size, mm, and factor on the contact penalty."""


def _values(job, tell):
    file, size_mm, penalty = job
    return target_values(file, tell, mesh_size_mm=size_mm, penalty_factor=penalty)


def target_values(file: str, tell, **solver):
    """Return (quantity, {condition: value}) of the target's leading measure; nan for failures.

    ``solver`` replaces settings of a case in ``cases/``.
    """
    case = read_case(CASES / file)
    case = replace(case, solver=replace(case.solver, **solver))
    instant = case.activity.instants()[0]
    outcomes = tuple(condition(case, device, instant, tell)
                     for device in (None, *case.devices))
    first = compare_outcomes(outcomes, case.target).rows[0]
    return f"{first.tissue}, {first.quantity}", {
        o.name: math.nan if value is None else value
        for o, value in zip(outcomes, first.values, strict=True)}


def studies(names) -> list[CaseStudy]:
    """Return a study of every condition of cases in ``cases/``, solved side by side."""
    jobs = [(file, *setting) for file in names for setting in SETTINGS]
    found = carried_out(_values, jobs, lambda event: None, processes_for(len(jobs)))
    each = len(SETTINGS)
    return [row for number, file in enumerate(names)
            for row in _rows(file, found[number * each:(number + 1) * each])]


def _rows(file: str, solved) -> list[CaseStudy]:
    """Return the rows of one case from its values on the meshes and with the stiffer contact."""
    *found, (_, stiffer) = solved
    out = []
    for name, value in found[SHIPPED][1].items():
        change = None
        if name != BAREFOOT:
            change = Series(tuple(
                100.0 * (abs(v[name]) / abs(v[BAREFOOT]) - 1.0) for _, v in found))
        out.append(CaseStudy(
            file.removesuffix(".toml"), name, found[SHIPPED][0],
            Series(tuple(v[name] for _, v in found)), change,
            100.0 * abs(stiffer[name] / value - 1.0)))
    return out


def files(whole_foot: bool = False) -> list[str]:
    """Return the shipped cases of the sections, or those of the whole foot."""
    return sorted(file.name for file in CASES.glob("*.toml")
                  if (read_case(file).model == "foot3d") == whole_foot)


def study_line(row: CaseStudy) -> str:
    """Return the line of a condition."""
    change = ("", "") if row.change_percent is None else (
        _three(row.change_percent, ".1f"), _settled(row.change_percent, ".1f"))
    missed = any(MISSING not in m for m in row.misses)
    note = f"{'**missed**: ' if missed else ''}{'; '.join(row.misses)}" if row.misses else ""
    return (f"| {row.case} | {row.condition} | {row.quantity} | {_three(row.value, '.4g')} "
            f"| {_settled(row.value, '.4g')} | {change[0]} | {change[1]} "
            f"| {_number(row.penalty_percent, '.3f')} | {note} |")


def _three(series: Series, form: str) -> str:
    return " / ".join(_number(v, form) for v in series.values)


def _number(value: float, form: str) -> str:
    return format(value, form) if math.isfinite(value) else "-"


def _settled(series: Series, form: str) -> str:
    if math.isnan(series.band):
        return MISSING
    if series.order is None:
        return f"not monotone or unsettled; spread {series.band:{form}}"
    return f"order {series.order:.1f}, limit {series.limit:{form}}, band {series.band:{form}}"


def study_lines() -> Iterator[str]:
    """Yield the lines of the table."""
    sizes = " / ".join(f"{s:.3g}" for s in SIZES_MM)
    yield (f"\nThe target's leading measure on meshes of {sizes} mm. The band is the distance of the "
           "shipped 4 mm mesh from the Richardson limit, or the spread of the three where there is "
           "none. Penalty: change of the measure when the contact penalty doubles (factor 2 on "
           f"SKIN and SOLE penalties of study/model.py), limit {PENALTY_PERCENT:g} %. Limit of a "
           f"band: {WORSE_PERCENT:g} % of the value and {WORSE_PERCENT:g} points of the change, the "
           "change that the product reports (common practice, no source).\n")
    yield HEAD_LINES
    count = 0
    for row in studies(files()):
        count += bool(row.misses)
        yield study_line(row)
    yield f"\n{count} of the conditions above miss a limit."
    yield ("\nThe whole-foot cases have a section of their own, which takes hours: "
           f"{', '.join(name.removesuffix('.toml') for name in files(whole_foot=True))}.")

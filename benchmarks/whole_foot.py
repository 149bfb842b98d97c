"""Mesh and penalty studies of the shipped whole-foot cases, which the coarse mesh answers.

Three reference meshes and twice the contact penalty; the device's elements shrink with the foot's. Runs
are kept in a store, so that a stopped table goes on.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from statistics import median

from .kept import rows_of
from .studies import CASES, HEAD_LINES, PENALTY_PERCENT, CaseStudy, Series, files, study_line

COARSE, MIDDLE, FINE = 6.0, 5.0, 4.0
"""``mesh_size_mm`` of the reference meshes, coarse to fine."""
SETTINGS = (COARSE, 1.0), (COARSE, 2.0), (FINE, 1.0), (MIDDLE, 1.0)
"""Mesh and factor on the contact penalty, in the order in which they are solved."""
TENSION_PERCENT, PRESSURE_PERCENT = 5.0, 10.0
BAREFOOT = "barefoot"
COST_HEAD = ("| case | condition | against | cable that moves most | moves by [%] "
             "| sole that moves most | moves by [%] | factorisations, coarse / finer "
             "| seconds, coarse / finer | |\n"
             "|---|---|---|---|---|---|---|---|---|---|")
NAMES = {COARSE: "coarse", MIDDLE: "middle", FINE: "fine"}
QUANTITIES = "tension_N", "peak_pressure_kPa", "moment_Nm", "bending_stress_MPa"
"""What a target's leading measure can be."""
MOVED_HEAD = ("| quantity | tissue | comparisons | moves by at most [%] | against | case "
              "| condition |\n|---|---|---|---|---|---|---|")
SPENT_HEAD = ("| mesh | condition | solved | unknowns | factorisations | s per factorisation "
              "| solve, s | solve / factorising |\n|---|---|---|---|---|---|---|---|")


def conditions() -> Iterator[tuple[str, str, object, object]]:
    """Yield (case name, condition, case, device or None) of every shipped whole-foot case."""
    from fefoot.case.reader import read_case

    for file in files(whole_foot=True):
        case = read_case(CASES / file)
        for device in (None, *case.devices):
            yield file.removesuffix(".toml"), device.name if device else BAREFOOT, case, device


def runs() -> dict:
    """Return the run of every (case, condition, mesh size, penalty factor), in the order of solving."""
    from fefoot.study.run import Run

    out = {}
    for size_mm, factor in SETTINGS:
        for name, condition, case, device in conditions():
            solver = replace(case.solver, mesh_size_mm=size_mm, penalty_factor=factor)
            out[name, condition, size_mm, factor] = Run.of(
                replace(case, solver=solver), device, case.activity.instants()[0])
    return out


def known_rows(compute: bool) -> dict:
    """Return {(case, condition, mesh size, penalty factor): row, or None where not computed}."""
    return rows_of(runs(), compute)


def cell_sizes() -> tuple[float, float, float]:
    """Return the mean element size of the three meshes over that of the finest."""
    from fefoot.foot.mesh3d import reference_mesh
    from fefoot.study.model3d import size_name

    cells = [len(reference_mesh(size_name(size)).cells) for size in (COARSE, MIDDLE, FINE)]
    return tuple((cells[-1] / count) ** (1 / 3) for count in cells)


def case_studies(known: dict, sizes) -> Iterator[CaseStudy]:
    """Yield the study of every condition from the rows of its four solves."""
    from fefoot.study.choice import leading_key

    for name, condition, case, _ in conditions():
        key = leading_key(case)
        values = {}
        for of in {condition, BAREFOOT}:
            for setting in SETTINGS:
                row = known[name, of, *setting]
                good = row is not None and row.failure is None
                values[of, *setting] = row.values[key] if good else math.nan
        on = [(size, 1.0) for size in (COARSE, MIDDLE, FINE)]
        value = Series(tuple(values[condition, *s] for s in on), sizes, 0)
        change = None if condition == BAREFOOT else Series(tuple(
            100.0 * (abs(values[condition, *s]) / abs(values[BAREFOOT, *s]) - 1.0) for s in on),
            sizes, 0)
        yield CaseStudy(
            name, condition, ", ".join(key), value, change,
            100.0 * abs(values[condition, COARSE, 2.0] / values[condition, COARSE, 1.0] - 1.0))


def moved_most(coarse: dict, fine: dict, quantity: str) -> tuple[str, float]:
    """Return the tissue whose quantity differs most between two solves, and by how many percent.

    Those below a tenth of the largest do not count.
    """
    changes = moves(coarse, fine, quantity)
    worst = max(changes, key=lambda t: abs(changes[t]))
    return worst, changes[worst]


def moves(coarse: dict, fine: dict, quantity: str) -> dict[str, float]:
    """Return by how many percent the quantity of each tissue differs between two solves.

    Tissues below a tenth of the largest are left out.
    """
    pairs = {t: (coarse[t, q], value) for (t, q), value in fine.items()
             if q == quantity and (t, q) in coarse}
    least = 0.1 * max((abs(b) for _, b in pairs.values()), default=0.0)
    return {t: 100.0 * (a / b - 1.0) for t, (a, b) in pairs.items() if abs(b) > least}


def _by_measure(known: dict) -> Iterator[str]:
    """Yield lines of what may be a target: how far the coarse mesh lies from a finer one at most."""
    found: dict[tuple[str, str], list[tuple[float, str, str, str]]] = {}
    for name, condition, _, _ in conditions():
        for size in (MIDDLE, FINE):
            coarse, finer = (known[name, condition, mesh, 1.0] for mesh in (COARSE, size))
            if any(row is None or row.failure for row in (coarse, finer)):
                continue
            for quantity in QUANTITIES:
                for tissue, percent in moves(coarse.values, finer.values, quantity).items():
                    found.setdefault((quantity, tissue), []).append(
                        (percent, NAMES[size], name, condition))
    for quantity, tissue in sorted(found, key=lambda key: (QUANTITIES.index(key[0]), key[1])):
        moved = found[quantity, tissue]
        percent, *where = max(moved, key=lambda entry: abs(entry[0]))
        yield f"| {quantity} | {tissue} | {len(moved)} | {percent:+.1f} | {' | '.join(where)} |"


def _against_finer(known: dict) -> Iterator[str]:
    """Yield lines of each condition: cables and pressures of the sole, coarse against finer mesh."""
    for name, condition, _, _ in conditions():
        for size in (MIDDLE, FINE):
            coarse, finer = (known[name, condition, mesh, 1.0] for mesh in (COARSE, size))
            yield f"| {name} | {condition} | {NAMES[size]} | {_compared(coarse, finer)} |"


def _compared(coarse, finer) -> str:
    if coarse is None or finer is None:
        return "| | | | | | not computed"
    if coarse.failure or finer.failure:
        return f"| | | | | | **no equilibrium**: {coarse.failure or finer.failure}"
    cable, tension = moved_most(coarse.values, finer.values, "tension_N")
    region, pressure = moved_most(coarse.values, finer.values, "peak_pressure_kPa")
    over = abs(tension) > TENSION_PERCENT or abs(pressure) > PRESSURE_PERCENT
    cost = (" / ".join(f"{row.cost[key]:.0f}" for row in (coarse, finer))
            for key in ("factorisations", "seconds"))
    grew = (row.cost["grown_from"] < 1.0 for row in (coarse, finer))
    notes = [note for note, said in zip(("**missed**", "coarse by growth", "finer by growth"),
                                        (over, *grew), strict=True) if said]
    return " | ".join((cable, f"{tension:+.1f}", region, f"{pressure:+.1f}", *cost, "; ".join(notes)))


def _spent(known: dict) -> Iterator[str]:
    """Yield lines of what solves cost, by mesh, and how that grows from the coarse to the fine one."""
    medians = {}
    for size, name in NAMES.items():
        for bare in (True, False):
            costs = [row.cost for (_, condition, mesh, factor), row in known.items()
                     if (mesh, factor) == (size, 1.0) and (condition == BAREFOOT) == bare
                     and row is not None and row.failure is None]
            if not costs:
                continue
            columns = {
                "unknowns": [c["unknowns"] for c in costs],
                "factorisations": [c["factorisations"] for c in costs],
                "each": [c["factor_seconds"] / c["factorisations"] for c in costs],
                "seconds": [c["seconds"] for c in costs],
                "ratio": [c["seconds"] / c["factor_seconds"] for c in costs]}
            medians[size, bare] = {key: median(values) for key, values in columns.items()}
            unknowns, *others = columns.values()
            cells = (f"{median(values):.3g} ({min(values):.3g} to {max(values):.3g})"
                     for values in others)
            yield (f"| {name} | {BAREFOOT if bare else 'with a device'} | {len(costs)} "
                   f"| {median(unknowns):.0f} | {' | '.join(cells)} |")
    ends = medians.get((COARSE, False)), medians.get((FINE, False))
    if all(ends) and ends[0]["unknowns"] < ends[1]["unknowns"]:
        few, many = ends
        grown = math.log(many["unknowns"] / few["unknowns"])
        each, whole = (math.log(many[key] / few[key]) / grown for key in ("each", "seconds"))
        yield (f"\nFrom coarse to fine with a device, unknowns times {math.exp(grown):.1f}: one "
               f"factorisation as unknowns^{each:.2f}, the solve as unknowns^{whole:.2f}.")


def whole_foot_lines(compute: bool = True) -> Iterator[str]:
    """Yield the lines of the tables."""
    sizes = cell_sizes()
    yield (f"\n{' '.join(__doc__.split())}\n\nThe target's leading measure with mesh_size_mm of "
           f"{COARSE:g} / {MIDDLE:g} / {FINE:g}, element sizes as "
           f"{' / '.join(f'{s:.2f}' for s in sizes)}. The band is the distance of the coarse mesh, "
           "which the cases use, from the Richardson limit, or the spread of the three where there is "
           f"none. Limits as for the sections: 5 % of the value, 5 points of the change, penalty "
           f"{PENALTY_PERCENT:g} %.\n\n{HEAD_LINES}")
    known = known_rows(compute)
    rows = list(case_studies(known, sizes))
    yield from map(study_line, rows)
    judged = [r for r in rows if not math.isnan(r.value.band)]
    missed = sum("**missed**" in study_line(r) for r in judged)
    yield (f"\n{missed} of the {len(judged)} conditions that were solved on all meshes miss a limit.")
    absent = sum(row is None for row in known.values())
    if absent:
        yield f"\n{absent} of the {len(known)} solves have not been made yet."
    yield ("\nCoarse against finer meshes, and what each cost; "
           f"limits {TENSION_PERCENT:g} % of a cable's tension, {PRESSURE_PERCENT:g} % of the peak "
           "pressure of a region of the sole or under a metatarsal head, where it is a tenth of the "
           f"largest or more.\n\n{COST_HEAD}")
    yield from _against_finer(known)
    yield ("\nHow far every measure that a target can have moves from the coarse to a finer mesh, "
           f"at most, where it is a tenth of the largest of its kind or more.\n\n{MOVED_HEAD}")
    yield from _by_measure(known)
    yield f"\nWhat a solve costs, one thread beside another solve: median and range.\n\n{SPENT_HEAD}"
    yield from _spent(known)

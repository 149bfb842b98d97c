"""How time, factorisations and memory of a solve grow with the unknowns."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Iterator

import numpy as np

from .peers import peak_MB

SIZES_MM = (8.0, 5.6, 4.0, 2.8)
HEAD = ("| model | mesh, mm | unknowns | Newton iterations | factorisations | solve, s "
        "| solve / factorising | ms per factorisation | memory, MB |\n"
        "|---|---|---|---|---|---|---|---|---|")


def measure(section: str, size_mm: float) -> dict:
    """Solve standing on a flat insole once, in this process."""
    from fefoot.case.reader import case_from_dict
    from fefoot.study.compare import condition

    case = case_from_dict({
        "title": "scaling", "model": section, "target": "heel_pad", "person": {"body_mass_kg": 70},
        "activity": {"name": "standing"}, "solver": {"mesh_size_mm": size_mm},
        "device": [{"name": "flat", "layer": [{"material": "eva_soft", "thickness_mm": 6}]}]})
    outcome = condition(case, case.devices[0], case.activity.instants()[0], lambda event: None)
    return {"failure": outcome.failure, **outcome.cost,
            "MB": peak_MB()}


def alone(section: str, size_mm: float) -> dict:
    """Return what a fresh process measures; empty when it has none."""
    done = subprocess.run([sys.executable, "-m", "benchmarks.scaling", section, str(size_mm)],
                          capture_output=True, text=True, check=False)
    lines = done.stdout.strip().splitlines()
    return json.loads(lines[-1]) if done.returncode == 0 and lines else {}


def growth(unknowns, values) -> float:
    """Return the power of the unknowns by which the values grow (least squares of logarithms)."""
    return float(np.polyfit(np.log(unknowns), np.log(values), 1)[0])


def scaling_lines(full: bool) -> Iterator[str]:
    """Yield a row per mesh size, and the powers by which time and memory grow."""
    yield f"\nStanding on a flat insole, each mesh in a process of its own.\n\n{HEAD}"
    found = []
    sizes = SIZES_MM if full else SIZES_MM[:3]
    for size in sizes:
        got = alone("sagittal", size)
        if not got or got["failure"] or not got["factorisations"]:
            yield f"| sagittal | {size:g} | no solution | | | | | | |"
            continue
        each = got["factor_seconds"] / got["factorisations"]
        found.append((got["unknowns"], got["seconds"], each, got["MB"]))
        yield (f"| sagittal | {size:g} | {got['unknowns']} | {got['newton_iterations']} "
               f"| {got['factorisations']} | {got['seconds']:.2f} "
               f"| {got['seconds'] / got['factor_seconds']:.2f} | {1e3 * each:.0f} "
               f"| {got['MB']:.0f} |")
    if len(found) > 1:
        unknowns, seconds, each, memory = np.array(found).T
        yield (f"\nGrowth from coarse to fine, unknowns times {unknowns[-1] / unknowns[0]:.1f}: solve "
               f"as unknowns^{growth(unknowns, seconds):.2f}, one factorisation as "
               f"unknowns^{growth(unknowns, each):.2f}, memory of the process as "
               f"unknowns^{growth(unknowns, memory):.2f}.")


if __name__ == "__main__":
    print(json.dumps(measure(sys.argv[1], float(sys.argv[2]))))

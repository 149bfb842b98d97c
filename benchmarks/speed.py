"""Speed as ratios within one run: assembly against two libraries, and a command against PARDISO."""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

import numpy as np

from fefoot.mechanics.linear import LinearSolver
from fefoot.mechanics.newton import solve
from fefoot.mechanics.system import Load

from .peers import LIBRARIES, NU, E, alone, fefoot_call, felupe_call, sample, scikit_fem
from .scaling import scaling_lines
from .shapes import count, held, law, model

GOALS = {"scikit-fem": 40.0, "FElupe": 1.5}


def machine() -> str:
    """Describe the machine and the versions in one line."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    name = platform.processor() or platform.machine()
    info = Path("/proc/cpuinfo")
    if info.exists():
        names = [line.split(":", 1)[1].strip() for line in info.read_text().splitlines()
                 if line.startswith("model name")]
        name = names[0] if names else name
    found = []
    for package in ("numpy", "scipy", "scikit-fem", "felupe", "pypardiso", "mkl"):
        try:
            found.append(f"{package} {version(package)}")
        except PackageNotFoundError:
            found.append(f"{package} absent")
    return (f"{cores} cores, {name}; Python {platform.python_version()}, {platform.system()}; "
            + ", ".join(found))


def median_seconds(call, runs):
    """Return the median wall time of ``runs`` calls after one that is not counted."""
    call()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        call()
        times.append(time.perf_counter() - start)
    return float(np.median(times))


def assembly(dim, runs=5):
    """Return lines comparing the three assemblies of one mesh."""
    mesh, u = sample(dim)
    ours = fefoot_call(mesh, u)
    reference = ours()
    mine = median_seconds(ours, runs)
    lines = [f"| {dim}D, {count(mesh)}, {mesh.points.size} unknowns | ours: energy, force, "
             f"tangent, sparse matrix | {mine:.3f} | | | |"]
    theirs = {"scikit-fem": [("tangent only", scikit_fem(mesh, u), 1)]}
    try:
        theirs["FElupe"] = [(f"force and tangent{', parallel' if p else ''}",
                             felupe_call(mesh, u, p), runs) for p in (False, True)]
    except ImportError:
        lines.append("| FElupe | not installed | | | | |")
    for name, calls in theirs.items():
        for what, call, times in calls:
            other = call()
            same = np.isclose(np.linalg.norm(other.data), np.linalg.norm(reference.data),
                              rtol=1e-9)
            seconds = median_seconds(call, times)
            lines.append(
                f"| | {name}: {what} | {seconds:.3f} "
                f"| {marked(seconds / mine, seconds / mine >= GOALS[name], '.1f')} "
                f"| {GOALS[name]:g} | {'yes' if same else 'NO'} |")
    return lines


def factorisation(dim):
    """Return a line with one factorisation and solve of the same matrix."""
    mesh, _u = sample(dim)
    system = model(mesh, law("neo_hookean", E_MPa=E, nu=NU))
    fixed = held(dim, *[(mesh.nodes["x0"], i, 0.0) for i in range(dim)])
    solver = LinearSolver()
    pull = held(dim, (mesh.nodes["x1"], 0, 1e-3))
    start = time.perf_counter()
    tally = solve(system, lambda t: Load(held=fixed | {k: t * v for k, v in pull.items()}),
                  solver=solver).tally
    whole = time.perf_counter() - start
    solver.free()
    each = tally.factor_seconds / tally.factorisations
    return (f"| {dim}D, {system.coordinates.size} unknowns | {', '.join(tally.solvers)} "
            f"| {tally.factorisations} | {each:.3f} | {whole:.2f} "
            f"| {whole / tally.factor_seconds:.2f} |")


CASE = Path(__file__).resolve().parent.parent / "cases" / "sore_fascia_walking.toml"
"""The comparison of the README: no device and two devices."""
RATIO_GOAL, WARM_GOAL = 1.5, 0.35
COST_HEAD = ("\n| solve | Newton iterations | factorisations | s | s factorising "
             f"| solve / factorising, goal {RATIO_GOAL:g} |\n|---|---|---|---|---|---|")


def marked(value, reached, form=".2f"):
    """Return a value as text, marked where it does not reach its goal."""
    return f"{value:{form}}" if reached else f"{value:{form}} **missed**"


def cost_line(label, cost):
    """Return what a solve took beyond its factorisations (``cost`` of an Outcome)."""
    if not cost:
        return f"| {label} | no solution | | | | |"
    whole, part = cost["seconds"], cost["factor_seconds"]
    ratio = marked(whole / part, whole / part <= RATIO_GOAL)
    return (f"| {label} | {cost['newton_iterations']:.0f} | {cost['factorisations']:.0f} | {whole:.2f} "
            f"| {part:.2f} | {ratio} |")


def memory_GB(run):
    """Return the most memory that the solves of a run folder took together."""
    return json.loads((run / "provenance.json").read_text(encoding="utf-8"))["memory_MB"] / 1024


def command_lines(case, goal_seconds=10):
    """Yield time and memory of a whole comparison from a cold start, and the cost of its solves."""
    with tempfile.TemporaryDirectory() as folder:
        run = Path(folder) / "run"
        command = [sys.executable, "-m", "fefoot", "compare", str(case), "--out", str(run)]
        start = time.perf_counter()
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        seconds = time.perf_counter() - start
        written = (run / "summary.json").exists()
        memory = f", {memory_GB(run):.1f} GB" if written else ""
        yield (f"\n`fefoot compare {case.name}`, no device and two devices, the whole command from a "
               f"cold start: {marked(seconds, seconds <= goal_seconds, '.1f')} s (goal "
               f"{goal_seconds}){memory}, exit {done.returncode}.")
        if not written:
            yield " ".join((done.stderr or done.stdout).strip().splitlines()[-1:])
            return
        summary = json.loads((run / "summary.json").read_text(encoding="utf-8"))
    yield COST_HEAD
    for instant in summary["instants"]:
        for condition in instant["conditions"]:
            yield cost_line(f"{condition['name']}, {instant['stance_percent']:g} %",
                            condition["cost"])


def warm_lines(case, heavier=1.02):
    """Yield the cost for a slightly heavier person: from rest, and from the first person's."""
    from fefoot.case import read_case
    from fefoot.study.model import build
    from fefoot.study.question import demand, question
    from fefoot.study.solve import solve_model

    case = read_case(case)
    instant = case.activity.instants()[0]
    model = build(question(case, case.devices[0] if case.devices else None, instant))
    other = demand(replace(case, person=replace(
        case.person, body_mass_kg=heavier * case.person.body_mass_kg)), instant)
    first = solve_model(model, demand(case, instant))
    yield COST_HEAD
    seconds = {}
    for label, start in (("cold", None), ("warm", first)):
        solved = solve_model(model, other, start=start)
        tally, seconds[label] = solved.solution.tally, solved.seconds
        yield cost_line(f"{label}, body mass times {heavier:g}", {
            "seconds": solved.seconds, "newton_iterations": len(solved.solution.history),
            "factorisations": tally.factorisations, "factor_seconds": tally.factor_seconds})
    share = seconds["warm"] / seconds["cold"]
    yield f"\nWarm over cold: {marked(share, share <= WARM_GOAL)} (goal {WARM_GOAL:g})."


def memory_lines():
    """Yield memory and time of one assembly, each library in a process of its own."""
    yield ("\n| mesh, one process each | s of the second assembly | their time / ours | peak memory of "
           "the process, MB | their memory / ours |\n|---|---|---|---|---|")
    for dim in (2, 3):
        found = {name: alone(name, dim) for name in LIBRARIES}
        ours = found["ours"]
        for name, value in found.items():
            if not value or not ours:
                yield f"| {dim}D, {name} | not measured | | | |"
                continue
            yield (f"| {dim}D, {name} | {value['seconds']:.3f} | "
                   f"{value['seconds'] / ours['seconds']:.1f} | {value['MB']:.0f} "
                   f"| {value['MB'] / ours['MB']:.1f} |")


def speed_lines(full=True):
    """Yield the lines of the speed tables; without ``full`` the coarse meshes only."""
    yield ("\nMedian wall times in one run; every library gets the same mesh, law, state and "
           "quadrature points, with its mesh, basis and sparsity set up beforehand where it can.\n")
    yield "| mesh | what is counted | s | their time / ours | goal | same Frobenius norm to 1e-9 |"
    yield "|---|---|---|---|---|---|"
    for dim in (2, 3):
        yield from assembly(dim)
    yield "\n| matrix | solver | factorisations | s each | whole solve, s | solve / factorising |"
    yield "|---|---|---|---|---|---|"
    for dim in (2, 3):
        yield factorisation(dim)
    yield from memory_lines()
    yield from command_lines(CASE)
    yield from warm_lines(CASE)
    yield from scaling_lines(full)

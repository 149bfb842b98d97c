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

from fefoot.mechanics.element import quadrature, shape
from fefoot.mechanics.linear import LinearSolver
from fefoot.mechanics.newton import solve
from fefoot.mechanics.system import Load

from .shapes import count, grid, held, law, model

E, NU = 1.0, 0.4
MU, LAM = E / (2 * (1 + NU)), E * NU / ((1 + NU) * (1 - 2 * NU))
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


def sample(dim):
    """Return a mesh of about 10,000 cells and a deformed state of it."""
    counts = (72, 70) if dim == 2 else (12, 12, 12)
    mesh = grid(*[np.linspace(0, 1, n + 1) for n in counts])
    p = mesh.points
    u = 0.05 * np.sin(3 * p[:, ::-1]) * p
    return mesh, u


def scikit_fem(mesh, u):
    """Return a call that assembles the same tangent with scikit-fem, and the matrix's sum."""
    import skfem
    from skfem.helpers import ddot, det, eye, grad, inv, mul, transpose

    dim = mesh.dim

    @skfem.BilinearForm
    def tangent(du, v, w):
        F = grad(w["u"]) + eye(np.ones_like(w.x[0]), dim)
        G, log_J, dF = transpose(inv(F)), np.log(det(F)), grad(du)
        return ddot(MU * dF + (MU - LAM * log_J) * mul(G, mul(transpose(dF), G))
                    + LAM * ddot(G, dF) * G, grad(v))

    corners = mesh.cells[:, : dim + 1]
    used, number = np.unique(corners, return_inverse=True)
    kind, element = ((skfem.MeshTri, skfem.ElementTriP2()) if dim == 2
                     else (skfem.MeshTet, skfem.ElementTetP2()))
    other = kind(mesh.points[used].T, number.reshape(corners.shape).T)
    basis = skfem.Basis(other, skfem.ElementVector(element), intorder=2)
    p = basis.doflocs
    # the same field by its formula, at the degrees of freedom in scikit-fem's order
    seen, field = {}, np.empty(basis.N)
    for dof, place in enumerate(map(tuple, np.round(p.T, 9))):
        axis = seen.get(place, 0)
        seen[place] = axis + 1
        field[dof] = 0.05 * np.sin(3 * p[dim - 1 - axis, dof]) * p[axis, dof]
    known = basis.interpolate(field)
    return lambda: tangent.assemble(basis, u=known)


def felupe_call(mesh, u, parallel):
    """Return a call that assembles matrix and vector with FElupe on our mesh and points."""
    import felupe

    dim = mesh.dim

    class Element(felupe.element.QuadraticTriangle if dim == 2 else felupe.element.QuadraticTetra):
        """The element with our gradient; see tests/mechanics/test_oracle.py for the reason."""

        def gradient(self, rs):
            """Return the gradient of the shape functions."""
            return shape(dim + 1, np.asarray(rs, float)[None])[1][0]

    other = felupe.Mesh(mesh.points, mesh.cells, "triangle6" if dim == 2 else "tetra10")
    region = felupe.Region(other, Element(), felupe.quadrature.Scheme(*quadrature(dim + 1, 2)))
    field = felupe.FieldPlaneStrain(region, dim=2) if dim == 2 else felupe.Field(region, dim=3)
    field.values[:] = u
    container = felupe.FieldContainer([field])
    body = felupe.SolidBody(felupe.NeoHookeCompressible(mu=MU, lmbda=LAM, parallel=parallel),
                            container)

    def call():
        body.assemble.vector(container, parallel=parallel)
        return body.assemble.matrix(container, parallel=parallel)

    return call


def assembly(dim, runs=5):
    """Return lines comparing the three assemblies of one mesh."""
    mesh, u = sample(dim)
    system = model(mesh, law("neo_hookean", E_MPa=E, nu=NU))
    state = system.coordinates.moved(system.coordinates.start(), u.ravel())
    load = Load()

    def ours():
        here = system.evaluate(state, load, (), ())
        return system.pattern.matrix(here.data)

    reference = ours()
    mine = median_seconds(ours, runs)
    lines = [f"| {dim}D, {count(mesh)}, {system.coordinates.size} unknowns | ours: energy, force, "
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
                f"| | {name}: {what} | {seconds:.3f} | {seconds / mine:.1f} | {GOALS[name]:g} "
                f"| {'yes' if same else 'NO'} |")
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


def shipped_case() -> Path | None:
    """Return the first ready-to-run comparison, if there is one."""
    folder = Path(__file__).resolve().parent.parent / "cases"
    cases = sorted(folder.glob("**/*.toml")) if folder.exists() else []
    return cases[0] if cases else None


COST_HEAD = ("\n| solve | Newton iterations | factorisations | s | s factorising "
             "| solve / factorising |\n|---|---|---|---|---|---|")


def cost_line(label, cost):
    """Return what a solve took beyond its factorisations (``cost`` of an Outcome)."""
    if not cost:
        return f"| {label} | no solution | | | | |"
    whole, part = cost["seconds"], cost["factor_seconds"]
    return (f"| {label} | {cost['newton_iterations']} | {cost['factorisations']} | {whole:.2f} "
            f"| {part:.2f} | {whole / part:.2f} |")


def command_lines(case):
    """Yield the time of a whole comparison from a cold start, and the cost of its solves."""
    with tempfile.TemporaryDirectory() as folder:
        run = Path(folder) / "run"
        command = [sys.executable, "-m", "fefoot.cli", "compare", str(case), "--out", str(run)]
        start = time.perf_counter()
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        seconds = time.perf_counter() - start
        yield (f"\n`fefoot compare {case.name}` from a cold start: {seconds:.1f} s, "
               f"exit code {done.returncode}.")
        if not (run / "summary.json").exists():
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
    for label, start in (("cold", None), ("warm", first)):
        solved = solve_model(model, other, start=start)
        tally = solved.solution.tally
        yield cost_line(f"{label}, body mass times {heavier:g}", {
            "seconds": solved.seconds, "newton_iterations": len(solved.solution.history),
            "factorisations": tally.factorisations, "factor_seconds": tally.factor_seconds})


def speed_lines():
    """Yield the lines of the speed tables."""
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
    case = shipped_case()
    if case is None:
        yield "\nNo case is shipped in cases/: the whole command is not timed."
        return
    yield from command_lines(case)
    yield from warm_lines(case)

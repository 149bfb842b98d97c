"""Finite-strain problems with known answers; homogeneous modes stand in ``modes.py``."""

from __future__ import annotations

import numpy as np

from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.pressure import Pressure
from fefoot.mechanics.system import Load

from .elastic import cook_mesh, ring
from .record import Benchmark, Row
from .shapes import climb, count, extruded, grid, held, law, model, nearest, traction_forces

NU = 0.4995


def rubber(nu=NU):
    """Return the neo-Hookean law of unit shear modulus."""
    return law("neo_hookean", E_MPa=2 * (1 + nu), nu=nu)


ELASTICA = {1: (0.05643, 0.30172), 5: (0.38763, 0.71379), 10: (0.55500, 0.81061)}


def elastica():
    """Large-deflection cantilever under a dead tip force, L/h = 50."""
    length, depth, E = 100.0, 2.0, 1000.0
    bending = E * depth**3 / 12
    mesh = grid(np.linspace(0, length, 51), np.linspace(-depth / 2, depth / 2, 3))
    system = model(mesh, law("linear_elastic", E_MPa=E, nu=0.0))
    root, tip = mesh.nodes["x0"], nearest(mesh.points, length, 0)
    fixed = held(2, (root, 0, 0), (root, 1, 0))

    def load(size):
        force = np.zeros_like(mesh.points)
        force[tip, 1] = size * bending / length**2
        return Load(node_force_N=force, held=fixed)

    rows = []
    for size, solution in climb(system, ELASTICA, load, first_step=0.25, tolerance=1e-7,
                                iterations=60, largest_move_mm=20.0):
        shortening, deflection = ELASTICA[size]
        state = solution.state
        u = (state.x[tip] - mesh.points[tip]) / length
        for name, target, ours in (("shortening", shortening, -u[0]),
                                   ("deflection", deflection, u[1])):
            rows.append(Row(
                f"{name} / L at P L2/EI = {size}", target, ours,
                "Bisshopp & Drucker 1945, Mattiasson 1981; elliptic integrals", "computed",
                0.01, "common practice, no source; L/h = 50, where shear and stretch are below 0.1 %",
                count(mesh)))
    return rows


def tube_pressure(stretch):
    """Return p/mu of an incompressible tube, A 1, B 2, at the inner stretch."""
    outer2 = 1 + (stretch**2 - 1) / 4
    return np.log(stretch / np.sqrt(outer2)) + 0.5 * (1 / outer2 - 1 / stretch**2)


def tube():
    """Neo-Hookean tube, nearly incompressible, inflated in plane strain."""
    mesh = ring(1.0, 2.0, 10, 8)
    system = model(mesh, rubber(), degree=4, pressures=[Pressure(mesh.facets["y0"], 1.0)])
    fixed = held(2, (mesh.nodes["x0"], 0, 0), (mesh.nodes["x1"], 1, 0))
    inner = nearest(mesh.points, 1, 0)
    rows = []
    for pressure, solution in climb(
            system, (0.23337, 0.42823, 0.57405), lambda p: Load(pressure=p, held=fixed),
            first_step=0.25, tolerance=1e-7):
        state = solution.state
        stretch = state.x[inner, 0]
        rows.append(Row(
            f"p/mu at inner stretch {stretch:.4f}", tube_pressure(stretch), pressure,
            "p = mu[ln(la/lb) + (1/lb2 - 1/la2)/2]", "computed", 0.01,
            f"common practice, no source; nu {NU}", count(mesh)))
    return rows


def sphere_pressure(stretch):
    """Return p/mu of an incompressible sphere, A 1, B 2, at the inner stretch."""
    outer = (1 + (stretch**3 - 1) / 8) ** (1 / 3)
    return 0.5 * (4 / outer + 1 / outer**4 - 4 / stretch - 1 / stretch**4)


def octant(around, radii):
    """Return an eighth of a hollow sphere: a spherical triangle in layers.

    Its plane sides are the node sets p0, p1, p2 (on x, y, z = 0); z0 is the inner side.
    """
    index, flat = {}, []
    for i in range(around + 1):
        for j in range(around + 1 - i):
            index[i, j] = len(flat)
            flat.append((i / around, j / around))
    triangles = []
    for i, j in index:
        if (i + 1, j) in index and (i, j + 1) in index:
            triangles.append([index[i, j], index[i + 1, j], index[i, j + 1]])
        if (i + 1, j + 1) in index:
            triangles.append([index[i + 1, j], index[i + 1, j + 1], index[i, j + 1]])

    def place(p):
        way = np.column_stack([p[:, 0], p[:, 1], 1 - p[:, 0] - p[:, 1]])
        way[np.abs(way) < 1e-12] = 0.0
        return p[:, 2:] * way / np.linalg.norm(way, axis=1, keepdims=True)

    mesh = extruded(np.array(flat), np.array(triangles), radii, place)
    for i in range(3):
        mesh.nodes[f"p{i}"] = np.flatnonzero(np.abs(mesh.points[:, i]) < 1e-12)
    return mesh


def lame_sphere():
    """Thick sphere under internal pressure, small strain."""
    small = 0.1
    mesh = octant(6, np.linspace(1, 2, 6))
    system = model(mesh, law("linear_elastic", E_MPa=1000.0, nu=0.3), degree=4,
                   pressures=[Pressure(mesh.facets["z0"], small)])
    load = Load(held=held(3, *[(mesh.nodes[f"p{i}"], i, 0) for i in range(3)]))
    state = solve(system, lambda t: load, settings=Settings(tolerance=1e-6)).state
    ours = (state.x[nearest(mesh.points, 1, 0, 0), 0] - 1) / small
    return [Row("u(a), nu 0.3 [mm]", 8e-4, ours,
                "Lame: p a3/(E(b3-a3))[(1-2nu)a + (1+nu)b3/(2a2)]", "computed", 0.005,
                "common practice, no source", count(mesh))]


def sphere():
    """Neo-Hookean sphere, nearly incompressible, an eighth of it inflated."""
    mesh = octant(6, np.linspace(1, 2, 6))
    system = model(mesh, rubber(), degree=4, pressures=[Pressure(mesh.facets["z0"], 1.0)])
    fixed = held(3, *[(mesh.nodes[f"p{i}"], i, 0) for i in range(3)])
    inner = mesh.nodes["z0"]
    rows = []
    for pressure, solution in climb(
            system, (0.48016, 0.75543), lambda p: Load(pressure=p, held=fixed),
            first_step=0.25, tolerance=1e-6):
        state = solution.state
        stretch = np.linalg.norm(state.x[inner], axis=1).mean()
        rows.append(Row(
            f"p/mu at mean inner stretch {stretch:.4f}", sphere_pressure(stretch), pressure,
            "Green & Zerna: p = mu/2[4/lb + 1/lb4 - 4/la - 1/la4]", "computed", 0.01,
            f"common practice, no source; nu {NU}", count(mesh)))
    return rows


COOK_PULL_MPa = 100.0 / 16.0
COOK_FINITE_MM = 6.9114
"""FElupe 11.3, 64 x 64 bilinear quadrilaterals with three fields (6.8144, 6.8842, 6.9114 for 16, 32,
64); the same law."""


def cook_finite(cells=32):
    """Cook's membrane at finite strain, nearly incompressible neo-Hookean, dead end shear of 100 N."""
    mesh = cook_mesh(cells)
    system = model(mesh, law("neo_hookean", E_MPa=240.565, nu=0.4999))
    root = mesh.nodes["x0"]
    fixed = held(2, (root, 0, 0), (root, 1, 0))
    shear = traction_forces(mesh.points, mesh.facets["x1"], lambda x, n: np.array([0.0, COOK_PULL_MPa]))
    solution = solve(system, lambda t: Load(node_force_N=t * shear, held=fixed),
                     settings=Settings(first_step=0.1, tolerance=1e-7, iterations=60))
    corner = nearest(mesh.points, 48, 60)
    return [Row("u_y(48, 60) [mm]", COOK_FINITE_MM,
                solution.state.x[corner, 1] - mesh.points[corner, 1],
                "three-field elements of another library, 64 x 64, still rising by 0.03", "computed",
                0.02, "fine mesh of displacement elements; the reference is not converged either",
                count(mesh))]


FINITE = {
    "elastica": Benchmark("Large-deflection cantilever", elastica),
    "cook_finite": Benchmark("Cook's membrane, finite strain, nearly incompressible", cook_finite),
    "tube": Benchmark("Neo-Hookean tube inflation", tube),
    "lame_sphere": Benchmark("Lame, thick sphere", lame_sphere),
    "sphere": Benchmark("Neo-Hookean sphere inflation", sphere),
}

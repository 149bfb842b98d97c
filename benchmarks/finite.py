"""Finite-strain problems with known answers."""

from __future__ import annotations

import numpy as np

from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.pressure import Pressure
from fefoot.mechanics.system import Load

from .elastic import ring
from .record import Benchmark, Row
from .shapes import count, extruded, grid, held, law, model, nearest

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
    rows, state, before = [], None, 0.0
    for size, (shortening, deflection) in ELASTICA.items():
        def path(t, size=size, before=before):
            force = np.zeros_like(mesh.points)
            force[tip, 1] = (before + t * (size - before)) * bending / length**2
            return Load(node_force_N=force, held=fixed)

        state = solve(system, path, state=state, settings=Settings(
            first_step=0.25, tolerance=1e-7, iterations=60, largest_move_mm=20.0)).state
        before = size
        u = (state.x[tip] - mesh.points[tip]) / length
        for name, target, ours in (("shortening", shortening, -u[0]),
                                   ("deflection", deflection, u[1])):
            rows.append(Row(
                f"{name} / L at P L2/EI = {size}", target, ours,
                "Bisshopp & Drucker 1945, Mattiasson 1981; elliptic integrals (5.15)", "computed",
                0.01, "references 5.15; L/h = 50, where shear and stretch are below 0.1 %",
                count(mesh)))
    return rows


def homogeneous_modes():
    """Uniaxial, equibiaxial and plane-strain tension and simple shear of a block."""
    rows, nu = [], 0.49995
    why = "homogeneous (references 5.16); the law is compressible with nu 0.49995"
    cube = grid(*[np.linspace(0, 1, 2)] * 3)
    square = grid(*[np.linspace(0, 1, 3)] * 2)
    cases = (("uniaxial", cube, 1, 1.5, lambda s: s - s**-2),
             ("equibiaxial", cube, 2, 1.3, lambda s: s - s**-5),
             ("plane strain", square, 1, 1.5, lambda s: s - s**-3))
    for name, mesh, pulled, stretch, formula in cases:
        dim = mesh.dim
        system = model(mesh, rubber(nu))
        fixed = held(dim, *[(mesh.nodes[f"{a}0"], i, 0) for i, a in enumerate("xyz"[:dim])])

        def path(t, mesh=mesh, fixed=fixed, dim=dim, pulled=pulled, stretch=stretch):
            ends = [(mesh.nodes[f"{a}1"], i, t * (stretch - 1))
                    for i, a in enumerate("xyz"[:pulled])]
            return Load(held=fixed | held(dim, *ends))

        solution = solve(system, path, settings=Settings(first_step=0.1, tolerance=1e-7))
        ours = solution.evaluation.residual[mesh.nodes["x1"] * dim].sum()
        rows.append(Row(f"nominal stress / mu, {name}, stretch {stretch}", formula(stretch), ours,
                        "Neo-Hookean, incompressible (5.16)", "recalled", 0.001, why, count(mesh)))
    shear = 0.6
    system = model(square, rubber(nu))
    rim = np.unique(np.concatenate(list(square.nodes.values())))
    solution = solve(system, lambda t: Load(held=held(
        2, (rim, 0, t * shear * square.points[rim, 1]), (rim, 1, 0))),
        settings=Settings(first_step=0.1, tolerance=1e-7))
    stress = system.solids[0].stress(solution.state.x)[0].mean((0, 1))
    for name, target, ours in (("s12", shear, stress[0, 1]),
                               ("s11 - s22", shear**2, stress[0, 0] - stress[1, 1])):
        rows.append(Row(f"{name} / mu, simple shear {shear}", target, ours,
                        "Neo-Hookean, incompressible (5.16)", "recalled", 0.001, why,
                        count(square)))
    return rows


def tube_pressure(stretch):
    """Return p/mu of an incompressible tube, A 1, B 2, at the inner stretch (5.17)."""
    outer2 = 1 + (stretch**2 - 1) / 4
    return np.log(stretch / np.sqrt(outer2)) + 0.5 * (1 / outer2 - 1 / stretch**2)


def tube():
    """Neo-Hookean tube, nearly incompressible, inflated in plane strain."""
    mesh = ring(1.0, 2.0, 10, 8)
    system = model(mesh, rubber(), degree=4, pressures=[Pressure(mesh.facets["y0"], 1.0)])
    fixed = held(2, (mesh.nodes["x0"], 0, 0), (mesh.nodes["x1"], 1, 0))
    inner = nearest(mesh.points, 1, 0)
    rows, state, before = [], None, 0.0
    for pressure in (0.23337, 0.42823, 0.57405):
        def path(t, pressure=pressure, before=before):
            return Load(pressure=before + t * (pressure - before), held=fixed)

        state = solve(system, path, state=state,
                      settings=Settings(first_step=0.25, tolerance=1e-7)).state
        before = pressure
        stretch = state.x[inner, 0]
        rows.append(Row(
            f"p/mu at inner stretch {stretch:.4f}", tube_pressure(stretch), pressure,
            "p = mu[ln(la/lb) + (1/lb2 - 1/la2)/2] (5.17)", "computed", 0.01,
            f"references 5.17; nu {NU}", count(mesh)))
    return rows


def sphere_pressure(stretch):
    """Return p/mu of an incompressible sphere, A 1, B 2, at the inner stretch (5.18)."""
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
                "Lame: p a3/(E(b3-a3))[(1-2nu)a + (1+nu)b3/(2a2)] (5.8)", "computed", 0.005,
                "references 5.8", count(mesh))]


def sphere():
    """Neo-Hookean sphere, nearly incompressible, an eighth of it inflated."""
    mesh = octant(6, np.linspace(1, 2, 6))
    system = model(mesh, rubber(), degree=4, pressures=[Pressure(mesh.facets["z0"], 1.0)])
    fixed = held(3, *[(mesh.nodes[f"p{i}"], i, 0) for i in range(3)])
    inner = mesh.nodes["z0"]
    rows, state, before = [], None, 0.0
    for pressure in (0.48016, 0.75543):
        def path(t, pressure=pressure, before=before):
            return Load(pressure=before + t * (pressure - before), held=fixed)

        state = solve(system, path, state=state,
                      settings=Settings(first_step=0.25, tolerance=1e-6)).state
        before = pressure
        stretch = np.linalg.norm(state.x[inner], axis=1).mean()
        rows.append(Row(
            f"p/mu at mean inner stretch {stretch:.4f}", sphere_pressure(stretch), pressure,
            "Green & Zerna: p = mu/2[4/lb + 1/lb4 - 4/la - 1/la4] (5.18)", "computed", 0.01,
            f"references 5.18; nu {NU}", count(mesh)))
    return rows


FINITE = {
    "elastica": Benchmark("Large-deflection cantilever", elastica),
    "homogeneous_modes": Benchmark("Neo-Hookean block, homogeneous modes", homogeneous_modes),
    "tube": Benchmark("Neo-Hookean tube inflation", tube),
    "lame_sphere": Benchmark("Lame, thick sphere", lame_sphere),
    "sphere": Benchmark("Neo-Hookean sphere inflation", sphere),
}

"""Small-strain plane and solid problems with known answers."""

from __future__ import annotations

import numpy as np

from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.pressure import Pressure
from fefoot.mechanics.system import Load

from .record import Benchmark, Row
from .shapes import (
    count,
    grid,
    held,
    law,
    model,
    nearest,
    plane_stress,
    stress_at,
    traction_forces,
)

# loads are scaled so that strains and rotations are about 1e-4: far below every tolerance here, far
# above round-off
SETTINGS = Settings(tolerance=1e-6)
COOK = "Cook RD (1974) J Struct Div ASCE 100:1851-1863; "


def cook_mesh(cells):
    """Return Cook's tapered panel, cells by cells."""
    def place(p):
        x, t = 48 * p[:, 0], p[:, 1]
        return np.column_stack([x, 44 * p[:, 0] + t * (44 - 28 * p[:, 0])])

    line = np.linspace(0, 1, cells + 1)
    return grid(line, line, place=place)


def cook(constants, traction, cells=32, size=1e-4):
    """Solve Cook's membrane under a uniform shear on its right edge; return mesh and u / load."""
    small = size * constants["E_MPa"] / (16 * traction)

    mesh = cook_mesh(cells)
    system = model(mesh, law("linear_elastic", **constants))
    force = traction_forces(mesh.points, mesh.facets["x1"],
                            lambda x, n: np.array([0.0, traction * small]))
    root = mesh.nodes["x0"]
    load = Load(node_force_N=force, held=held(2, (root, 0, 0), (root, 1, 0)))
    solution = solve(system, lambda t: load, settings=SETTINGS)
    return mesh, (solution.state.x - mesh.points) / small


def cook_plane_stress():
    """Cook's membrane in plane stress."""
    mesh, u = cook(plane_stress(1.0, 1 / 3), 1 / 16)
    fine = "fine mesh of good elements (common practice, no source)"
    return [
        Row("u_y(48, 52) [mm]", 23.965, u[nearest(mesh.points, 48, 52), 1],
            COOK + "mid-point, 64x64 Q9; 23.96 is the published value", "computed", 0.005,
            fine, count(mesh)),
        Row("u_y(48, 60) [mm]", 25.16, u[nearest(mesh.points, 48, 60), 1],
            COOK + "corner, 64x64 Q9, still rising 0.03", "computed", 0.005, fine,
            count(mesh)),
    ]


def cook_plane_strain():
    """Cook's membrane in plane strain, compressible and nearly incompressible."""
    mesh, u = cook(dict(E_MPa=70.0, nu=1 / 3), 6.25)
    row = Row("u_y(48, 60), nu 1/3 [mm]", 32.26, u[nearest(mesh.points, 48, 60), 1],
              COOK + "three codes 32.2-32.28", "read", 0.01, "spread of the three codes",
              count(mesh))
    mesh, u = cook(dict(E_MPa=240.565, nu=0.4999), 6.25, cells=16, size=1e-3)
    return [row, Row(
        "u_y(48, 52), nu 0.4999 [mm]", 7.67, u[nearest(mesh.points, 48, 52), 1],
        COOK + "64x64 Q9, not fully converged", "computed", 0.03,
        "the reference itself is not converged; linear elements are out by a factor of two",
        count(mesh))]


def ellipses(p):
    """Map (1 - angle / 90 degrees, 0 inside to 1 outside) to the plan of NAFEMS LE1 and LE10."""
    angle, t = (1 - p[:, 0]) * np.pi / 2, p[:, 1]
    inner = np.column_stack([2 * np.cos(angle), np.sin(angle)])
    outer = np.column_stack([3.25 * np.cos(angle), 2.75 * np.sin(angle)])
    return inner + t[:, None] * (outer - inner)


def nafems_membrane():
    """NAFEMS LE1: elliptic membrane."""
    small = 0.1
    mesh = grid(np.linspace(0, 1, 25), np.linspace(0, 1, 13), place=ellipses)
    response = law("linear_elastic", **plane_stress(210e3, 0.3))
    system = model(mesh, response, degree=4,
                   pressures=[Pressure(mesh.facets["y1"], -10 * small)])
    load = Load(held=held(2, (mesh.nodes["x0"], 0, 0), (mesh.nodes["x1"], 1, 0)))
    state = solve(system, lambda t: load, settings=SETTINGS).state
    stress = stress_at(mesh, state.x, response, nearest(mesh.points, 2, 0))
    return [Row("sigma_yy(2, 0) [MPa]", 92.7, stress[1, 1] / small, "NAFEMS LE1", "read",
                0.02, "published codes with quadratic elements lie within 3.5 %", count(mesh))]


def nafems_plate():
    """NAFEMS LE10: thick elliptic plate under pressure."""
    small = 0.1
    def place(p):
        return np.column_stack([ellipses(p), 0.6 * p[:, 2]])

    mesh = grid(1 - np.linspace(1, 0, 21) ** 1.5, np.linspace(0, 1, 9) ** 2,
                0.5 + 0.5 * np.sin(np.pi * np.linspace(-0.5, 0.5, 7)), place=place)
    response = law("linear_elastic", E_MPa=210e3, nu=0.3)
    system = model(mesh, response, degree=4)
    push = traction_forces(mesh.points, mesh.facets["z1"], lambda x, n: -small * n)
    rim = mesh.nodes["y1"]
    middle = rim[np.abs(mesh.points[rim, 2] - 0.3) < 1e-9]
    load = Load(node_force_N=push, held=held(
        3, (mesh.nodes["x0"], 0, 0), (mesh.nodes["x1"], 1, 0), (rim, 0, 0), (rim, 1, 0),
        (middle, 2, 0)))
    state = solve(system, lambda t: load, settings=SETTINGS).state
    stress = stress_at(mesh, state.x, response, nearest(mesh.points, 2, 0, 0.6))
    return [Row("sigma_yy(2, 0, 0.6) [MPa]", -5.38, stress[1, 1] / small, "NAFEMS LE10",
                "read", 0.03, "common practice, no source: 2-3 % with quadratic elements", count(mesh))]


def ring(inner, outer, around, through, ratio=1.0):
    """Return a quarter ring; sides x0 (on x = 0), x1 (on y = 0), y0 (inside), y1 (outside)."""
    def place(p):
        angle, r = (1 - p[:, 0]) * np.pi / 2, p[:, 1]
        return np.column_stack([r * np.cos(angle), r * np.sin(angle)])

    radii = inner + (outer - inner) * np.linspace(0, 1, through + 1)
    if ratio != 1.0:
        radii = inner * (outer / inner) ** np.linspace(0, 1, through + 1)
    return grid(np.linspace(0, 1, around + 1), radii, place=place)


def lame_cylinder():
    """Thick cylinder under internal pressure."""
    small = 0.1
    rows = []
    for nu, target in ((0.3, 1.90667e-3), (0.4999, 2.0e-3)):
        mesh = ring(1.0, 2.0, 12, 10)
        response = law("linear_elastic", E_MPa=1000.0, nu=nu)
        system = model(mesh, response, degree=4,
                       pressures=[Pressure(mesh.facets["y0"], small)])
        load = Load(held=held(2, (mesh.nodes["x0"], 0, 0), (mesh.nodes["x1"], 1, 0)))
        state = solve(system, lambda t, load=load: load, settings=SETTINGS).state
        node = nearest(mesh.points, 1, 0)
        source = "Lame: u(a) = (1+nu)/E p a2/(b2-a2) [(1-2nu)a + b2/a]"
        rows.append(Row(f"u(a), nu {nu} [mm]", target, (state.x[node, 0] - 1.0) / small, source,
                        "computed", 0.005, "common practice, no source", count(mesh)))
        if nu == 0.3:
            stress = stress_at(mesh, state.x, response, node)[1, 1] / small
            rows.append(Row("hoop stress at a [MPa]", 5 / 3, stress,
                            "Lame: p(a2+b2)/(b2-a2)", "computed", 0.01, "common practice, no source",
                            count(mesh)))
    return rows


def timoshenko(along=16, across=4, small=0.1):
    """Solve the cantilever under parabolic end shear; return mesh, displacement, exact field."""
    P, E, nu, D, L = 1000.0, 3e7, 0.3, 12.0, 48.0
    inertia = D**3 / 12

    def exact(p):
        x, y = p[:, 0], p[:, 1]
        ux = P * y / (6 * E * inertia) * ((6 * L - 3 * x) * x + (2 + nu) * (y**2 - D**2 / 4))
        uy = -P / (6 * E * inertia) * (
            3 * nu * y**2 * (L - x) + (4 + 5 * nu) * D**2 * x / 4 + (3 * L - x) * x**2)
        return np.column_stack([ux, uy])

    mesh = grid(np.linspace(0, L, along + 1), np.linspace(-D / 2, D / 2, across + 1))
    system = model(mesh, law("linear_elastic", **plane_stress(E, nu)))

    def shear(x, n):
        return np.column_stack(
            [np.zeros(len(x)), -P / (2 * inertia) * (D**2 / 4 - x[:, 1] ** 2)]) * small

    root = mesh.nodes["x0"]
    given = exact(mesh.points[root]) * small
    load = Load(node_force_N=traction_forces(mesh.points, mesh.facets["x1"], shear),
                held=held(2, (root, 0, given[:, 0]), (root, 1, given[:, 1])))
    state = solve(system, lambda t: load, settings=SETTINGS).state
    return mesh, (state.x - mesh.points) / small, exact(mesh.points)


def timoshenko_cantilever():
    """Cantilever of Timoshenko and Goodier."""
    mesh, u, _ = timoshenko()
    return [Row("tip deflection [mm]", 0.0089, -u[nearest(mesh.points, 48, 0), 1],
                "Timoshenko & Goodier: P/(6EI)[(4+5nu)D2L/4 + 2L3]", "computed", 0.01,
                "common practice, no source", count(mesh))]


def kirsch():
    """Plate with a hole: the exact tractions are put on a circle of five radii."""
    small = 1e-4
    def traction(x, n):
        r2 = (x**2).sum(1)
        angle = np.arctan2(x[:, 1], x[:, 0])
        c2, s2 = np.cos(2 * angle), np.sin(2 * angle)
        rr = 0.5 * (1 - 1 / r2) + 0.5 * (1 - 4 / r2 + 3 / r2**2) * c2
        rt = -0.5 * (1 + 2 / r2 - 3 / r2**2) * s2
        er = np.column_stack([np.cos(angle), np.sin(angle)])
        et = np.column_stack([-np.sin(angle), np.cos(angle)])
        return small * (rr[:, None] * er + rt[:, None] * et)

    mesh = ring(1.0, 5.0, 24, 16, ratio=2.0)
    response = law("linear_elastic", **plane_stress(1.0, 0.3))
    system = model(mesh, response, degree=4)
    load = Load(node_force_N=traction_forces(mesh.points, mesh.facets["y1"], traction),
                held=held(2, (mesh.nodes["x0"], 0, 0), (mesh.nodes["x1"], 1, 0)))
    state = solve(system, lambda t: load, settings=SETTINGS).state
    top = stress_at(mesh, state.x, response, nearest(mesh.points, 0, 1))[0, 0] / small
    side = stress_at(mesh, state.x, response, nearest(mesh.points, 1, 0))[1, 1] / small
    source = "Kirsch: s/2[1+a2/r2] - s/2[1+3a4/r4]cos 2th"
    return [
        Row("hoop stress at 90 deg / far stress", 3.0, top, source, "recalled", 0.02,
            "common practice, no source", count(mesh)),
        Row("hoop stress at 0 deg / far stress", -1.0, side, source, "recalled", 0.02,
            "common practice, no source", count(mesh)),
    ]


ELASTIC = {
    "cook_plane_stress": Benchmark("Cook's membrane, plane stress", cook_plane_stress),
    "cook_plane_strain": Benchmark("Cook's membrane, plane strain", cook_plane_strain),
    "nafems_membrane": Benchmark("NAFEMS LE1, elliptic membrane", nafems_membrane),
    "nafems_plate": Benchmark("NAFEMS LE10, thick plate", nafems_plate, slow=True),
    "lame_cylinder": Benchmark("Lame, thick cylinder", lame_cylinder),
    "timoshenko_cantilever": Benchmark("Timoshenko and Goodier, cantilever",
                                       timoshenko_cantilever),
    "kirsch": Benchmark("Kirsch, hole in a plate", kirsch),
}

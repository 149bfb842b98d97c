"""The slender beams of MacNeal and Harder, in quadratic tetrahedra."""

from __future__ import annotations

import numpy as np

from fefoot.mechanics.newton import solve
from fefoot.mechanics.system import Load

from .elastic import SETTINGS
from .record import Benchmark, Row
from .shapes import count, grid, held, law, model, traction_forces

SOURCE = "MacNeal & Harder 1985, Finite Elem Anal Des 1:3-20"
WHY = "2 % is grade A of MacNeal & Harder 1985"


def tip(mesh, constants, direction, small, area):
    """Clamp side x0, put a unit force on side x1; return the mean tip displacement along it, mm."""
    system = model(mesh, law("linear_elastic", **constants))
    root, end = mesh.nodes["x0"], mesh.nodes["x1"]
    direction = np.asarray(direction, float)
    force = traction_forces(mesh.points, mesh.facets["x1"], lambda x, n: small * direction / area)
    load = Load(node_force_N=force, held=held(3, *[(root, axis, 0) for axis in range(3)]))
    state = solve(system, lambda t: load, settings=SETTINGS).state
    return float(((state.x - mesh.points)[end] @ direction).mean() / small)


def rows(mesh, constants, cases, small, area):
    """Return a row for each (name, direction, published tip displacement)."""
    return [Row(f"tip displacement, {name} [mm]", target,
                tip(mesh, constants, direction, small, area), SOURCE, "recalled", 0.02, WHY,
                count(mesh)) for name, direction, target in cases]


def straight():
    """Six long, 0.2 deep, 0.1 wide."""
    mesh = grid(np.linspace(0, 6, 25), np.linspace(0, 0.2, 3), np.linspace(0, 0.1, 2))
    return rows(mesh, dict(E_MPa=1e7, nu=0.3), (
        ("straight, in plane", (0, 1, 0), 0.1081), ("straight, out of plane", (0, 0, 1), 0.4321)),
        1e-3, 0.02)


def curved():
    """A quarter circle of radii 4.12 and 4.32, 0.1 thick; the in-plane force is radial."""
    def place(p):
        angle, r = p[:, 0], 4.12 + p[:, 1]
        return np.column_stack([r * np.sin(angle), r * np.cos(angle), p[:, 2]])

    mesh = grid(np.linspace(0, np.pi / 2, 33), np.linspace(0, 0.2, 5), np.linspace(0, 0.1, 3),
                place=place)
    return rows(mesh, dict(E_MPa=1e7, nu=0.25), (
        ("curved, in plane", (1, 0, 0), 0.08734), ("curved, out of plane", (0, 0, 1), 0.5022)),
        1e-3, 0.02)


def twisted():
    """Twelve long, 1.1 by 0.32, twisted by 90 degrees from root to tip."""
    def place(p):
        angle = np.pi / 2 * p[:, 0] / 12
        return np.column_stack([
            p[:, 0], p[:, 1] * np.cos(angle) - p[:, 2] * np.sin(angle),
            p[:, 1] * np.sin(angle) + p[:, 2] * np.cos(angle)])

    mesh = grid(np.linspace(0, 12, 25), np.linspace(-0.55, 0.55, 5), np.linspace(-0.16, 0.16, 2),
                place=place)
    return rows(mesh, dict(E_MPa=29e6, nu=0.22), (
        ("twisted, along the width of the tip", (0, 0, 1), 0.005424),
        ("twisted, along the thickness of the tip", (0, 1, 0), 0.001754)), 1e-2, 1.1 * 0.32)


BEAMS = {
    "straight": Benchmark("MacNeal and Harder, straight beam", straight),
    "curved": Benchmark("MacNeal and Harder, curved beam", curved),
    "twisted": Benchmark("MacNeal and Harder, twisted beam", twisted),
}

"""NAFEMS LE11: a solid of cylinder, taper and sphere under a temperature field."""

from __future__ import annotations

import numpy as np

from fefoot.mechanics.newton import solve
from fefoot.mechanics.system import Load

from .elastic import SETTINGS
from .record import Benchmark, Row
from .shapes import count, grid, held, law, model, nearest, stress_at

EXPANSION_per_K = 2.3e-4


def heated(**constants):
    """Return the Saint Venant-Kirchhoff response to C less the thermal strain.

    The temperature of each point comes in place of a fibre direction (3, n), all three entries
    alike. The law is linear in the Green strain E = (C - 1)/2, so that S = D (E - alpha T 1).
    """
    cold = law("linear_elastic", **constants)

    def response(C, fibre=None, tangent=True):
        free = np.array(C)
        free[:3] -= 2 * EXPANSION_per_K * fibre[0]
        return cold(free, tangent=tangent)

    return response


def profile(s, t):
    """Return (r, z) of the section: s from 0 (z = 0) to 4 (z = 1.79), t from inside to outside.

    Inside a sphere of radius 1 up to 45 degrees, then a bore; outside a sphere of radius 1.4 up to
    30 degrees, then a cone to (1.0, 1.39) and a cylinder.
    """
    half = np.sqrt(0.5)
    angle = np.pi / 8 * np.clip(s, 0, 2)
    rise = half + (1.79 - half) * np.clip(s - 2, 0, 2) / 2
    inner = np.column_stack([np.where(s <= 2, np.cos(angle), half),
                             np.where(s <= 2, np.sin(angle), rise)])
    ball = np.pi / 6 * np.clip(s, 0, 1)
    start, end = np.array([1.4 * np.cos(np.pi / 6), 0.7]), np.array([1.0, 1.39])
    cone = start + np.clip(s - 1, 0, 2)[:, None] / 2 * (end - start)
    top = np.column_stack([np.ones(len(s)), 1.39 + 0.4 * np.clip(s - 3, 0, 1)])
    outer = np.where((s <= 1)[:, None], 1.4 * np.column_stack([np.cos(ball), np.sin(ball)]),
                     np.where((s <= 3)[:, None], cone, top))
    return inner + t[:, None] * (outer - inner)


def nafems_thermal(small=1e-2):
    """Solve a quarter of the solid, held along z at both ends; the temperature is sqrt(x2+y2) + z."""
    def place(p):
        rz = profile(p[:, 2], p[:, 0])
        return np.column_stack([rz[:, 0] * np.cos(p[:, 1]), rz[:, 0] * np.sin(p[:, 1]), rz[:, 1]])

    along = np.concatenate([2 * np.linspace(0, 1, 9) ** 1.5, 2 + np.linspace(0, 2, 5)[1:]])
    along[np.argmin(np.abs(along - 1))] = 1.0
    along = np.unique(np.append(along, 3.0))
    mesh = grid(np.linspace(0, 1, 7) ** 1.5, np.linspace(0, np.pi / 2, 9), along, place=place)
    response = heated(E_MPa=210e3, nu=0.3)

    def temperature(where):
        T = small * (np.hypot(where[..., 0], where[..., 1]) + where[..., 2])
        return np.repeat(T[..., None], 3, axis=-1)

    system = model(mesh, response, degree=4, fibre=temperature)
    ends = np.concatenate([mesh.nodes["z0"], mesh.nodes["z1"]])
    load = Load(held=held(3, (mesh.nodes["y0"], 1, 0), (mesh.nodes["y1"], 0, 0), (ends, 2, 0)))
    state = solve(system, lambda t: load, settings=SETTINGS).state
    stress = stress_at(mesh, state.x, response, nearest(mesh.points, 1, 0, 0),
                       fibre=np.full((3, 1), small))
    return [Row("sigma_zz at A(1, 0, 0) [MPa]", -105.0, stress[2, 2] / small,
                "NAFEMS LE11; key points of the section as in a public model of it (read)",
                "read", 0.05, "common practice, no source: 5-6 %, published codes with quadratic "
                "elements", count(mesh))]


THERMAL = {
    "nafems_thermal": Benchmark("NAFEMS LE11, cylinder, taper and sphere", nafems_thermal),
}

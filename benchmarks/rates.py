"""Observed rates of convergence of the elements on smooth exact fields."""

from __future__ import annotations

import numpy as np

from fefoot.mechanics.element import quadrature, shape
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.system import Load

from .record import Benchmark, Row
from .shapes import count, grid, held, law, model

SIZE = 1e-7


def exact(p):
    """Return the displacement grad(phi) (n, d) and its gradient (n, d, d), phi harmonic.

    phi = e^x cos y in the plane, sin x sin y e^(sqrt2 z) in space; grad(phi) has no divergence and
    is harmonic, so that it satisfies Navier's equations without body force.
    """
    if p.shape[1] == 2:
        x, y = p.T
        e, c, s = np.exp(x), np.cos(y), np.sin(y)
        u = np.stack([e * c, -e * s], 1)
        H = np.stack([np.stack([e * c, -e * s], 1), np.stack([-e * s, -e * c], 1)], 1)
        return SIZE * u, SIZE * H
    k = np.sqrt(2.0)
    x, y, z = p.T
    e, sx, cx, sy, cy = np.exp(k * z), np.sin(x), np.cos(x), np.sin(y), np.cos(y)
    u = np.stack([cx * sy * e, sx * cy * e, k * sx * sy * e], 1)
    H = np.empty((len(p), 3, 3))
    H[:, 0, 0], H[:, 1, 1], H[:, 2, 2] = -sx * sy * e, -sx * sy * e, 2 * sx * sy * e
    H[:, 0, 1] = H[:, 1, 0] = cx * cy * e
    H[:, 0, 2] = H[:, 2, 0] = k * cx * sy * e
    H[:, 1, 2] = H[:, 2, 1] = k * sx * cy * e
    return SIZE * u, SIZE * H


def errors(dim, cells):
    """Return relative errors in L2 and in the gradient, with the boundary held at the exact field."""
    mesh = grid(*[np.linspace(0, 1, cells + 1)] * dim)
    system = model(mesh, law("linear_elastic", E_MPa=1.0, nu=0.3))
    rim = np.unique(np.concatenate(list(mesh.nodes.values())))
    given = exact(mesh.points[rim])[0]
    load = Load(held=held(dim, *[(rim, i, given[:, i]) for i in range(dim)]))
    state = solve(system, lambda t: load, settings=Settings(tolerance=1e-7)).state
    where, weights = quadrature(dim + 1, 6)
    N, G = shape(dim + 1, where)
    corner = mesh.points[mesh.cells]
    u = (state.x - mesh.points)[mesh.cells]
    J = np.einsum("mai,qaj->mqij", corner, G)
    weight = (weights * np.linalg.det(J)).ravel()
    slope = np.einsum("qaj,mqjk->mqak", G, np.linalg.inv(J))
    u, H = np.einsum("qa,mai->mqi", N, u), np.einsum("mai,mqaj->mqij", u, slope)
    target = exact(np.einsum("qa,mai->mqi", N, corner).reshape(-1, dim))
    out = []
    for ours, theirs in zip((u.reshape(-1, dim), H.reshape(-1, dim, dim)), target, strict=True):
        axes = tuple(range(1, ours.ndim))
        out.append(np.sqrt(weight @ ((ours - theirs) ** 2).sum(axes)
                           / (weight @ (theirs**2).sum(axes))))
    return np.array(out), count(mesh)


def rates(dim, sizes):
    """Return the rows of the rates between the two finest meshes."""
    found = [errors(dim, n) for n in sizes]
    rate = np.log(found[-2][0] / found[-1][0]) / np.log(sizes[-1] / sizes[-2])
    kind = "triangles" if dim == 2 else "tetrahedra"
    source = f"theory: order {{}} for quadratic elements on a smooth field; sizes 1/{sizes}"
    why = "asymptotic; nonlinear terms of 1e-7 stay below the errors"
    return [Row(f"rate of the {name}, quadratic {kind}", order, rate[i], source.format(order),
                "computed", 0.07, why, found[-1][1])
            for i, (name, order) in enumerate((("L2 error", 3.0), ("error of the gradient", 2.0)))]


RATES = {
    "rate_triangles": Benchmark("Observed rate, quadratic triangles",
                                lambda: rates(2, (4, 8, 16))),
    "rate_tetrahedra": Benchmark("Observed rate, quadratic tetrahedra",
                                 lambda: rates(3, (2, 4, 8))),
}

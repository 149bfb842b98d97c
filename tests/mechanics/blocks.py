"""Meshes and laws that the mechanics tests share."""

from __future__ import annotations

import numpy as np

from fefoot.mechanics.mesh import Mesh, boundary_facets, quadratic


def block(counts, lengths, origin=None, jitter=0.0, seed=0, prefix="") -> Mesh:
    """A rectangle or box of quadratic simplices with its sides named x0, x1, y0, y1 (z0, z1)."""
    import skfem

    dim = len(counts)
    axes = [np.linspace(0, l, n + 1) for n, l in zip(counts, lengths, strict=True)]
    kind = skfem.MeshTri if dim == 2 else skfem.MeshTet
    mesh = kind.init_tensor(*axes)
    points = mesh.p.T.copy()
    inner = np.all((points > 1e-9) & (points < np.array(lengths) - 1e-9), axis=1)
    step = jitter * np.array(lengths) / np.array(counts)
    points[inner] += np.random.default_rng(seed).uniform(-1, 1, (inner.sum(), dim)) * step
    start = np.zeros(dim) if origin is None else np.array(origin, float)
    points, cells = quadratic(points, mesh.t.T)
    facets, _ = boundary_facets(cells)
    middle = points[facets[:, :dim]].mean(1)
    sides = {}
    for i, axis in enumerate("xyz"[:dim]):
        for end, value in ((0, 0.0), (1, lengths[i])):
            sides[f"{prefix}{axis}{end}"] = facets[np.abs(middle[:, i] - value) < 1e-9]
    return Mesh(points + start, cells, np.zeros(len(cells), int), facets=sides)


def law(name, **constants):
    """The response of one law with fixed constants."""
    from fefoot.material.laws import LAWS

    def response(C, fibre=None, tangent=True):
        return LAWS[name].response(C, constants, fibre, tangent)

    return response

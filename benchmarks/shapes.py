"""Meshes and models that the benchmarks share."""

from __future__ import annotations

import numpy as np

from fefoot.material.laws import LAWS
from fefoot.mechanics.element import facet_shape, quadrature, shape
from fefoot.mechanics.mesh import Mesh, boundary_facets, quadratic
from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.surface import area_normal
from fefoot.mechanics.system import System


def law(name, **constants):
    """Return the response of one law with fixed constants."""
    def response(C, fibre=None, tangent=True):
        return LAWS[name].response(C, constants, fibre, tangent)

    return response


def plane_stress(E_MPa, nu):
    """Return the plane-strain constants whose in-plane behaviour is plane stress of (E, nu).

    nu' = nu / (1 + nu), E' = E (1 - nu'^2).
    """
    other = nu / (1 + nu)
    return dict(E_MPa=E_MPa * (1 - other**2), nu=other)


def graded(first, last, ratio, fine=None):
    """Return coordinates from 0 to ``last``: steps ``first`` up to ``fine``, then growing."""
    at, step = [0.0], first
    while at[-1] < last:
        if fine is None or at[-1] >= fine - 1e-9:
            step *= ratio
        at.append(at[-1] + step)
    return np.array(at) * (last / at[-1]) if fine is None else np.array([*at[:-1], last])


def grid(*axes, place=None, prefix="") -> Mesh:
    """Return a structured mesh over the product of ``axes``, moved by ``place`` (n, d) -> (n, d).

    Sides are named x0, x1, y0, y1 (z0, z1), each a facet set and a node set; all nodes are moved,
    so that curved sides are quadratic.
    """
    import skfem

    dim = len(axes)
    kind = skfem.MeshTri if dim == 2 else skfem.MeshTet
    mesh = kind.init_tensor(*axes)
    points, cells = quadratic(mesh.p.T, mesh.t.T)
    return sided(points, cells, [(a[0], a[-1]) for a in axes], place, prefix)


def extruded(flat, triangles, levels, place=None, prefix="") -> Mesh:
    """Return tetrahedra over ``levels`` (k,) copies of a triangulation ``flat`` (n, 2).

    Every prism is cut along the diagonals from the lowest vertex numbers, so that neighbours fit.
    The sides z0 and z1 are the first and the last level.
    """
    n = len(flat)
    i, j, k = np.sort(triangles, axis=1).T
    one = np.concatenate([
        np.stack([i, j, k, k + n], 1), np.stack([i, j, j + n, k + n], 1),
        np.stack([i, i + n, j + n, k + n], 1)])
    corners = np.concatenate([one + n * level for level in range(len(levels) - 1)])
    points = np.concatenate([np.column_stack([flat, np.full(n, z)]) for z in levels])
    points, cells = quadratic(points, corners)
    low, high = points.min(0), points.max(0)
    return sided(points, cells, list(zip(low, high, strict=True)), place, prefix)


def sided(points, cells, limits, place, prefix) -> Mesh:
    """Name the sides of a mesh by the limits of its parameters, then move its points."""
    dim = points.shape[1]
    facets, _ = boundary_facets(cells)
    sides, nodes = {}, {}
    for i, axis in enumerate("xyz"[:dim]):
        for end, value in enumerate(limits[i]):
            span = limits[i][1] - limits[i][0]
            on = np.abs(points[:, i] - value) < 1e-9 * max(span, 1.0)
            sides[f"{prefix}{axis}{end}"] = facets[on[facets[:, :dim]].all(1)]
            nodes[f"{prefix}{axis}{end}"] = np.flatnonzero(on)
    if place is not None:
        points = place(points)
    return Mesh(points, cells, np.zeros(len(cells), int), facets=sides, nodes=nodes)


def free_nodes(points) -> Coordinates:
    """Return coordinates in which no node rides on a body."""
    return Coordinates(points, np.full(len(points), -1), np.zeros((0, points.shape[1])))


def model(mesh, response, *, degree=2, fibre=None, **terms) -> System:
    """Return a system of one solid whose nodes are all free."""
    solid = Solid(mesh.points, mesh.cells, response, degree=degree, fibre=fibre)
    return System(free_nodes(mesh.points), solids=[solid], **terms)


def climb(system, levels, load, **settings):
    """Yield (level, solution): ``load(level)`` put on from each level to the next."""
    state, before = None, 0.0
    for level in levels:
        solution = solve(system, lambda t, a=before, b=level: load(a + t * (b - a)), state=state,
                         settings=Settings(**settings))
        state, before = solution.state, level
        yield level, solution


def held(dim, *parts):
    """Return prescribed unknowns of free nodes from (nodes, axis, value or values)."""
    out = {}
    for nodes, axis, value in parts:
        values = np.broadcast_to(np.asarray(value, float), len(nodes))
        out |= {int(n) * dim + axis: float(v) for n, v in zip(nodes, values, strict=True)}
    return out


def traction_forces(points, facets, traction):
    """Return node forces (n, d) of a dead traction(x, normal) (k, d) MPa on reference facets."""
    d = points.shape[1]
    where, weight = quadrature(d, 6)
    N, G, _ = facet_shape(where)
    place = np.einsum("qa,kai->kqi", N, points[facets])
    normal = area_normal(
        np.einsum("qaj,kai->kqij", G, points[facets]).reshape(-1, d, d - 1))
    size = np.linalg.norm(normal, axis=1)
    load = traction(place.reshape(-1, d), normal / size[:, None])
    load = np.broadcast_to(load, (len(size), d)) * size[:, None]
    share = np.einsum("q,qa,kqi->kai", weight, N, load.reshape(len(facets), -1, d))
    out = np.zeros_like(points)
    np.add.at(out, facets.ravel(), share.reshape(-1, d))
    return out


def stress_at(mesh, x, response, node, **given):
    """Return the Cauchy stress (3, 3) MPa at a node, averaged over the cells that meet there."""
    d = mesh.dim
    cells = mesh.cells[(mesh.cells == node).any(1)]
    corner = np.vstack([np.zeros(d), np.eye(d)])
    edges = [[0, 1], [1, 2], [2, 0]] if d == 2 else [
        [0, 1], [1, 2], [2, 0], [0, 3], [1, 3], [2, 3]]
    where = np.vstack([corner, corner[edges].mean(1)])
    total = np.zeros((3, 3))
    for cell in cells:
        _, slope = shape(d + 1, where[cell == node])
        G = slope[0] @ np.linalg.inv(mesh.points[cell].T @ slope[0])
        F = np.eye(3)
        F[:d, :d] = x[cell].T @ G
        C = F.T @ F
        six = np.array([C[0, 0], C[1, 1], C[2, 2], C[0, 1], C[1, 2], C[0, 2]])
        _, S, _ = response(six[:, None], tangent=False, **given)
        s = S[:, 0]
        S = np.array([[s[0], s[3], s[5]], [s[3], s[1], s[4]], [s[5], s[4], s[2]]])
        total += F @ S @ F.T / np.linalg.det(F)
    return total / len(cells)


def nearest(points, *target):
    """Return the node at a place."""
    distance = np.linalg.norm(points - np.array(target), axis=1)
    node = int(np.argmin(distance))
    if distance[node] > 1e-6 * max(1.0, np.abs(target).max()):
        raise ValueError(f"no node at {target}")
    return node


def count(mesh):
    """Return a mesh's size in words."""
    return f"{len(mesh.cells)} P2 {'triangles' if mesh.dim == 2 else 'tetrahedra'}"

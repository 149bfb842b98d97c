"""Quadratic surfaces: neighbours, normals, and the ray from a point to a surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .element import facet_shape

INSIDE = 1e-9
# How far beside a facet, in its parameters, a ray past an edge may meet its continuation.
CORNER = 0.5
HOPS = 8


def neighbours(facets: np.ndarray, dim: int) -> np.ndarray:
    """Return the facet across each side (k, dim), -1 where there is none.

    In 2D side i is the end opposite corner i; in 3D side i is the edge opposite corner i.
    """
    corners = facets[:, :dim]
    sides = [np.delete(corners, i, axis=1) for i in range(dim)]
    key = np.sort(np.concatenate(sides), axis=1)
    _, group = np.unique(key, axis=0, return_inverse=True)
    group = group.reshape(-1)
    order = np.argsort(group, kind="stable")
    owner = np.tile(np.arange(len(facets)), dim)
    found = np.full(len(group), -1)
    same = np.flatnonzero(group[order][1:] == group[order][:-1])
    found[order[same]] = owner[order[same + 1]]
    found[order[same + 1]] = owner[order[same]]
    return found.reshape(dim, len(facets)).T


def area_normal(tangents: np.ndarray) -> np.ndarray:
    """Return the outward normal, not normalised, from the tangents (n, d, d - 1)."""
    if tangents.shape[1] == 2:
        t = tangents[..., 0]
        return np.stack([t[:, 1], -t[:, 0]], -1)
    return np.cross(tangents[..., 0], tangents[..., 1])


def node_normals(x: np.ndarray, facets: np.ndarray, local: np.ndarray, count: int):
    """Return unit normals (count, d) at the nodes of a surface, averaged over facets by area.

    ``local`` (k, n) is the number of each facet node among the surface's ``count`` nodes.
    """
    d = x.shape[1]
    total = np.zeros((count, d))
    place = np.array([[0.0], [1.0], [0.5]]) if d == 2 else np.array(
        [[0, 0], [1, 0], [0, 1], [0.5, 0], [0.5, 0.5], [0, 0.5]])
    _, grad, _ = facet_shape(place)
    for i in range(facets.shape[1]):
        normal = area_normal(np.einsum("kai,aj->kij", x[facets], grad[i]))
        np.add.at(total, local[:, i], normal)
    size = np.linalg.norm(total, axis=1, keepdims=True)
    return total / np.maximum(size, 1e-300)


@dataclass(frozen=True)
class Hit:
    """Where rays meet a surface.

    Attributes
    ----------
    facet : (n,) int array
        Facet, -1 where the ray misses.
    where : (n, d - 1) array
        Facet parameters.
    gap_mm : (n,) array
        Distance along the ray, negative behind the start.
    """

    facet: np.ndarray
    where: np.ndarray
    gap_mm: np.ndarray


def search(x, facets, start, direction, behind_mm, ahead_mm) -> np.ndarray:
    """Return the facet (n,) that each ray meets first within the reach, judged on flat facets."""
    d = x.shape[1]
    corner = x[facets[:, :d]]
    legs = np.moveaxis(corner[:, 1:] - corner[:, :1], 1, 2)
    normal = area_normal(legs)
    best = np.full(len(start), -1)
    if not len(facets) or not len(start):
        return best
    candidates = _candidates(corner, start, behind_mm, ahead_mm)
    size = max(1, 200_000 // candidates.shape[1])
    for first in range(0, len(start), size):
        part = slice(first, first + size)
        c = candidates[part]
        facing = np.einsum("ncd,nd->nc", normal[c], direction[part])
        offset = corner[c, 0] - start[part, None]
        with np.errstate(divide="ignore", invalid="ignore"):
            gap = np.einsum("ncd,ncd->nc", normal[c], offset) / facing
            point = gap[..., None] * direction[part, None] - offset
            if d == 2:
                leg = legs[c][..., 0]
                s = (point * leg).sum(-1) / (leg * leg).sum(-1)
                slack = np.minimum(s, 1 - s)
            else:
                a, b = legs[c][..., 0], legs[c][..., 1]
                n2 = (normal[c] ** 2).sum(-1)
                s = (np.cross(point, b) * normal[c]).sum(-1) / n2
                t = (np.cross(a, point) * normal[c]).sum(-1) / n2
                slack = np.minimum(np.minimum(s, t), 1 - s - t)
        good = (facing < 0) & (slack >= -0.05) & (gap >= -behind_mm) & (gap <= ahead_mm)
        cost = np.where(good, np.abs(gap) + 1e3 * np.maximum(-slack, 0), np.inf)
        pick = np.argmin(cost, axis=1)
        rows = np.arange(len(pick))
        best[part] = np.where(np.isfinite(cost[rows, pick]), c[rows, pick], -1)
    return best


def _candidates(corner, start, behind_mm, ahead_mm):
    """Facets to try for each ray: all of a small surface, else the nearest by centroid."""
    count = len(corner)
    if count * len(start) <= 400_000 or count <= 8:
        return np.broadcast_to(np.arange(count), (len(start), count))
    from scipy.spatial import cKDTree

    k = min(count, 40 if corner.shape[2] == 2 else 24)
    return cKDTree(corner.mean(1)).query(start, k=k)[1].reshape(len(start), k)


def cast(x, facets, across, start, direction, facet, beyond=0.0) -> Hit:
    """Follow rays to a quadratic surface from first guesses ``facet`` (n,).

    Solves x_t(eta) - start - g direction = 0 by Newton's method on each facet and walks to the
    neighbour when eta leaves it. A ray that leaves the rim by more than ``beyond`` (in facet
    parameters) misses; up to there the rim facet is continued.
    """
    d, n = x.shape[1], len(start)
    facet = facet.copy()
    where = np.full((n, d - 1), 1.0 / d)
    gap = np.zeros(n)
    active = np.flatnonzero(facet >= 0)
    before = np.full(n, -1)
    for _ in range(HOPS):
        eta, g = _meet(x[facets[facet[active]]], start[active], direction[active],
                       where[active], gap[active])
        where[active], gap[active] = eta, g
        outside = np.concatenate([1 - eta.sum(1, keepdims=True), eta], 1)
        worst = np.argmin(outside, axis=1)
        depth = outside[np.arange(len(worst)), worst]
        beside = across[facet[active], worst]
        leave = depth < np.where(beside < 0, -beyond, 0.0) - INSIDE
        # a ray that passes beside an edge belongs to neither facet: it keeps the last one
        back = leave & (beside == before[active]) & (beside >= 0) & (depth > -CORNER)
        leave &= ~back
        if not leave.any():
            break
        moving = active[leave]
        before[moving] = facet[moving]
        facet[moving] = beside[leave]
        where[moving] = 1.0 / d
        active = moving[facet[moving] >= 0]
        if not len(active):
            break
    return Hit(facet, where, gap)


def _meet(node, start, ray, eta, gap):
    """Solve x_t(eta) - start - gap ray = 0 on given facets (n, k, d) by Newton's method."""
    d = node.shape[2]
    for _ in range(12):
        N, G, _ = facet_shape(eta)
        miss = np.einsum("na,nai->ni", N, node) - start - gap[:, None] * ray
        matrix = np.concatenate([np.einsum("naj,nai->nij", G, node), -ray[:, :, None]], axis=2)
        matrix[np.abs(np.linalg.det(matrix)) < 1e-12] = np.eye(d)
        step = np.linalg.solve(matrix, miss[:, :, None])[:, :, 0]
        eta = np.clip(eta - step[:, :-1], -1.5, 2.5)
        gap = gap - step[:, -1]
        if not len(step) or np.abs(step).max() < 1e-12:
            break
    return eta, gap

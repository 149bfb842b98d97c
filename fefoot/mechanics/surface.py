"""Quadratic surfaces: neighbours, normals, and the ray from a point to a surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .element import facet_monomials, facet_place

INSIDE = 1e-9
SETTLED = 1e-7
"""Last step of Newton's method on a facet: the error that it leaves is about its square."""
# How far beside a facet, in its parameters, a ray past an edge may meet its continuation.
CORNER = 0.5
SLACK = 0.05
"""How far beside a flat facet, in its parameters, a ray may pass to have it as first guess."""
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
    return _normal(tangents.transpose(2, 1, 0)).T


def _normal(tangents):
    """Return the outward normal (d, n), not normalised, from d - 1 tangents (d, n)."""
    if len(tangents) == 1:
        return np.stack([tangents[0][1], -tangents[0][0]])
    return _cross(*tangents)


def _cross(a, b):
    return np.stack([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])


def node_normals(x: np.ndarray, facets: np.ndarray, local: np.ndarray, count: int):
    """Return unit normals (count, d) at the nodes of a surface, averaged over facets by area.

    ``local`` (k, n) is the number of each facet node among the surface's ``count`` nodes.
    """
    d = x.shape[1]
    places = np.array([[0.0], [1.0], [0.5]]) if d == 2 else np.array(
        [[0, 0], [1, 0], [0, 1], [0.5, 0], [0.5, 0.5], [0, 0.5]])
    c = facet_monomials(x[facets])
    normal = np.stack([_normal(facet_place(c, place[:, None])[1]) for place in places], 2)
    total = np.stack([np.bincount(local.ravel(), part.ravel(), count) for part in normal], 1)
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
    best = np.full(len(start), -1)
    if not len(facets) or not len(start):
        return best
    d = x.shape[1]
    corner = x[facets[:, :d]]
    legs = np.moveaxis(corner[:, 1:] - corner[:, :1], 1, 2)
    normal = area_normal(legs)
    candidates = _candidates(corner, start, behind_mm, ahead_mm)
    # rows: the normal, and the vectors dual to the legs, which give a point's parameters
    frame = np.concatenate([normal[:, None], _dual(legs, normal)], axis=1)
    origin = np.einsum("cid,cd->ci", frame, corner[:, 0])
    size = max(1, 200_000 // (len(facets) if candidates is None else candidates.shape[1]))
    for first in range(0, len(start), size):
        part = slice(first, first + size)
        if candidates is None:
            along = direction[part] @ frame.transpose(1, 2, 0)
            off = origin.T[:, None] - start[part] @ frame.transpose(1, 2, 0)
        else:
            c = candidates[part]
            along = np.einsum("ncid,nd->inc", frame[c], direction[part])
            off = origin[c].transpose(2, 0, 1) - np.einsum("ncid,nd->inc", frame[c], start[part])
        with np.errstate(divide="ignore", invalid="ignore"):
            gap = off[0] / along[0]
            place = gap * along[1:] - off[1:]
            slack = np.minimum(place.min(0), 1 - place.sum(0))
            good = (along[0] < 0) & (slack >= -SLACK) & (gap >= -behind_mm) & (gap <= ahead_mm)
            cost = np.where(good, np.abs(gap) + 1e3 * np.maximum(-slack, 0), np.inf)
        pick = np.argmin(cost, axis=1)
        found = np.isfinite(cost[np.arange(len(pick)), pick])
        number = pick if candidates is None else c[np.arange(len(pick)), pick]
        best[part] = np.where(found, number, -1)
    return best


def meets(x, facets, start, direction, facet, behind_mm, ahead_mm) -> np.ndarray:
    """Return whether each ray meets its ``facet`` (n,) as :func:`search` asks of one."""
    corner = x[facets[:, : x.shape[1]]].transpose(1, 2, 0)[..., np.maximum(facet, 0)]
    legs, ray = corner[1:] - corner[:1], direction.T
    along, step = correction(legs, ray, corner[0] - start.T)
    place, gap = -along, -step
    inside = np.minimum(place.min(0), 1 - place.sum(0)) >= -SLACK
    return ((facet >= 0) & inside & ((_normal(legs) * ray).sum(0) < 0)
            & (gap >= -behind_mm) & (gap <= ahead_mm))


def _dual(legs, normal):
    """Vectors (n, d - 1, d) in the plane of the legs (n, d, d - 1) with e_i . leg_j = delta_ij."""
    if legs.shape[1] == 2:
        return (legs / (legs**2).sum(1, keepdims=True)).transpose(0, 2, 1)
    a, b = legs[..., 0], legs[..., 1]
    return np.stack([np.cross(b, normal), np.cross(normal, a)], 1) / (
        normal**2).sum(-1)[:, None, None]


def _candidates(corner, start, behind_mm, ahead_mm):
    """Facets to try for each ray: None for all of a small surface, else the nearest by centroid."""
    count = len(corner)
    if count * len(start) <= 400_000 or count <= 8:
        return None
    from scipy.spatial import cKDTree

    k = min(count, 40 if corner.shape[2] == 2 else 24)
    return cKDTree(corner.mean(1)).query(start, k=k)[1].reshape(len(start), k)


def cast(x, facets, across, start, direction, facet, beyond=0.0, where=None, gap=None) -> Hit:
    """Follow rays to a quadratic surface from first guesses ``facet`` (n,).

    Solves x_t(eta) - start - g direction = 0 by Newton's method on each facet and walks to the
    neighbour when eta leaves it. A ray that leaves the rim by more than ``beyond`` (in facet
    parameters) misses; up to there the rim facet is continued. ``where`` (n, d - 1) and ``gap``
    (n,) are guesses of the solution.
    """
    d, n = x.shape[1], len(start)
    facet = facet.copy()
    where = np.full((d - 1, n), 1.0 / d) if where is None else where.T.copy()
    gap = np.zeros(n) if gap is None else gap.copy()
    coefficients, start, direction = facet_monomials(x[facets]), start.T, direction.T
    active = np.flatnonzero(facet >= 0)
    before = np.full(n, -1)
    for _ in range(HOPS):
        eta, g = _meet(coefficients[:, :, facet[active]], start[:, active], direction[:, active],
                       where[:, active], gap[active])
        where[:, active], gap[active] = eta, g
        outside = np.concatenate([1 - eta.sum(0, keepdims=True), eta])
        worst = np.argmin(outside, axis=0)
        depth = outside.min(axis=0)
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
        where[:, moving] = 1.0 / d
        active = moving[facet[moving] >= 0]
        if not len(active):
            break
    return Hit(facet, np.ascontiguousarray(where.T), gap)


def _meet(coefficients, start, ray, eta, gap):
    """Solve x_t(eta) - start - gap ray = 0 on given facets by Newton's method.

    ``coefficients`` (k, d, n), ``start`` and ``ray`` (d, n), ``eta`` (d - 1, n), ``gap`` (n,).
    """
    for _ in range(12 if len(gap) else 0):
        place, tangents = facet_place(coefficients, eta)
        along, step = correction(tangents, ray, place - start - gap * ray)
        eta = np.clip(eta - along, -1.5, 2.5)
        gap = gap - step
        if max(np.abs(along).max(), np.abs(step).max()) < SETTLED:
            break
    return eta, gap


def correction(tangents, ray, miss):
    """Solve sum_i t_i along_i - ray step = miss (d, ...) by Cramer's rule: (d - 1, ...) and (...).

    Where the ray lies in the tangent plane, the answer is ``miss`` itself.
    """
    normal = _normal(tangents)
    det = (normal * ray).sum(0)
    flat = np.abs(det) < 1e-12
    if flat.any():
        det = np.where(flat, 1.0, det)
    step = -(normal * miss).sum(0) / det
    if len(tangents) == 1:
        along = ((miss[1] * ray[0] - miss[0] * ray[1]) / det)[None]
    else:
        turned = _cross(ray, miss) / det
        along = np.stack([(turned * tangents[1]).sum(0), -(turned * tangents[0]).sum(0)])
    if flat.any():
        along[:, flat], step[flat] = miss[:-1, flat], miss[-1, flat]
    return along, step

"""Gap of every integration point and its first two derivatives for frozen rays.

A facet surface has kinks between its facets. The force follows the target's *smoothed* normal n,
interpolated between node normals by the hat functions, so that it does not jump when a point slides
from one facet to the next; on a plane it is the normal itself. With the ray d, a = n / (n . d), and
the vectors e_i dual to the target's tangents t_i across d (e_i . t_j = delta_ij, e_i . d = 0),
differentiating x_t(eta) = x_s + g d gives

    dg = a . (dx_t - dx_s),   deta_i = e_i . (dx_s - dx_t),
    d2g = 2 a . dt_i deta_i - (a,_i . t_j) deta_i deta_j,

symmetric, and exact for a smooth surface, where - a,_i . t_j = a . t_ij. On a facet surface the
exact derivative of the force a(eta) . (dx_t - dx_s) is not symmetric: a,_i . (dx_t - dx_s) Deta_i +
a . dt_i Deta_i, and the gap itself changes along the facet's own normal.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .element import facet_shape, hat_shape
from .surface import area_normal, cast

# A point that slides off the rim while rays are frozen keeps the rim facet, continued, so that the gap
# stays smooth; new rays drop it.
BEYOND = 1.0
LEAST_FACING = 0.05
STEP = 1e-4


@dataclass(frozen=True)
class Rays:
    """Frozen integration points (n): facet, parameters, weight, direction, first target facet.

    ``area`` (v,) is the weight that belongs to each vertex, zero where the vertex takes no part
    because too little of its surroundings sees the target; ``scarcity`` (v,) is the factor by which
    the penalty is raised because only a part does. ``target_normal`` (m, d) are the unit normals at
    the target's nodes; ``stick`` (v,) marks the vertices that a rough contact holds.
    """

    facet: np.ndarray
    where: np.ndarray
    weight: np.ndarray
    direction: np.ndarray
    guess: np.ndarray
    area: np.ndarray
    scarcity: np.ndarray
    target_normal: np.ndarray
    stick: np.ndarray


@dataclass(frozen=True)
class Pairs:
    """Points that see the target.

    Attributes
    ----------
    weight, gap_mm : (n,)
    share : (n, k)
        Hat functions times weight; ``vertex`` (n, k) are the surface nodes they belong to.
    dofs : (n, w) int
    sign : (n, k)
        Coefficients of the relative displacement x_t - x_s over the ``nodes`` (n, k).
    a : (n, d)
        Derivative of the gap with the relative displacement.
    normal, point : (n, d)
        Target normal and position of the point.
    """

    weight: np.ndarray
    gap_mm: np.ndarray
    phi: np.ndarray
    vertex: np.ndarray
    nodes: np.ndarray
    dofs: np.ndarray
    sign: np.ndarray
    a: np.ndarray
    normal: np.ndarray
    point: np.ndarray
    tangent: np.ndarray
    direction: np.ndarray
    target_slope: np.ndarray
    a_slope: np.ndarray
    own_a: np.ndarray
    own: int

    @property
    def share(self) -> np.ndarray:
        """Hat functions times weight (n, k)."""
        return self.phi * self.weight[:, None]

    @property
    def slope(self) -> np.ndarray:
        """Gradient of the gap over ``dofs`` (n, w)."""
        return (self.sign[:, :, None] * self.a[:, None, :]).reshape(self.dofs.shape)

    @property
    def true_slope(self) -> np.ndarray:
        """Gradient of the gap (n, w) along the facet's own normal."""
        return (self.sign[:, :, None] * self.own_a[:, None, :]).reshape(self.dofs.shape)

    def curvature(self, use: np.ndarray, exact: bool = False) -> np.ndarray:
        """Second derivative of the gap (m, w, w) of the points selected by ``use``.

        Symmetric, or with ``exact`` the derivative of the force itself.
        """
        d = self.a.shape[1]
        matrix = np.concatenate([self.tangent[use], -self.direction[use, :, None]], axis=2)
        dual = np.linalg.inv(matrix)[:, : d - 1]
        a, sign, slope = self.a[use], self.sign[use], self.target_slope[use]
        m, w = len(a), self.dofs.shape[1]
        block = np.zeros((m, w, w))
        shift = [(-sign[:, :, None] * dual[:, i, None, :]).reshape(m, w) for i in range(d - 1)]
        for i in range(d - 1):
            turn = np.zeros((m, sign.shape[1], d))
            turn[:, self.own:] = slope[:, :, i, None] * a[:, None, :]
            outer = turn.reshape(m, w, 1) * shift[i][:, None, :]
            if exact:
                bend = sign[:, :, None] * self.a_slope[use][:, None, :, i]
                block += outer + bend.reshape(m, w, 1) * shift[i][:, None, :]
                continue
            block += outer + outer.transpose(0, 2, 1)
            for j in range(d - 1):
                bend = -0.5 * sum(
                    np.einsum("mk,mk->m", self.a_slope[use][:, :, p], self.tangent[use][:, :, q])
                    for p, q in ((i, j), (j, i)))
                block += bend[:, None, None] * shift[i][:, :, None] * shift[j][:, None, :]
        return block


def pairs(x: np.ndarray, facets, vertex, target, target_local, across, rays: Rays) -> Pairs:
    """Trace all rays at positions ``x`` (n, d) and keep those that meet the target's front.

    ``vertex`` and ``target_local`` number the nodes of either surface.
    """
    d = x.shape[1]
    N, _, _ = facet_shape(rays.where)
    own = facets[rays.facet]
    point = np.einsum("na,nai->ni", N, x[own])
    hit = cast(x, target, across, point, rays.direction, rays.guess, beyond=BEYOND)
    on = np.flatnonzero(hit.facet >= 0)
    node_normal = rays.target_normal[target_local[hit.facet[on]]]
    normal = _smooth_normal(hit.where[on], node_normal)
    on = on[np.einsum("ni,ni->n", normal, rays.direction[on]) < -LEAST_FACING]
    eta, ray = hit.where[on], rays.direction[on]
    node_normal = rays.target_normal[target_local[hit.facet[on]]]

    def per_gap(place):
        normal = _smooth_normal(place, node_normal)
        return normal / np.einsum("ni,ni->n", normal, ray)[:, None]

    slope = [(per_gap(eta + step) - per_gap(eta - step)) / (2 * STEP)
             for step in STEP * np.eye(d - 1)]
    M, G, _ = facet_shape(eta)
    node = x[target[hit.facet[on]]]
    tangent = np.einsum("nai,naj->nij", node, G)
    own_normal = area_normal(tangent)
    own_a = own_normal / np.einsum("ni,ni->n", own_normal, ray)[:, None]
    nodes = np.concatenate([own[on], target[hit.facet[on]]], axis=1)
    return Pairs(
        weight=rays.weight[on], gap_mm=hit.gap_mm[on], phi=hat_shape(rays.where[on]),
        vertex=vertex[rays.facet[on]], nodes=nodes,
        dofs=(nodes[:, :, None] * d + np.arange(d)).reshape(len(on), -1),
        sign=np.concatenate([-N[on], M], axis=1), a=per_gap(eta),
        normal=_smooth_normal(eta, node_normal), point=point[on],
        tangent=tangent, direction=ray, target_slope=G,
        a_slope=np.stack(slope, axis=-1), own_a=own_a, own=own.shape[1],
    )


def _smooth_normal(eta, node_normal):
    """Unit normals (n, d) at facet parameters eta from the normals (n, k, d) of the facets' nodes."""
    inside = np.clip(eta, 0.0, 1.0)
    normal = np.einsum("nk,nki->ni", hat_shape(inside), node_normal)
    return normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)

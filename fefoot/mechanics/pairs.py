"""Gap of every integration point and its first two derivatives for frozen rays.

With the target's unit normal n, the ray d, a = n / (n . d) and the vectors e_i dual to the target's
tangents t_i across d (e_i . t_j = delta_ij, e_i . d = 0), differentiating x_t(eta) = x_s + g d gives

    dg = a . (dx_t - dx_s),   deta_i = e_i . (dx_s - dx_t),
    d2g = a . (2 dt_i deta_i + t_ij deta_i deta_j).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .element import facet_shape, hat_shape
from .surface import area_normal, cast

# A point that slides off the rim while rays are frozen keeps the rim facet, continued, so that the gap
# stays smooth; new rays drop it.
BEYOND = 1.0


@dataclass(frozen=True)
class Rays:
    """Frozen integration points (n): facet, parameters, weight, direction, first target facet.

    ``area`` (v,) is the weight that belongs to each vertex, zero where the vertex takes no part
    because too little of its surroundings sees the target; ``scarcity`` (v,) is the factor by which
    the penalty is raised because only a part does.
    """

    facet: np.ndarray
    where: np.ndarray
    weight: np.ndarray
    direction: np.ndarray
    guess: np.ndarray
    area: np.ndarray
    scarcity: np.ndarray


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
    target_curve: np.ndarray
    own: int

    @property
    def share(self) -> np.ndarray:
        """Hat functions times weight (n, k)."""
        return self.phi * self.weight[:, None]

    @property
    def slope(self) -> np.ndarray:
        """Gradient of the gap over ``dofs`` (n, w)."""
        return (self.sign[:, :, None] * self.a[:, None, :]).reshape(self.dofs.shape)

    def curvature(self, use: np.ndarray) -> np.ndarray:
        """Hessian of the gap (m, w, w) of the points selected by ``use``."""
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
            block += outer + outer.transpose(0, 2, 1)
            for j in range(d - 1):
                bend = np.einsum("mk,mk->m", a, self.target_curve[use][:, :, i, j])
                block += bend[:, None, None] * shift[i][:, :, None] * shift[j][:, None, :]
        return block


def pairs(x: np.ndarray, facets, vertex, target, across, rays: Rays) -> Pairs:
    """Trace all rays at positions ``x`` (n, d) and keep those that meet the target's front."""
    d = x.shape[1]
    N, _, _ = facet_shape(rays.where)
    own = facets[rays.facet]
    point = np.einsum("na,nai->ni", N, x[own])
    hit = cast(x, target, across, point, rays.direction, rays.guess, beyond=BEYOND)
    on = np.flatnonzero(hit.facet >= 0)
    M, G, H = facet_shape(hit.where[on])
    node = x[target[hit.facet[on]]]
    tangent = np.einsum("nai,naj->nij", node, G)
    normal = area_normal(tangent)
    normal /= np.linalg.norm(normal, axis=1, keepdims=True)
    facing = np.einsum("ni,ni->n", normal, rays.direction[on])
    front = facing < -0.05
    on, M, G, node = on[front], M[front], G[front], node[front]
    tangent, normal, facing = tangent[front], normal[front], facing[front]
    H = np.broadcast_to(H, (len(front), *H.shape[1:]))[front]
    nodes = np.concatenate([own[on], target[hit.facet[on]]], axis=1)
    return Pairs(
        weight=rays.weight[on], gap_mm=hit.gap_mm[on], phi=hat_shape(rays.where[on]),
        vertex=vertex[rays.facet[on]], nodes=nodes,
        dofs=(nodes[:, :, None] * d + np.arange(d)).reshape(len(on), -1),
        sign=np.concatenate([-N[on], M], axis=1), a=normal / facing[:, None], normal=normal,
        point=point[on], tangent=tangent, direction=rays.direction[on], target_slope=G,
        target_curve=np.einsum("nak,naij->nkij", node, H), own=own.shape[1],
    )

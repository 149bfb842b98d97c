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
from functools import cached_property

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

    ``guess``, ``place`` (n, d - 1) and ``gap_mm`` (n,) are where the rays met the target when they
    were laid. ``area`` (v,) is the weight that belongs to each vertex, zero where the vertex takes
    no part because too little of its surroundings sees the target; ``scarcity`` (v,) is the factor
    by which the penalty is raised because only a part does. ``target_normal`` (m, d) are the unit
    normals at the target's nodes; ``stick`` (v,) marks the vertices that a rough contact holds.
    """

    facet: np.ndarray
    where: np.ndarray
    weight: np.ndarray
    direction: np.ndarray
    guess: np.ndarray
    place: np.ndarray
    gap_mm: np.ndarray
    area: np.ndarray
    scarcity: np.ndarray
    target_normal: np.ndarray
    stick: np.ndarray

    @cached_property
    def shape(self) -> np.ndarray:
        """Shape functions (n, k) of the surface's nodes."""
        return facet_shape(self.where)[0]

    @cached_property
    def hat(self) -> np.ndarray:
        """Hat functions (n, k) of the surface's nodes."""
        return hat_shape(self.where)


@dataclass(frozen=True)
class Pairs:
    """Points (n) that see the target.

    Attributes
    ----------
    gap_mm : (n,)
    share : (n, k)
        Hat functions times weight; ``vertex`` (n, k) are the surface nodes they belong to.
    nodes : (n, w)
        Nodes of the point's own facet, then of the target's.
    sign : (n, w)
        Coefficients of the relative displacement x_t - x_s over the ``nodes``.
    a : (n, d)
        Derivative of the gap with the relative displacement.
    normal, point : (n, d)
        Target normal and position of the point.
    direction : (n, d)
        Ray.
    place : (n, d - 1)
        Parameters on the target's facet; ``corner`` (n, m, d) are the facet's nodes and
        ``node_normal`` (n, m, d) the smoothed normals there.
    meeting : (n,) int array
        Number of the pair of facets: the own one's times all of the target, plus the target's.
    """

    gap_mm: np.ndarray
    share: np.ndarray
    vertex: np.ndarray
    nodes: np.ndarray
    sign: np.ndarray
    a: np.ndarray
    normal: np.ndarray
    point: np.ndarray
    direction: np.ndarray
    place: np.ndarray
    corner: np.ndarray
    node_normal: np.ndarray
    meeting: np.ndarray

    def taken(self, use: np.ndarray) -> Pairs:
        """Return the points selected by ``use``."""
        return Pairs(**{name: value[use] for name, value in vars(self).items()})

    @property
    def own_a(self) -> np.ndarray:
        """Derivative of the gap (n, d) along the facet's own normal."""
        return _per_gap(area_normal(self._tangent()), self.direction)

    def _tangent(self):
        return np.einsum("nai,naj->nij", self.corner, facet_shape(self.place)[1])

    def bending(self, force_N, rub_N=None, exact: bool = False):
        """Return what makes up the second derivative of the gaps, times minus ``force_N`` (n,).

        Over the nodes it is sign_w sign_v B + c_k V sign_v, symmetric with the mirror image of the
        second term. With ``exact`` it is the derivative of the force itself, without the mirror image,
        and ``rub_N`` (n, d) is further force that the target's nodes share.

        Returns V (n, d), B (n, d, d) and c (n, m, d), the slopes of the target's m shape functions.
        """
        d, tangent, dual = self.a.shape[1], self._tangent(), self.dual()
        a_slope = np.stack([
            (self._a_at(self.place + step) - self._a_at(self.place - step)) / (2 * STEP)
            for step in STEP * np.eye(d - 1)], 1)
        carried, force = force_N[:, None] * self.a, force_N[:, None, None]
        slope = facet_shape(self.place)[1] @ dual
        if exact:
            carried = carried if rub_N is None else carried + rub_N
            return carried, force * (a_slope.transpose(0, 2, 1) @ dual), slope
        bend = a_slope @ tangent
        bend = 0.5 * (bend + bend.transpose(0, 2, 1))
        return carried, force * (dual.transpose(0, 2, 1) @ (bend @ dual)), slope

    def dual(self) -> np.ndarray:
        """Return the vectors e_i (n, d - 1, d) with which the point's place on the target changes."""
        matrix = np.concatenate([self._tangent(), -self.direction[..., None]], 2)
        return np.linalg.inv(matrix)[:, : self.a.shape[1] - 1]

    def target_gradient(self, field: np.ndarray) -> np.ndarray:
        """Return the derivatives (n, d, d - 1) of a nodal field (nodes, d) along the target."""
        slope = facet_shape(self.place)[1]
        other = self.nodes[:, self.nodes.shape[1] - slope.shape[1]:]
        return np.einsum("nki,nkj->nij", field[other], slope)

    def _a_at(self, place):
        return _per_gap(_smooth_normal(place, self.node_normal), self.direction)


def pairs(x: np.ndarray, facets, vertex, target, target_local, across, rays: Rays) -> Pairs:
    """Trace all rays at positions ``x`` (n, d) and keep those that meet the target's front.

    ``vertex`` and ``target_local`` number the nodes of either surface.
    """
    own = facets[rays.facet]
    point = np.einsum("na,nai->ni", rays.shape, x[own])
    hit = cast(x, target, across, point, rays.direction, rays.guess, beyond=BEYOND,
               where=rays.place, gap=rays.gap_mm)
    on = np.flatnonzero(hit.facet >= 0)
    node_normal = rays.target_normal[target_local[hit.facet[on]]]
    normal = _smooth_normal(hit.where[on], node_normal)
    front = np.einsum("ni,ni->n", normal, rays.direction[on]) < -LEAST_FACING
    if not front.all():
        on, normal, node_normal = on[front], normal[front], node_normal[front]
    place, ray, other = hit.where[on], rays.direction[on], target[hit.facet[on]]
    return Pairs(
        gap_mm=hit.gap_mm[on], share=rays.hat[on] * rays.weight[on, None],
        vertex=vertex[rays.facet[on]], nodes=np.concatenate([own[on], other], axis=1),
        sign=np.concatenate([-rays.shape[on], facet_shape(place)[0]], axis=1),
        a=_per_gap(normal, ray), normal=normal, point=point[on], direction=ray, place=place,
        corner=x[other], node_normal=node_normal,
        meeting=rays.facet[on] * len(target) + hit.facet[on])


def _per_gap(normal, ray):
    return normal / np.einsum("ni,ni->n", normal, ray)[:, None]


def _smooth_normal(eta, node_normal):
    """Unit normals (n, d) at facet parameters eta from the normals (n, k, d) of the facets' nodes."""
    inside = np.clip(eta, 0.0, 1.0)
    normal = np.einsum("nk,nki->ni", hat_shape(inside), node_normal)
    return normal / np.maximum(np.linalg.norm(normal, axis=1, keepdims=True), 1e-300)

r"""Unilateral contact between two quadratic surfaces, with or without Coulomb friction.

The soft *contact surface* carries a pressure that is linear between its nodes, and the gap is
integrated over it (a mortar method), so that non-matching meshes transmit a uniform pressure
exactly.
A ray from each integration point along the surface's own smoothed normal, held fixed during
Newton's
method, meets the *target* at the gap g. With weights W per reference area,

.. math:: \bar g_A = \tfrac{1}{w_A}\sum_q W_q \varphi_A g_q, \quad
          p_A = \max(\lambda_A - \epsilon \bar g_A, 0), \quad
          \Pi = \sum_A \tfrac{w_A}{2\epsilon}(p_A^2 - \lambda_A^2)

is the augmented Lagrangian (Alart & Curnier 1991, Comput Methods Appl Mech Eng 92:353-375; Popp,
Gee
& Wall 2009, IJNME 79:1354-1391, for mortar integration over segments with a continuous normal
field).
For frozen rays the Hessian is symmetric, and exact for a smooth target. After each solve lambda <-
p, so the penalty sets
the speed and not the answer. Sticking friction keeps the elastic slip tau / eps. The pressure is
nominal: per reference area of the contact surface.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import scipy.sparse as sp

from .element import facet_shape, hat_shape
from .friction import slip
from .pairs import Rays, pairs
from .segments import points_on
from .surface import area_normal, cast, neighbours, node_normals, search

MARGIN_MM = 4.0
MOST_SCARCE = 4.0
SLOW, BOOST, MOST_BOOST, SMALL_MM = 1 / 3, 4.0, 64.0, 1e-5


@dataclass(frozen=True)
class Memory:
    """What contact remembers between solves.

    ``pressure_MPa`` (v,) multipliers, ``traction_MPa`` (v, d) friction, ``x`` (n, d) the positions
    of the last accepted step, ``boost`` (v,) the factor by which the penalty of slowly converging
    vertices has been raised, ``gap_mm`` (v,) the gaps at the last augmentation, ``loaded`` (v,)
    which
    vertices carried pressure in the last accepted step.
    """

    pressure_MPa: np.ndarray
    traction_MPa: np.ndarray
    x: np.ndarray
    boost: np.ndarray
    gap_mm: np.ndarray
    loaded: np.ndarray


@dataclass(frozen=True)
class Status:
    """Contact at one state.

    Attributes
    ----------
    pressure_MPa, gap_mm, area_mm2 : (v,)
        Nominal pressure, mean gap (inf where no target is seen) and weight of each vertex.
    traction_MPa : (v, d)
    force_N : (d,)
        On the contact surface.
    moment_Nmm : (1,) or (3,)
        Of that force about the origin.
    penetration_mm : float
        Deepest integration point that carries pressure.
    """

    pressure_MPa: np.ndarray
    traction_MPa: np.ndarray
    gap_mm: np.ndarray
    area_mm2: np.ndarray
    force_N: np.ndarray
    moment_Nmm: np.ndarray
    penetration_mm: float
    active: int


class Contact:
    """One pair of surfaces.

    Parameters
    ----------
    name : str
    points : (n, d) array
        Reference positions, mm.
    facets : (k, 3 or 6) int array
        The soft side, outward, finer than the target.
    target : (m, 3 or 6) int array
        The other side, outward.
    penalty_MPa_per_mm : float
        About ten times the softer modulus over the facet size.
    friction : float
        Coulomb coefficient; infinite for a rough contact, whose loaded points do not slip.
    thickness_mm : float or callable of points (n, d)
        Only in 2D.
    behind_mm, ahead_mm : float
        Reach of the rays: the largest penetration and the largest gap that are seen.
    """

    def __init__(self, name, points, facets, target, *, penalty_MPa_per_mm, friction=0.0,
                 thickness_mm=1.0, behind_mm=8.0, ahead_mm=30.0):
        self.name, self.points = name, points
        self.facets, self.target = np.asarray(facets), np.asarray(target)
        self.penalty, self.friction = float(penalty_MPa_per_mm), float(friction)
        self.thickness_mm = thickness_mm
        self.behind_mm, self.ahead_mm = behind_mm, ahead_mm
        self.dim = points.shape[1]
        self.vertices, vertex = np.unique(self.facets, return_inverse=True)
        self.vertex = vertex.reshape(self.facets.shape)
        self.across = neighbours(self.target, self.dim)
        self.rough = np.isinf(self.friction)
        self.curved = len(self.target) >= self.dim
        self.target_nodes, local = np.unique(self.target, return_inverse=True)
        self.target_local = local.reshape(self.target.shape)

    def memory(self, x: np.ndarray) -> Memory:
        """Return the memory of a contact that has carried nothing."""
        v = len(self.vertices)
        return Memory(np.zeros(v), np.zeros((v, self.dim)), x, np.ones(v), np.full(v, np.inf),
                      np.zeros(v, bool))

    def rays(self, x: np.ndarray, memory: Memory) -> Rays:
        """Lay integration points and rays for positions ``x``; frozen until called again.

        A rough contact also notes which vertices are loaded, and were after the last accepted
        step: those stick.
        """
        normals = node_normals(x, self.facets, self.vertex, len(self.vertices))
        facet, where, weight = points_on(
            x, self.facets, self.vertex, normals, self.target, MARGIN_MM)
        N, G, _ = facet_shape(where)
        own = self.facets[facet]
        reference = np.einsum("nai,naj->nij", self.points[own], G)
        weight = weight * np.linalg.norm(area_normal(reference), axis=1)
        weight = weight * (self.thickness_mm(np.einsum("na,nai->ni", N, self.points[own]))
                           if callable(self.thickness_mm) else self.thickness_mm)
        direction = np.einsum("nv,nvi->ni", hat_shape(where), normals[self.vertex[facet]])
        direction /= np.linalg.norm(direction, axis=1, keepdims=True)
        start = np.einsum("na,nai->ni", N, x[own])
        guess = search(x, self.target, start, direction, self.behind_mm, self.ahead_mm)
        hit = cast(x, self.target, self.across, start, direction, guess)
        keep = (hit.facet >= 0) & (hit.gap_mm > -self.behind_mm) & (hit.gap_mm < self.ahead_mm)
        vertex, share = self.vertex[facet], hat_shape(where) * weight[:, None]
        whole, area = (np.bincount(vertex[part].ravel(), share[part].ravel(), len(self.vertices))
                       for part in (slice(None), keep))
        scarcity = whole / np.maximum(area, 1e-300)
        area = np.where(scarcity > MOST_SCARCE, 0.0, area)
        scarcity = np.minimum(scarcity, MOST_SCARCE)
        target_normal = node_normals(x, self.target, self.target_local, len(self.target_nodes))
        rays = Rays(facet[keep], where[keep], weight[keep], direction[keep], hit.facet[keep],
                    area, scarcity, target_normal, np.zeros(len(area), bool))
        if not self.rough:
            return rays
        status = self.evaluate(x, rays, memory, tangent=False)[3]
        return replace(rays, stick=memory.loaded & (status.pressure_MPa > 0))

    def evaluate(self, x, rays: Rays, memory: Memory, *, tangent=True, geometric=True,
                 exact=False):
        """Return energy (N mm), gradient (n d,), Hessian (sparse) or None, and Status.

        The Hessian is symmetric; with ``exact`` it is the derivative of the gradient, which on a
        surface of several facets is not.
        """
        size, nv = x.size, len(self.vertices)
        pair = pairs(x, self.facets, self.vertex, self.target, self.target_local, self.across,
                     rays)
        vertex, share, slope = pair.vertex, pair.share, pair.slope
        area = np.maximum(rays.area, 1e-300)
        gap = np.bincount(vertex.ravel(), (share * pair.gap_mm[:, None]).ravel(), nv) / area
        seen = (np.bincount(vertex.ravel(), share.ravel(), nv) > 0) & (rays.area > 0)
        penalty = self.penalty * rays.scarcity * memory.boost
        pressure = np.where(seen, np.maximum(memory.pressure_MPa - penalty * gap, 0.0), 0.0)
        energy = 0.5 * float(
            (area / penalty)[seen] @ (pressure**2 - memory.pressure_MPa**2)[seen])
        force = np.einsum("nv,nv->n", share, pressure[vertex])
        gradient = np.bincount(pair.dofs.ravel(), (-force[:, None] * slope).ravel(), size)
        point_force = force[:, None] * pair.a
        rub = None
        if self.friction:
            rub = slip(x, memory, pressure, pair, area, self.friction, self.penalty, size,
                       rays.stick)
            gradient = gradient + rub.gradient
            point_force = point_force + rub.point_force_N
        status = self._status(pair, pressure, gap, seen, rays, force, point_force, rub)
        if not tangent:
            return energy, gradient, None, status
        live = pressure > 0
        use = live[vertex].any(1)
        shape = (int(use.sum()), vertex.shape[1], slope.shape[1])
        place = (np.broadcast_to(vertex[use][:, :, None], shape).ravel(),
                 np.broadcast_to(pair.dofs[use][:, None, :], shape).ravel())

        def integrated(slopes):
            values = share[use][:, :, None] * slopes[use][:, None, :]
            return sp.csr_matrix((values.ravel(), place), shape=(nv, size))

        rows = integrated(slope)
        exact = exact and self.curved
        gaps = integrated(pair.true_slope) if exact else rows
        hessian = rows.T @ (sp.diags_array(np.where(live, penalty / area, 0.0)) @ gaps)
        if geometric and use.any():
            block = -force[use, None, None] * pair.curvature(use, exact)
            hessian = hessian + _scatter(pair.dofs[use], block, size)
        if rub is not None:
            hessian = hessian + rub.hessian(gaps, live, penalty, area)
        return energy, gradient, hessian.tocsr(), status

    def _status(self, pair, pressure, gap, seen, rays, force, point_force, rub):
        """Collect the sums of one evaluation; ``point_force`` acts on the target."""
        on_surface = -point_force
        point = pair.point
        moment = (point[:, 0] * on_surface[:, 1] - point[:, 1] * on_surface[:, 0]
                  if self.dim == 2 else np.cross(point, on_surface))
        loaded = pair.gap_mm[force > 0]
        return Status(
            pressure, rub.traction_MPa if rub else np.zeros((len(pressure), self.dim)),
            np.where(seen, gap, np.inf), rays.area, on_surface.sum(0),
            np.atleast_1d(moment.sum(0)),
            float(max(0.0, -loaded.min())) if len(loaded) else 0.0, int((pressure > 0).sum()))

    def structure(self, x, rays: Rays) -> sp.csr_matrix:
        """Return a matrix (x.size, x.size) whose pattern holds every pair likely to meet."""
        start = np.einsum("na,nai->ni", facet_shape(rays.where)[0], x[self.facets[rays.facet]])
        hit = cast(x, self.target, self.across, start, rays.direction, rays.guess)
        near = np.flatnonzero(hit.facet >= 0)
        facet = hit.facet[near]
        around = np.concatenate([facet[:, None], self.across[facet]], axis=1)
        around = np.where(around < 0, facet[:, None], around)
        nodes = np.concatenate(
            [self.facets[rays.facet[near]], self.target[around].reshape(len(near), -1)], axis=1)
        dofs = (nodes[:, :, None] * self.dim + np.arange(self.dim)).reshape(len(near), -1)
        shape = (len(near), self.vertex.shape[1], dofs.shape[1])
        rows = sp.csr_matrix(
            (np.ones(np.prod(shape)),
             (np.broadcast_to(self.vertex[rays.facet[near]][:, :, None], shape).ravel(),
              np.broadcast_to(dofs[:, None, :], shape).ravel())),
            shape=(len(self.vertices), x.size))
        return (rows.T @ rows).tocsr()

    @staticmethod
    def augmented(memory: Memory, status: Status) -> Memory:
        """Return the memory with the multipliers replaced by the present pressures.

        Where a loaded vertex's gap has not shrunk to a third, its penalty is raised.
        """
        gap = np.abs(status.gap_mm)
        slow = (status.pressure_MPa > 0) & (gap > np.maximum(SLOW * memory.gap_mm, SMALL_MM))
        boost = np.where(slow, np.minimum(memory.boost * BOOST, MOST_BOOST), memory.boost)
        return replace(memory, pressure_MPa=status.pressure_MPa, boost=boost, gap_mm=gap)

    @staticmethod
    def advanced(memory: Memory, status: Status, x: np.ndarray) -> Memory:
        """Return the memory after an accepted step at ``x``: friction starts from there."""
        return replace(memory, traction_MPa=status.traction_MPa, x=x,
                       loaded=status.pressure_MPa > 0)


def _scatter(dofs, blocks, size):
    """Sum dense blocks (n, w, w) on dofs (n, w) into a sparse matrix."""
    rows = np.broadcast_to(dofs[:, :, None], blocks.shape).ravel()
    cols = np.broadcast_to(dofs[:, None, :], blocks.shape).ravel()
    return sp.coo_matrix((blocks.ravel(), (rows, cols)), shape=(size, size)).tocsr()

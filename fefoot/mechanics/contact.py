r"""Unilateral contact between two quadratic surfaces, with or without Coulomb friction.

The soft *contact surface* carries a pressure that is linear between its nodes, and the gap is
integrated over it (a mortar method), so that non-matching meshes transmit a uniform pressure exactly.
A ray from each integration point along the surface's own smoothed normal, held fixed during Newton's
method, meets the *target* at the gap g. With weights W per reference area,

.. math:: \bar g_A = \tfrac{1}{w_A}\sum_q W_q \varphi_A g_q, \quad
          p_A = \max(\lambda_A - \epsilon \bar g_A, 0), \quad
          \Pi = \sum_A \tfrac{w_A}{2\epsilon}(p_A^2 - \lambda_A^2)

is the augmented Lagrangian (Alart & Curnier 1991, Comput Methods Appl Mech Eng 92:353-375; Popp,
Gee & Wall 2009, IJNME 79:1354-1391, for mortar integration over segments with a continuous normal
field).
For frozen rays the Hessian is symmetric, and exact for a smooth target. After each solve lambda <- p,
so the penalty sets the speed and not the answer. Sticking friction keeps the elastic slip tau / eps.
The pressure is nominal: per reference area of the contact surface. A *barrier* rounds the corner of
max( , 0) so that p g tends to a tiny constant, whatever the penalty.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import scipy.sparse as sp

from .contact_hessian import contact_hessian
from .element import facet_shape, hat_shape
from .friction import Slip, grip, slip
from .pairs import Pairs, Rays, pairs
from .rounding import positive_part
from .segments import points_on
from .surface import area_normal, cast, meets, neighbours, node_normals, search

MARGIN_MM = 4.0
MOST_SCARCE = 4.0
SLOW, BOOST, MOST_BOOST, SMALL_MM = 1 / 3, 8.0, 4096.0, 1e-5
HAT_SHARES = {3: (1 / 4, 1 / 4, 1 / 2), 6: (1 / 12,) * 3 + (1 / 4,) * 3}
"""Shares of a facet's area that its nodes' linear functions have, by the number of nodes."""
MATTERS = 1e-3
"""Share of the largest pressure by which a vertex with a barrier must still change to have its penalty
raised."""


@dataclass(frozen=True)
class Memory:
    """What contact remembers between solves.

    ``pressure_MPa`` (v,) multipliers, ``traction_MPa`` (v, d) friction, ``x`` (n, d) the positions
    of the last accepted step, ``boost`` (v,) the factor by which the penalty of slowly converging
    vertices has been raised, ``gap_mm`` (v,) the gaps at the last augmentation, ``loaded`` (v,)
    which
    vertices carried pressure in the last accepted step, ``barrier_N_per_mm`` the product of pressure
    and gap.
    """

    pressure_MPa: np.ndarray
    traction_MPa: np.ndarray
    x: np.ndarray
    boost: np.ndarray
    gap_mm: np.ndarray
    loaded: np.ndarray
    barrier_N_per_mm: float = 0.0


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


@dataclass(frozen=True)
class Touch:
    """A contact at one state, from which :func:`contact_hessian` makes the Hessian.

    Attributes
    ----------
    energy_Nmm : float
    gradient : (n d,)
        Of the energy, over node coordinates.
    status : Status
    pair : Pairs
    stiffness : (v,)
        Derivative of minus the pressure with the integrated gap w_A g_A, MPa/mm^3.
    force_N : (n,)
        Normal force of each point, per unit of the gap's change.
    slip : Slip or None
    curved : bool
        Whether the target has several facets.
    """

    energy_Nmm: float
    gradient: np.ndarray
    status: Status
    pair: Pairs
    stiffness: np.ndarray
    force_N: np.ndarray
    slip: Slip | None
    curved: bool


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
    grip_mm : float
        Length over which friction builds up with the whole slip; zero for friction that follows the
        slip step by step.
    soft_start : float
        Factor on the penalty until the first augmentations raise it.
    barrier_N_per_mm : (float, float)
        At first and in the end: pressure times gap of a touching point, so small that it shows in no
        result; it rounds off the corner between touching and not.
    behind_mm, ahead_mm : float
        Reach of the rays: the largest penetration and the largest gap that are seen.
    """

    def __init__(self, name, points, facets, target, *, penalty_MPa_per_mm, friction=0.0,
                 thickness_mm=1.0, grip_mm=0.0, soft_start=1.0, barrier_N_per_mm=(0.0, 0.0),
                 behind_mm=8.0, ahead_mm=30.0):
        self.name, self.points = name, points
        self.facets, self.target = np.asarray(facets), np.asarray(target)
        self.penalty, self.friction = float(penalty_MPa_per_mm), float(friction)
        self.thickness_mm, self.grip_mm = thickness_mm, float(grip_mm)
        self.soft_start, self.barrier_N_per_mm = float(soft_start), barrier_N_per_mm
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
        return Memory(np.zeros(v), np.zeros((v, self.dim)), x, np.full(v, self.soft_start),
                      np.full(v, np.inf), np.zeros(v, bool), self.barrier_N_per_mm[0])

    @cached_property
    def own_area_mm2(self) -> np.ndarray:
        """Unloaded area (v,) that belongs to each vertex, whether it sees the target or not.

        Facets count as flat; in 2D a line counts with its thickness.
        """
        corner = self.points[self.facets[:, :self.dim]]
        edge = corner[:, 1:] - corner[:, :1]
        area = (np.linalg.norm(edge[:, 0], axis=1) if self.dim == 2
                else 0.5 * np.linalg.norm(np.cross(edge[:, 0], edge[:, 1]), axis=1))
        area = area * (self.thickness_mm(corner.mean(1)) if callable(self.thickness_mm)
                       else self.thickness_mm)
        share = area[:, None] * np.array(HAT_SHARES[self.facets.shape[1]])
        return np.bincount(self.vertex.ravel(), share.ravel(), len(self.vertices))

    def rays(self, x: np.ndarray, memory: Memory) -> Rays:
        """Lay integration points and rays for positions ``x``; frozen until called again.

        A rough contact also notes which vertices are loaded, and were after the last accepted
        step: those stick.
        """
        normals = node_normals(x, self.facets, self.vertex, len(self.vertices))
        facet, where, weight, guess = points_on(
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
        reach = self.behind_mm, self.ahead_mm
        rest = np.flatnonzero(~meets(x, self.target, start, direction, guess, *reach))
        guess[rest] = search(x, self.target, start[rest], direction[rest], *reach)
        hit = cast(x, self.target, self.across, start, direction, guess)
        keep = (hit.facet >= 0) & (hit.gap_mm > -self.behind_mm) & (hit.gap_mm < self.ahead_mm)
        vertex, share = self.vertex[facet], hat_shape(where) * weight[:, None]
        whole, area = (np.bincount(vertex[part].ravel(), share[part].ravel(), len(self.vertices))
                       for part in (slice(None), keep))
        scarcity = np.maximum(whole / np.maximum(area, 1e-300), 1.0)
        area = np.where(scarcity > MOST_SCARCE, 0.0, area)
        scarcity = np.minimum(scarcity, MOST_SCARCE)
        target_normal = node_normals(x, self.target, self.target_local, len(self.target_nodes))
        rays = Rays(facet[keep], where[keep], weight[keep], direction[keep], hit.facet[keep],
                    hit.where[keep], hit.gap_mm[keep], area, scarcity, target_normal,
                    np.zeros(len(area), bool))
        if not self.rough:
            return rays
        pressure = self._pressure(self._pairs(x, rays), rays, memory)[0]
        return replace(rays, stick=memory.loaded & (pressure > 0))

    def _pairs(self, x, rays: Rays) -> Pairs:
        return pairs(x, self.facets, self.vertex, self.target, self.target_local, self.across,
                     rays)

    def _pressure(self, pair: Pairs, rays: Rays, memory: Memory):
        """Return pressure (v,), its slope, stored energy, gap, whether the target is seen, penalty."""
        nv, vertex, share = len(self.vertices), pair.vertex.ravel(), pair.share
        # a vertex without area is not seen; a tiny divisor would let its gap overflow
        gap = np.bincount(vertex, (share * pair.gap_mm[:, None]).ravel(), nv) / np.where(
            rays.area > 0, rays.area, 1.0)
        seen = (np.bincount(vertex, share.ravel(), nv) > 0) & (rays.area > 0)
        penalty = self.penalty * rays.scarcity * memory.boost
        trial = np.where(seen, memory.pressure_MPa - penalty * gap, -1.0)
        rounding = 2.0 * np.sqrt(memory.barrier_N_per_mm * penalty)
        pressure, slope, stored = (np.where(seen, v, 0.0) for v in positive_part(trial, rounding))
        return pressure, slope, stored, gap, seen, penalty

    def touch(self, x, rays: Rays, memory: Memory) -> Touch:
        """Evaluate the contact at positions ``x``."""
        pair = self._pairs(x, rays)
        pressure, slope, stored, gap, seen, penalty = self._pressure(pair, rays, memory)
        area = np.maximum(rays.area, 1e-300)
        energy = float((area[seen] / penalty[seen]) @ (stored - 0.5 * memory.pressure_MPa**2)[seen])
        force = np.einsum("nv,nv->n", pair.share, pressure[pair.vertex])
        point_force = force[:, None] * pair.a
        rub = None
        if self.friction:
            rub = grip(x, self.points, pressure, pair, area, self.friction, self.grip_mm) \
                if self.grip_mm else slip(x, memory, pressure, pair, area, self.friction,
                                          self.penalty, rays.stick)
            point_force = point_force + rub.point_force_N
        nodal = -pair.sign[:, :, None] * point_force[:, None]
        gradient = np.stack([np.bincount(pair.nodes.ravel(), nodal[..., i].ravel(), len(x))
                             for i in range(self.dim)], 1).ravel()
        stiffness = slope * penalty / area
        status = self._status(pair, pressure, gap, seen, rays, force, point_force, rub)
        return Touch(energy, gradient, status, pair, stiffness, force, rub, self.curved)

    def evaluate(self, x, rays: Rays, memory: Memory, *, tangent=True, geometric=True,
                 exact=False):
        """Return energy (N mm), gradient (n d,), Hessian (sparse) or None, and Status.

        The Hessian is symmetric; with ``exact`` it is the derivative of the gradient, which on a
        surface of several facets is not.
        """
        touch = self.touch(x, rays, memory)
        hessian = None
        if tangent:
            hessian = sum(contact_hessian(touch, geometric=geometric, exact=exact and self.curved))
        return touch.energy_Nmm, touch.gradient, hessian, touch.status

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

    def cliques(self, meeting: np.ndarray) -> sp.csr_matrix:
        """Return which nodes (v, n) each vertex of the surface couples.

        ``meeting`` (k,) are pairs of facets, numbered as in :class:`Pairs`.
        """
        own, other = np.divmod(meeting, len(self.target))
        nodes = np.concatenate([self.facets[own], self.target[other]], axis=1)
        shape = (len(own), self.vertex.shape[1], nodes.shape[1])
        rows, cols = (np.broadcast_to(v, shape).ravel()
                      for v in (self.vertex[own][:, :, None], nodes[:, None]))
        return sp.csr_matrix((np.ones(len(rows)), (rows, cols)),
                             shape=(len(self.vertices), len(self.points)))

    def augmented(self, memory: Memory, status: Status, stiffen: bool = True) -> Memory:
        """Return the memory with the multipliers replaced by the present pressures.

        Where a loaded vertex's gap has not shrunk to a third, its penalty is raised; with a barrier,
        under which a gap stays open, only where it penetrates and its pressure still changes. Without
        ``stiffen`` no penalty is raised.
        """
        gap, pressure = np.abs(status.gap_mm), status.pressure_MPa
        slow = gap > np.maximum(SLOW * memory.gap_mm, SMALL_MM)
        if memory.barrier_N_per_mm:
            change = np.abs(pressure - memory.pressure_MPa)
            slow &= (change > MATTERS * pressure.max(initial=0.0)) & (status.gap_mm < 0)
        slow &= (pressure > 0) & stiffen
        boost = np.where(slow, np.minimum(memory.boost * BOOST, MOST_BOOST), memory.boost)
        barrier = max(0.1 * memory.barrier_N_per_mm, self.barrier_N_per_mm[1])
        return replace(memory, pressure_MPa=pressure, boost=boost, gap_mm=gap,
                       barrier_N_per_mm=barrier)

    @staticmethod
    def advanced(memory: Memory, status: Status, x: np.ndarray) -> Memory:
        """Return the memory after an accepted step at ``x``: friction starts from there."""
        return replace(memory, traction_MPa=status.traction_MPa, x=x,
                       loaded=status.pressure_MPa > 0)

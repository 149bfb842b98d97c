"""The whole model: its terms, their assembly into one sparse system, and its external load.

Terms give their derivatives over *full* coordinates: node coordinates, then translation and spin of
each body; u = T q with q the unknowns (see :mod:`fefoot.mechanics.state`). Columns of T other than
spins hold ones, so that cells are summed by pairs of free nodes and translations, and the sums
copied to their places in the matrix, both through maps made once. For spins and the few terms other
than cells see :mod:`fefoot.mechanics.riding`, for contact
:mod:`fefoot.mechanics.contact_hessian`.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import scipy.sparse as sp

from .balance import Balance
from .cable import Cable
from .contact import Contact, Memory, Status, Touch
from .contact_hessian import contact_hessian
from .joint import Joint, Spring
from .pattern import Pattern, distinct
from .pressure import Pressure
from .riding import CellSpins, Cliques, cliques
from .solid import AXES, Solid
from .state import Coordinates, State
from .threads import spread

REACH_MM = 3.0
"""How near contact pairs have to be to be given places in the matrix when it has to grow."""
COPIED = 2**18
"""Entries of the matrix that one thread copies at a time."""


@dataclass(frozen=True)
class Load:
    """External load at one moment.

    Attributes
    ----------
    node_force_N : (n, d) array or None
        Dead forces on nodes.
    body_force : dict of body -> (d + spins,) array
        Dead force (N) and moment (N mm) on body centres.
    pressure : float
        Factor on every :class:`Pressure`.
    tension_N : dict of cable name -> float
        Tensions given to cables, on top of what they carry of themselves.
    held : dict of unknown -> float
        Displacement (mm or rad) from the reference of unknowns that are prescribed.
    balance : Balance or None
        A cable tension to be found.
    """

    node_force_N: np.ndarray | None = None
    body_force: dict[int, np.ndarray] = field(default_factory=dict)
    pressure: float = 1.0
    tension_N: dict[str, float] = field(default_factory=dict)
    held: dict[int, float] = field(default_factory=dict)
    balance: Balance | None = None

    def pulled(self, change_N: float) -> Load:
        """Return the load with another balancing tension."""
        return replace(self, balance=self.balance.moved(change_N))

    def carrying(self, other: Load) -> Load:
        """Return this load with the balancing tension of another as first guess."""
        return replace(self, balance=replace(self.balance, tension_N=other.balance.tension_N))

    def tensions(self) -> dict[str, float]:
        """Return all prescribed tensions."""
        total = dict(self.tension_N)
        for name, tension in (self.balance.tensions() if self.balance else {}).items():
            total[name] = total.get(name, 0.0) + tension
        return total


@dataclass(frozen=True)
class Interior:
    """All but contact at one state under one load.

    Attributes
    ----------
    energy_Nmm : float
        inf if an element is inverted; the rest is then empty.
    gradient : (full_size,) array
    scale_N : float
    reduction : sparse (full_size, size)
        T.
    hessians : list
        Of each solid, by pairs of nodes; filled when the matrix is first wanted.
    cliques : tuple of arrays
        Hessians of the terms that are not solids, in the order of ``System.cliques``.
    """

    energy_Nmm: float
    gradient: np.ndarray | None = None
    scale_N: float = np.inf
    reduction: sp.csr_matrix | None = None
    hessians: list = field(default_factory=list)
    cliques: tuple = ()


@dataclass(frozen=True)
class Evaluation:
    """Energy and derivatives at one state.

    Attributes
    ----------
    state : State
    energy_Nmm : float
        Internal plus contact energy minus the work of dead loads; inf if an element is inverted.
    gradient : (full_size,) array
        Energy gradient over full coordinates: minus the force on each node and body.
    residual : (size,) array
        Out-of-balance force, N or N mm; at prescribed unknowns the reaction.
    data : array or None
        Matrix data on ``System.pattern``.
    status : tuple of Status
        One per contact.
    scale_N : float
        Size of the forces in play, to judge the residual against.
    interior : Interior
    touches : tuple of Touch
        What :meth:`System.tangent` makes the matrix from.
    """

    state: State
    energy_Nmm: float
    gradient: np.ndarray
    residual: np.ndarray
    data: np.ndarray | None
    status: tuple[Status, ...]
    scale_N: float
    interior: Interior
    touches: tuple[Touch, ...] = ()


class System:
    """Coordinates and terms.

    Parameters
    ----------
    coordinates : Coordinates
    solids, cables, joints, springs, pressures, contacts : sequences of the terms
    """

    def __init__(self, coordinates: Coordinates, *, solids=(), cables=(), joints=(), springs=(),
                 pressures=(), contacts=()):
        self.coordinates = coordinates
        self.solids: tuple[Solid, ...] = tuple(solids)
        self.cables: tuple[Cable, ...] = tuple(cables)
        self.joints: tuple[Joint, ...] = tuple(joints)
        self.springs: tuple[Spring, ...] = tuple(springs)
        self.pressures: tuple[Pressure, ...] = tuple(pressures)
        self.contacts: tuple[Contact, ...] = tuple(contacts)
        self.pattern = Pattern(coordinates.size, coordinates.block)
        self._near = [np.zeros(0, int) for _ in self.contacts]
        self._lay_out()

    @property
    def symmetric(self) -> bool:
        """Whether the Hessian is symmetric: no contact slips under friction."""
        return not any(c.friction and not c.rough for c in self.contacts)

    @property
    def curved(self) -> bool:
        """Whether a contact target has several facets, so that the exact matrix is not symmetric."""
        return any(c.curved for c in self.contacts)

    def _lay_out(self):
        """Map the cells to pairs of free nodes and translations, and find all fixed places."""
        co = self.coordinates
        unknown = [co.first_unknown[s.cells] for s in self.solids]
        keys = [n[:, :, None] * co.size + n[:, None, :] for n in unknown]
        pairs = distinct(np.concatenate([np.zeros(0, int), *(k.ravel() for k in keys)]))
        self._pairs = pairs // co.size, pairs % co.size
        self._sums = [np.searchsorted(pairs, k).ravel() for k in keys]
        self._spins = [CellSpins(co, s.cells) for s in self.solids]
        self._cliques = Cliques(co, self.cliques())
        body = np.arange(co.first_body, co.size).reshape(co.bodies, co.body_dofs)
        every = np.arange(co.size)
        rows, cols = zip((every, every), *self._places(), *(t.places for t in self._spins),
                         self._cliques.places, cliques([body]), strict=True)
        self.pattern.add(np.concatenate(rows), np.concatenate(cols))
        self._locate()

    def cliques(self) -> list[np.ndarray]:
        """Return the full coordinates of each term other than solids and contacts."""
        co = self.coordinates
        groups = [term.evaluate(co.points)[1]
                  for term in (*self.cables, *self.springs, *self.pressures)]
        return groups + [co.node_dofs + np.concatenate(
            [b * co.body_dofs + co.dim + np.arange(co.spins) for b in (j.body_a, j.body_b)])
            for j in self.joints]

    def _places(self):
        """Yield row and column of all pairs of nodes for every pair of axes."""
        a, b = self._pairs
        for i, k in AXES[self.coordinates.dim]:
            yield a + i, b + k

    def _locate(self):
        """Find the slots of all but contact, and what each copies from the sums over the cells."""
        width = len(self._pairs[0]) + 1
        # the slot after the last pair stays empty
        self._source = np.full(self.pattern.nnz, width - 1)
        for number, (row, col) in enumerate(self._places()):
            sums = number * width + np.arange(width - 1)
            slots = self.pattern.positions(row, col)
            self._source[slots] = self._source[self.pattern.mirror[slots]] = sums
        for term in (*self._spins, self._cliques):
            term.locate(self.pattern)
        co = self.coordinates
        self._turn_slots = self.pattern.positions(
            *cliques([co.spin_unknowns.reshape(co.bodies, co.spins)]))

    def _reserve(self, touches, pushes) -> None:
        """Widen the pattern by all contact pairs within ``REACH_MM``, which are likely to meet.

        Pairs further apart stay out, since each costs fill in the factors, unless matrices ``pushes``
        have them already.
        """
        places = [_places(push) for push in pushes]
        for number, (contact, touch) in enumerate(zip(self.contacts, touches, strict=True)):
            near = touch.pair.meeting[touch.pair.gap_mm < REACH_MM]
            self._near[number] = distinct(np.concatenate([self._near[number], near]))
            of_blocks = contact.cliques(self._near[number]) @ self.coordinates.blocks_of_nodes
            places.append(_places(of_blocks.T.tocsr() @ of_blocks))
        moved = self.pattern.add_blocks(*np.concatenate(places, axis=1))
        source, self._source = self._source, np.full(self.pattern.nnz, len(self._pairs[0]))
        self._source[moved] = source
        for term in (*self._spins, self._cliques):
            term.move(moved)
        self._turn_slots = moved[self._turn_slots]

    def memory(self, state: State) -> tuple[Memory, ...]:
        """Return contact memories that have carried nothing."""
        return tuple(c.memory(state.x) for c in self.contacts)

    def rays(self, state: State, memory):
        """Lay the rays of every contact; frozen until called again."""
        return tuple(c.rays(state.x, m) for c, m in zip(self.contacts, memory, strict=True))

    def least_volume_ratio(self, state: State) -> float:
        """Return the smallest ratio of current to unloaded volume at a quadrature point."""
        return min(float(np.linalg.det(s.deformation(state.x)).min()) for s in self.solids)

    def displacement(self, state: State) -> np.ndarray:
        """Return the displacement of every unknown from the reference (3D spins: zero)."""
        co = self.coordinates
        out = np.zeros(co.size)
        out[: co.first_body] = (state.x - co.points)[co.free].ravel()
        body = np.zeros((co.bodies, co.body_dofs))
        body[:, : co.dim] = state.centre - co.centres
        if co.dim == 2:
            body[:, 2:] = state.angle
        out[co.first_body:] = body.ravel()
        return out

    def interior(self, state: State, load: Load, *, tangent=True) -> Interior:
        """Evaluate all but contact; with ``tangent`` the solids' Hessians along with the rest."""
        co, x = self.coordinates, state.x
        full, energy, scale = np.zeros(co.full_size), 0.0, 0.0
        hessians, cliques = [], []
        for solid in self.solids:
            part, grad, hess = solid.derivatives(x, tangent)
            if not np.isfinite(part):
                return Interior(np.inf)
            energy += part
            full += np.bincount(solid.dofs.ravel(), grad.ravel(), co.full_size)
            if tangent:
                hessians.append(hess)
        tension = load.tensions()
        cables = [replace(c, tension_N=tension.get(c.name, c.tension_N)) for c in self.cables]
        for term in (*cables, *self.springs):
            part, dofs, grad, hess = term.evaluate(x)
            energy += part
            np.add.at(full, dofs, grad)
            cliques.append(hess)
        for pressure in self.pressures:
            factor = pressure.value_MPa * load.pressure
            volume, dofs, grad, hess = pressure.evaluate(x)
            energy += factor * volume
            np.add.at(full, dofs.ravel(), factor * grad.ravel())
            cliques.append(factor * hess)
            scale = max(scale, float(np.linalg.norm(factor * grad)))
        for joint in self.joints:
            part, moment, slope = joint.evaluate(state)
            energy += part
            a, b = (co.node_dofs + body * co.body_dofs + co.dim + np.arange(co.spins)
                    for body in (joint.body_a, joint.body_b))
            full[a] -= moment
            full[b] += moment
            cliques.append(joint.hessian(state, moment, slope))
        if load.node_force_N is not None:
            full[: co.node_dofs] -= load.node_force_N.ravel()
            energy -= float(np.sum(load.node_force_N * x))
            scale = max(scale, float(np.abs(load.node_force_N).sum()))
        return Interior(energy, full, scale, co.reduction(state), hessians, tuple(cliques))

    def evaluate(self, state: State, load: Load, rays, memory, *, tangent=True,
                 interior: Interior | None = None) -> Evaluation:
        """Evaluate energy, residual and, with ``tangent``, matrix data.

        ``interior`` is that of the same state and load, when it is known.
        """
        co = self.coordinates
        interior = interior or self.interior(state, load, tangent=tangent)
        energy, scale = interior.energy_Nmm, interior.scale_N
        if not np.isfinite(energy):
            return Evaluation(state, np.inf, np.zeros(co.full_size), np.full(co.size, np.inf),
                              None, (), np.inf, interior)
        full = interior.gradient.copy()
        touches = tuple(contact.touch(state.x, ray, mem) for contact, ray, mem
                        in zip(self.contacts, rays, memory, strict=True))
        for touch in touches:
            energy += touch.energy_Nmm
            full[: co.node_dofs] += touch.gradient
            scale = max(scale, float(np.linalg.norm(touch.status.force_N)))
        residual = interior.reduction.T @ full
        shift = self.displacement(state) if load.body_force else None
        for body, force in load.body_force.items():
            residual[co.body_slice(body)] -= force
            energy -= float(force @ shift[co.body_slice(body)])
            scale = max(scale, float(np.linalg.norm(force[: co.dim])))
        scale = max(scale, float(np.abs(residual[list(load.held)]).max()) if load.held else 0.0)
        here = Evaluation(state, energy, full, residual, None, tuple(t.status for t in touches),
                          scale, interior, touches)
        return replace(here, data=self.tangent(here)) if tangent else here

    def tangent(self, evaluation: Evaluation, *, geometric=True, exact=False) -> np.ndarray:
        """Return the matrix data at an evaluated state; the pattern may grow.

        ``geometric`` keeps the contact's second-order term, which can be indefinite; ``exact``
        makes the matrix the derivative of the residual where contact surfaces have facets.
        """
        co, state, interior = self.coordinates, evaluation.state, evaluation.interior
        reduction, hessians = interior.reduction, interior.hessians
        if not hessians:
            hessians.extend(s.derivatives(state.x)[2] for s in self.solids)
        move = reduction[: co.node_dofs].tobsr((co.dim, co.block)) if evaluation.touches else None
        pushes = [part for touch in evaluation.touches for part in contact_hessian(
            touch, move, geometric=geometric, exact=exact and touch.curved)]
        slots = [self.pattern.entries(push) for push in pushes]
        if any(s is None for s in slots):
            self._reserve(evaluation.touches, pushes)
            slots = [self.pattern.entries(push) for push in pushes]
        data = self._assembled(hessians)
        lever = np.concatenate([co.levers(state), np.zeros((1, co.dim, co.spins))])
        for spins, blocks in zip(self._spins, hessians, strict=True):
            spins.add(data, blocks, lever)
        self._cliques.add(data, interior.cliques, lever)
        turn = co.geometric(state, evaluation.gradient[: co.node_dofs].reshape(-1, co.dim))
        data[self._turn_slots] += turn.ravel()
        for at, push in zip(slots, pushes, strict=True):
            data[at] += push.data
        return data

    def _assembled(self, blocks) -> np.ndarray:
        """Return the matrix data of the cells without spins, given the blocks of each solid."""
        sums = np.zeros((len(AXES[self.coordinates.dim]), len(self._pairs[0]) + 1))
        for solid, at in zip(blocks, self._sums, strict=True):
            for total, block in zip(sums, solid, strict=True):
                np.add.at(total, at, block.ravel())
        data = np.empty(len(self._source))

        def copy(start):
            part = slice(start, start + COPIED)
            sums.take(self._source[part], out=data[part], mode="clip")

        spread(copy, range(0, len(data), COPIED))
        return data


def _places(matrix) -> np.ndarray:
    """Return rows and columns (2, k) of the blocks, or entries, of a sparse matrix."""
    return np.stack([np.repeat(np.arange(len(matrix.indptr) - 1), np.diff(matrix.indptr)),
                     matrix.indices])

"""The whole model: its terms, their assembly into one sparse system, and its external load.

Terms give their derivatives over *full* coordinates: node coordinates, then translation and spin of
each body. Cells without rigid nodes are summed by pairs of nodes, and the sums copied to their
places in the reduced matrix, both through maps made once; everything that touches a body is reduced
by T^T K T (see :mod:`fefoot.mechanics.state`).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
import scipy.sparse as sp

from .balance import Balance
from .cable import Cable
from .contact import Contact, Memory, Status
from .joint import Joint, Spring
from .linear import Pattern
from .pressure import Pressure
from .solid import AXES, Solid, pool
from .state import Coordinates, State

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
class Evaluation:
    """Energy and derivatives at one state.

    Attributes
    ----------
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
    """

    energy_Nmm: float
    gradient: np.ndarray
    residual: np.ndarray
    data: np.ndarray | None
    status: tuple[Status, ...]
    scale_N: float


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
        self.pattern = Pattern(coordinates.size)
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
        """Sort the cells into free and body-touching ones, and map both."""
        co = self.coordinates
        node = [co.q_of_full[s.cells * co.dim] // co.dim for s in self.solids]
        free = [(n >= 0).all(1) for n in node]
        self._touch = [np.flatnonzero(~f) for f in free]
        keys = [n[:, :, None] * co.size + n[:, None, :] for n in node]
        pairs = _distinct(np.concatenate(
            [np.zeros(0, int), *(k[f].ravel() for k, f in zip(keys, free, strict=True))]))
        self._pairs = pairs // co.size, pairs % co.size
        # the slot after the last pair takes what touches bodies
        self._sums = [np.where(f[:, None, None], np.searchsorted(pairs, k), len(pairs)).ravel()
                      for k, f in zip(keys, free, strict=True)]
        every = np.arange(co.size)
        rows, cols = zip((every, every), *self._places(), strict=True)
        self.pattern.add(np.concatenate(rows), np.concatenate(cols))
        self._map()
        self._touch_pattern = None
        tr = [np.repeat(s.dofs[t], s.dofs.shape[1], axis=1).ravel()
              for s, t in zip(self.solids, self._touch, strict=True)]
        tc = [np.tile(s.dofs[t], (1, s.dofs.shape[1])).ravel()
              for s, t in zip(self.solids, self._touch, strict=True)]
        if tr and sum(map(len, tr)):
            pattern = Pattern(co.full_size)
            r, c = np.concatenate(tr), np.concatenate(tc)
            pattern.add(r, c)
            self._touch_pattern, self._touch_at = pattern, pattern.positions(r, c)
        self._cache = None

    def _places(self):
        """Yield row and column of all pairs of nodes for every pair of axes."""
        a, b = (node * self.coordinates.dim for node in self._pairs)
        for i, k in AXES[self.coordinates.dim]:
            yield a + i, b + k

    def _map(self):
        """Find what each slot of the reduced matrix copies from the sums over the free cells."""
        width = len(self._pairs[0]) + 1
        self._source = np.full(len(self.pattern.keys), width - 1)
        for number, (row, col) in enumerate(self._places()):
            sums = number * width + np.arange(width - 1)
            self._source[self.pattern.positions(row, col)] = sums
            self._source[self.pattern.positions(col, row)] = sums
        self._mapped = self.pattern.version

    def memory(self, state: State) -> tuple[Memory, ...]:
        """Return contact memories that have carried nothing."""
        return tuple(c.memory(state.x) for c in self.contacts)

    def rays(self, state: State, memory):
        """Lay the rays of every contact; frozen until called again."""
        return tuple(c.rays(state.x, m) for c, m in zip(self.contacts, memory, strict=True))

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

    def evaluate(self, state: State, load: Load, rays, memory, *, tangent=True,
                 geometric=True, exact=False) -> Evaluation:
        """Evaluate energy, residual and, with ``tangent``, matrix data.

        ``geometric`` keeps the contact's second-order term, which can be indefinite; ``exact``
        makes the matrix the derivative of the residual where contact surfaces have facets.
        """
        co, x = self.coordinates, state.x
        full = np.zeros(co.full_size)
        blocks: list[tuple[np.ndarray, np.ndarray]] = []
        energy, scale = 0.0, 0.0
        hessians = []
        for solid in self.solids:
            part, grad, hess = solid.derivatives(x, tangent)
            if not np.isfinite(part):
                return Evaluation(np.inf, full, np.full(co.size, np.inf), None, (), np.inf)
            energy += part
            full += np.bincount(solid.dofs.ravel(), grad.ravel(), co.full_size)
            hessians.append(hess)
        tension = load.tensions()
        for cable in self.cables:
            if cable.name in tension:
                cable = replace(cable, tension_N=tension[cable.name])
            part, dofs, grad, hess = cable.evaluate(x)
            energy += part
            full[: co.node_dofs] += np.bincount(dofs, grad, co.node_dofs)
            blocks.append((dofs, hess))
        for spring in self.springs:
            part, dofs, grad, hess = spring.evaluate(x)
            energy += part
            full[: co.node_dofs] += np.bincount(dofs, grad, co.node_dofs)
            blocks.append((dofs, hess))
        for pressure in self.pressures:
            factor = pressure.value_MPa * load.pressure
            volume, dofs, grad, hess = pressure.evaluate(x)
            energy += factor * volume
            full[: co.node_dofs] += factor * np.bincount(
                dofs.ravel(), grad.ravel(), co.node_dofs)
            blocks.append((dofs, factor * hess))
            scale = max(scale, float(np.linalg.norm(factor * grad)))
        for joint in self.joints:
            part, moment, slope = joint.evaluate(state)
            energy += part
            a, b = (co.node_dofs + body * co.body_dofs + co.dim + np.arange(co.spins)
                    for body in (joint.body_a, joint.body_b))
            full[a] -= moment
            full[b] += moment
            blocks.append((np.concatenate([a, b]), joint.hessian(state, moment, slope)))
        status, sparse = [], []
        for contact, ray, mem in zip(self.contacts, rays, memory, strict=True):
            part, grad, hess, stat = contact.evaluate(
                x, ray, mem, tangent=tangent, geometric=geometric, exact=exact)
            energy += part
            full[: co.node_dofs] += grad
            status.append(stat)
            sparse.append(hess)
            scale = max(scale, float(np.linalg.norm(stat.force_N)))
        if load.node_force_N is not None:
            full[: co.node_dofs] -= load.node_force_N.ravel()
            energy -= float(np.sum(load.node_force_N * x))
            scale = max(scale, float(np.abs(load.node_force_N).sum()))
        reduction = co.reduction(state)
        residual = reduction.T @ full
        shift = self.displacement(state)
        for body, force in load.body_force.items():
            residual[co.body_slice(body)] -= force
            energy -= float(force @ shift[co.body_slice(body)])
            scale = max(scale, float(np.linalg.norm(force[: co.dim])))
        scale = max(scale, float(np.abs(residual[list(load.held)]).max()) if load.held else 0.0)
        data = None
        if tangent:
            data = self._matrix(state, full, blocks, hessians, sparse, reduction)
        return Evaluation(energy, full, residual, data, tuple(status), scale)

    def _matrix(self, state, full, blocks, hessians, sparse, reduction):
        co = self.coordinates
        other = sp.csr_matrix((co.full_size, co.full_size))
        if self._touch_pattern is not None:
            values = np.concatenate(
                [s.matrices(h[:, t]).ravel()
                 for s, h, t in zip(self.solids, hessians, self._touch, strict=True)])
            pattern = self._touch_pattern
            other = pattern.matrix(
                np.bincount(self._touch_at, values, len(pattern.keys)))
        if blocks:
            rows, cols = _cliques([d for d, _ in blocks])
            vals = np.concatenate([h.ravel() for _, h in blocks])
            other = other + sp.csr_matrix((vals, (rows, cols)), shape=other.shape)
        for hess in sparse:
            hess = hess.tocsr()
            hess.resize(other.shape)
            other = other + hess
        reduced = (reduction.T.tocsr() @ (other @ reduction)).tocoo()
        rows, cols, vals = [reduced.row], [reduced.col], [reduced.data]
        if co.bodies:
            spin = co.geometric(state, full[: co.node_dofs].reshape(-1, co.dim))
            at = (co.first_body + np.arange(co.bodies)[:, None] * co.body_dofs + co.dim
                  + np.arange(co.spins))
            rows.append(np.repeat(at, co.spins, axis=1).ravel())
            cols.append(np.tile(at, (1, co.spins)).ravel())
            vals.append(spin.ravel())
        rows, cols, vals = map(np.concatenate, (rows, cols, vals))
        slots = self.pattern.positions(rows, cols)
        if slots is None:
            self.pattern.add(rows, cols)
            slots = self.pattern.positions(rows, cols)
        if self._mapped != self.pattern.version:
            self._map()
        data = self._assembled(hessians)
        np.add.at(data, slots, vals)
        return data

    def _assembled(self, blocks) -> np.ndarray:
        """Return the matrix data of the free cells, given the blocks of each solid."""
        sums = np.zeros((len(AXES[self.coordinates.dim]), len(self._pairs[0]) + 1))
        for solid, at in zip(blocks, self._sums, strict=True):
            for total, block in zip(sums, solid, strict=True):
                np.add.at(total, at, block.ravel())
        sums[:, -1] = 0.0
        data = np.empty(len(self._source))

        def copy(start):
            part = slice(start, start + COPIED)
            sums.take(self._source[part], out=data[part], mode="clip")

        list(pool().map(copy, range(0, len(data), COPIED)))
        return data

    def reserve(self, state: State, rays) -> None:
        """Widen the pattern by all that touches bodies and by the contact pairs likely to meet."""
        co = self.coordinates
        reduction = co.reduction(state)
        reduction.data[:] = 1.0
        size = (co.full_size, co.full_size)
        groups = [term.evaluate(state.x)[1] for term in (*self.cables, *self.springs)]
        groups += [term.evaluate(state.x)[1] for term in self.pressures]
        groups += [co.node_dofs + np.concatenate(
            [b * co.body_dofs + co.dim + np.arange(co.spins) for b in (j.body_a, j.body_b)])
            for j in self.joints]
        groups += [co.node_dofs + b * co.body_dofs + np.arange(co.body_dofs)
                   for b in range(co.bodies)]
        wide = sp.csr_matrix(size)
        if groups:
            rows, cols = _cliques(groups)
            wide = sp.csr_matrix((np.ones(len(rows)), (rows, cols)), shape=size)
        if self._touch_pattern is not None:
            wide = wide + self._touch_pattern.matrix(np.ones(len(self._touch_pattern.keys)))
        for contact, ray in zip(self.contacts, rays, strict=True):
            near = contact.structure(state.x, ray)
            near.resize(size)
            wide = wide + near
        wide = (reduction.T.tocsr() @ (wide @ reduction)).tocoo()
        self.pattern.add(wide.row, wide.col)


def _distinct(keys: np.ndarray) -> np.ndarray:
    """Return the distinct keys (n,) in rising order; much faster here than a hash table."""
    keys = np.sort(keys)
    return keys[np.diff(keys, prepend=-1) > 0]


def _cliques(groups) -> tuple[np.ndarray, np.ndarray]:
    """Return row and column of every pair within each group of dofs (w,) or row of (n, w)."""
    rows, cols = [], []
    for group in map(np.atleast_2d, groups):
        width = group.shape[1]
        rows.append(np.repeat(group, width, axis=1).ravel())
        cols.append(np.tile(group, (1, width)).ravel())
    return np.concatenate(rows), np.concatenate(cols)

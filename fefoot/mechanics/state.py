"""Rigid bodies with finite rotations and the state of the whole model.

A body carries nodes: x = c + R (X - C). The unknowns q of the model are the coordinates of the free
nodes followed, per body, by a translation of its centre and a *spin*: the rotation is updated as
R <- exp(dtheta) R, so rotations are unlimited and no angle is a coordinate in 3D. To second order

    dx = dc + dtheta x r + 1/2 dtheta x (dtheta x r),    r = x - c,

which gives the reduction dx = T dq and, for a node force f, the geometric term
1/2 (f r^T + r f^T) - (f . r) I on the spin (in 2D: - f . r).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import scipy.sparse as sp


def rotation(spin: np.ndarray) -> np.ndarray:
    """Rotation matrices (n, d, d) of spins (n, 1) in 2D or (n, 3) in 3D (Rodrigues' formula)."""
    if spin.shape[1] == 1:
        c, s = np.cos(spin[:, 0]), np.sin(spin[:, 0])
        return np.stack([np.stack([c, -s], -1), np.stack([s, c], -1)], -2)
    angle = np.linalg.norm(spin, axis=1)[:, None, None]
    k = skew(spin)
    safe = np.maximum(angle, 1e-8)
    a = np.where(angle > 1e-8, np.sin(safe) / safe, 1 - angle**2 / 6)
    b = np.where(angle > 1e-4, (1 - np.cos(safe)) / safe**2, 0.5 - angle**2 / 24)
    return np.eye(3) + a * k + b * k @ k


def skew(v: np.ndarray) -> np.ndarray:
    """Cross-product matrices [v] (n, 3, 3) with [v] w = v x w."""
    m = np.zeros((*v.shape[:-1], 3, 3))
    m[..., 0, 1], m[..., 0, 2], m[..., 1, 2] = -v[..., 2], v[..., 1], -v[..., 0]
    m[..., 1, 0], m[..., 2, 0], m[..., 2, 1] = v[..., 2], -v[..., 1], v[..., 0]
    return m


@dataclass(frozen=True)
class State:
    """Where everything is.

    Attributes
    ----------
    x : (n, d) float array
        Node positions, mm.
    centre : (b, d) float array
        Body centres, mm.
    turn : (b, d, d) float array
        Body rotations.
    angle : (b, 1) float array in 2D
        Accumulated angle, rad, without the 2 pi ambiguity of ``turn``; unused in 3D.
    """

    x: np.ndarray
    centre: np.ndarray
    turn: np.ndarray
    angle: np.ndarray


class _Frame:
    """Sparse matrices with entries at the same distinct places."""

    def __init__(self, rows, cols, shape):
        self.order, self.shape = np.lexsort((cols, rows)), shape
        self.indices = cols[self.order].astype(np.int32)
        self.indptr = np.searchsorted(
            rows[self.order], np.arange(shape[0] + 1)).astype(np.int32)

    def matrix(self, values: np.ndarray) -> sp.csr_matrix:
        """Return the matrix with the given values, in the order of the places."""
        return sp.csr_matrix((values[self.order], self.indices, self.indptr), shape=self.shape)


class Coordinates:
    """Which node is free and which rides on a body; the map between nodes and unknowns.

    Parameters
    ----------
    points : (n, d) float array
        Reference positions.
    body_of : (n,) int array
        Body number of each node, -1 for a free node.
    centres : (b, d) float array
        Reference centre of each body.
    """

    def __init__(self, points: np.ndarray, body_of: np.ndarray, centres: np.ndarray):
        self.points, self.body_of = np.asarray(points, float), np.asarray(body_of, int)
        self.centres = np.asarray(centres, float).reshape(-1, self.points.shape[1])
        n, d = self.points.shape
        self.dim, self.spins = d, 1 if d == 2 else 3
        self.bodies = len(self.centres)
        self.free = np.flatnonzero(self.body_of < 0)
        self.rigid = np.flatnonzero(self.body_of >= 0)
        self.node_dofs = n * d
        self.body_dofs = d + self.spins
        self.full_size = self.node_dofs + self.bodies * self.body_dofs
        self.size = len(self.free) * d + self.bodies * self.body_dofs
        self.first_body = len(self.free) * d
        # unknowns come in threes in space: those of a node, a body's translation, its spin
        self.block = 3 if d == 3 else 1
        self.q_of_full = np.full(self.full_size, -1)
        free_dofs = (self.free[:, None] * d + np.arange(d)).ravel()
        self.q_of_full[free_dofs] = np.arange(self.first_body)
        self.q_of_full[self.node_dofs:] = np.arange(self.first_body, self.size)
        body = np.arange(self.bodies) * self.body_dofs
        self.spin_unknowns = (self.first_body + body[:, None] + d + np.arange(self.spins)).ravel()
        # where a node's own unknowns begin: its coordinates, or the translation of its body
        self.first_unknown = self.q_of_full[: self.node_dofs : d].copy()
        self.first_unknown[self.rigid] = self.first_body + body[self.body_of[self.rigid]]
        # a rigid node's row among the levers
        self.rigid_number = np.full(n, -1)
        self.rigid_number[self.rigid] = np.arange(len(self.rigid))
        self._offset = self.points[self.rigid] - self.centres[self.body_of[self.rigid]]
        self._frame()

    def _frame(self):
        """Lay out the fixed pattern of T."""
        d, m = self.dim, len(self.rigid)
        known = np.flatnonzero(self.q_of_full >= 0)
        start = self.first_body + self.body_of[self.rigid] * self.body_dofs
        rows = (self.rigid[:, None] * d + np.arange(d))
        t_rows = np.concatenate(
            [known, rows.ravel(), np.repeat(rows[:, :, None], self.spins, 2).ravel()]
        )
        spin_cols = start[:, None, None] + d + np.arange(self.spins)
        t_cols = np.concatenate(
            [self.q_of_full[known], (start[:, None] + np.arange(d)).ravel(),
             np.broadcast_to(spin_cols, (m, d, self.spins)).ravel()]
        )
        self._t = _Frame(t_rows, t_cols, (self.full_size, self.size))
        self._t_ones = np.ones(len(known) + m * d)

    @cached_property
    def blocks_of_nodes(self) -> sp.csr_matrix:
        """Which blocks of unknowns (n, size / block) move each node."""
        b, on = self.block, np.flatnonzero(self.body_of >= 0)
        first = [(np.arange(len(self.points)), self.first_unknown + i) for i in range(0, self.dim, b)]
        spin = [(on, self.first_unknown[on] + self.dim + i) for i in range(0, self.spins, b)]
        rows, cols = (np.concatenate(v) for v in zip(*first, *spin, strict=True))
        return sp.csr_matrix((np.ones(len(rows)), (rows, cols // b)),
                             shape=(len(self.points), self.size // b))

    def start(self) -> State:
        """Return the reference state."""
        d = self.dim
        return State(
            self.points.copy(), self.centres.copy(),
            np.broadcast_to(np.eye(d), (self.bodies, d, d)).copy(), np.zeros((self.bodies, 1)),
        )

    def arms(self, state: State) -> np.ndarray:
        """Return r = x - c of the rigid nodes (m, d)."""
        return state.x[self.rigid] - state.centre[self.body_of[self.rigid]]

    def reduction(self, state: State) -> sp.csr_matrix:
        """Return T (full_size, size): the variation of nodes and body coordinates with q."""
        return self._t.matrix(np.concatenate([self._t_ones, self.levers(state).ravel()]))

    def levers(self, state: State) -> np.ndarray:
        """Return the variation (m, d, spins) of each rigid node with its body's spin."""
        r = self.arms(state)
        return np.stack([-r[:, 1], r[:, 0]], -1)[:, :, None] if self.dim == 2 else -skew(r)

    def geometric(self, state: State, force: np.ndarray):
        """Second-order term of the bodies under the node gradient ``force`` (n, d).

        Returns the body block (b, spins, spins) to add to the Hessian.
        """
        r, f = self.arms(state), force[self.rigid]
        dot = np.einsum("ni,ni->n", f, r)
        if self.dim == 2:
            block = -dot[:, None, None]
        else:
            outer = np.einsum("ni,nj->nij", f, r)
            block = 0.5 * (outer + outer.transpose(0, 2, 1)) - dot[:, None, None] * np.eye(3)
        total = np.zeros((self.bodies, self.spins, self.spins))
        np.add.at(total, self.body_of[self.rigid], block)
        return total

    def body_slice(self, body: int) -> slice:
        """Return the unknowns of a body: translation first, then spin."""
        first = self.first_body + body * self.body_dofs
        return slice(first, first + self.body_dofs)

    def node_q(self, nodes: np.ndarray) -> np.ndarray:
        """Return the unknowns (k, d) of free nodes."""
        q = self.q_of_full[np.asarray(nodes)[:, None] * self.dim + np.arange(self.dim)]
        if (q < 0).any():
            raise ValueError("a node that rides on a body has no unknowns of its own")
        return q

    def moved(self, state: State, dq: np.ndarray) -> State:
        """Return the state after the increment ``dq`` (size,)."""
        d = self.dim
        x = state.x.copy()
        x[self.free] += dq[: self.first_body].reshape(-1, d)
        step = dq[self.first_body:].reshape(self.bodies, self.body_dofs)
        centre = state.centre + step[:, :d]
        turn = rotation(step[:, d:]) @ state.turn
        body = self.body_of[self.rigid]
        x[self.rigid] = centre[body] + np.einsum("nij,nj->ni", turn[body], self._offset)
        angle = state.angle + step[:, d:] if d == 2 else state.angle
        return replace(state, x=x, centre=centre, turn=turn, angle=angle)

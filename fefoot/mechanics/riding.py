"""Hessians of terms whose nodes ride on bodies, reduced to the unknowns and put into the matrix.

A node on a body moves with the body's translation and, by its lever, with its spin (see
:mod:`fefoot.mechanics.state`). Everything here has fixed places in the matrix, found once per
pattern; only the levers change with the state.
"""

from __future__ import annotations

import numpy as np

from .pattern import Pattern
from .solid import AXES
from .state import Coordinates


class CellSpins:
    """The rows and columns of spins that come from cells with nodes on bodies.

    For a cell with Hessian H and a body with levers L (zero for nodes not on it), H L is the part
    of unknowns and spin, and L'^T H L that of two spins.

    Parameters
    ----------
    coordinates : Coordinates
    cells : (m, k) int array
    """

    def __init__(self, coordinates: Coordinates, cells: np.ndarray):
        co, d, s = coordinates, coordinates.dim, coordinates.spins
        on = co.body_of[cells]
        key = np.unique((np.arange(len(cells))[:, None] * co.bodies + on)[on >= 0])
        self.cell, body = np.divmod(key, max(co.bodies, 1))
        nodes = cells[self.cell]
        # a node that is not on the body takes the last lever, which is zero
        self._lever = np.where(on[self.cell] == body[:, None], co.rigid_number[nodes], len(co.rigid))
        spin = co.spin_unknowns.reshape(co.bodies, s)[body]
        unknown = co.first_unknown[nodes][:, :, None] + np.arange(d)
        shape = (*unknown.shape, s)
        row, col = (np.broadcast_to(v, shape).ravel()
                    for v in (unknown[..., None], spin[:, None, None]))
        self._first, self._second = _siblings(self.cell)
        shape = (len(self._first), s, s)
        spin_row, spin_col = (np.broadcast_to(v, shape).ravel() for v in (
            spin[self._first][:, :, None], spin[self._second][:, None]))
        self.places = (np.concatenate([row, col, spin_row]), np.concatenate([col, row, spin_col]))

    def locate(self, pattern: Pattern) -> None:
        """Find the places in a pattern that holds them."""
        self._slots = pattern.positions(*self.places)

    def move(self, moved: np.ndarray) -> None:
        """Follow a pattern that has grown, given the new slots of its old entries."""
        self._slots = moved[self._slots]

    def add(self, data: np.ndarray, blocks: np.ndarray, lever: np.ndarray) -> None:
        """Add the cells' part to the matrix data.

        Parameters
        ----------
        blocks : (d (d + 1) / 2, m, k k) array
            See :meth:`fefoot.mechanics.solid.Solid.derivatives`.
        lever : (r + 1, d, s) array
            Of the rigid nodes, and a zero.
        """
        if not len(self.cell):
            return
        d = lever.shape[1]
        L = np.ascontiguousarray(lever[self._lever].transpose(2, 0, 1, 3))
        _, count, k, s = L.shape
        part = np.zeros((d, count, k, s))
        for block, (i, j) in zip(blocks, AXES[d], strict=True):
            block = block[self.cell].reshape(count, k, k)
            part[i] += block @ L[j]
            if i != j:
                part[j] += block.transpose(0, 2, 1) @ L[i]
        two = sum(L[i][self._first].transpose(0, 2, 1) @ part[i][self._second] for i in range(d))
        part = part.transpose(1, 2, 0, 3).ravel()
        np.add.at(data, self._slots, np.concatenate([part, part, two.ravel()]))


def _siblings(cell):
    """Return all ordered pairs of positions with the same value in a sorted array."""
    first, second = [np.zeros(0, int)], [np.zeros(0, int)]
    here = np.arange(len(cell))
    for shift in range(len(cell)):
        same = here[: len(cell) - shift]
        same = same[cell[same] == cell[same + shift]]
        if not len(same):
            break
        first += [same, same + shift] if shift else [same]
        second += [same + shift, same] if shift else [same]
    return np.concatenate(first), np.concatenate(second)


class Cliques:
    """Terms that couple all of some full coordinates, reduced to the unknowns.

    Parameters
    ----------
    coordinates : Coordinates
    groups : list of (w,) or (n, w) int arrays
        Full coordinates of each term.
    """

    def __init__(self, coordinates: Coordinates, groups: list[np.ndarray]):
        co = coordinates
        unknown, lever = _moves(co)
        row, col = cliques(groups) if groups else np.zeros((2, 0), int)
        shape = (len(row), unknown.shape[1], unknown.shape[1])
        rows, cols, left, right = (np.broadcast_to(v, shape) for v in (
            unknown[row][:, :, None], unknown[col][:, None],
            lever[row][:, :, None], lever[col][:, None]))
        entry = np.broadcast_to(np.arange(len(row))[:, None, None], shape)
        use = (rows >= 0) & (cols >= 0)
        self.places = rows[use], cols[use]
        self._entry, self._left, self._right = entry[use], left[use], right[use]

    def locate(self, pattern: Pattern) -> None:
        """Find the places in a pattern that holds them."""
        self._slots = pattern.positions(*self.places)

    def move(self, moved: np.ndarray) -> None:
        """Follow a pattern that has grown, given the new slots of its old entries."""
        self._slots = moved[self._slots]

    def add(self, data: np.ndarray, hessians, lever: np.ndarray) -> None:
        """Add Hessians, in the order of the groups, to the matrix data; for ``lever`` see above."""
        if len(self._slots):
            values = np.concatenate([h.ravel() for h in hessians])
            lever = np.append(lever.ravel(), 1.0)
            np.add.at(data, self._slots,
                      values[self._entry] * lever[self._left] * lever[self._right])


def _moves(co: Coordinates):
    """Unknowns (full_size, 1 + s) that move each full coordinate, -1 for none, and lever numbers.

    The last lever number stands for one.
    """
    d, s = co.dim, co.spins
    unknown = np.full((co.full_size, 1 + s), -1)
    lever = np.full((co.full_size, 1 + s), (len(co.rigid) + 1) * d * s)
    unknown[: co.node_dofs, 0] = (co.first_unknown[:, None] + np.arange(d)).ravel()
    unknown[co.node_dofs:, 0] = co.q_of_full[co.node_dofs:]
    dofs = (co.rigid[:, None] * d + np.arange(d)).ravel()
    spin = co.spin_unknowns.reshape(co.bodies, s)[co.body_of[co.rigid]]
    unknown[dofs, 1:] = np.repeat(spin, d, axis=0)
    lever[dofs, 1:] = np.arange(len(dofs) * s).reshape(-1, s)
    return unknown, lever


def cliques(groups) -> tuple[np.ndarray, np.ndarray]:
    """Return row and column of every pair within each group of dofs (w,) or row of (n, w)."""
    rows, cols = [], []
    for group in map(np.atleast_2d, groups):
        rows.append(np.repeat(group, group.shape[1], axis=1).ravel())
        cols.append(np.tile(group, group.shape[1]).ravel())
    return np.concatenate(rows), np.concatenate(cols)

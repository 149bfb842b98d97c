"""The Hessian of a contact, from the rows of its vertices and the bending of its points.

The pressures' part is L^T R: a row for the integrated gap of each vertex and, with friction, d rows for
its slip. They share their nodes and are kept in blocks (rows, d) by node. The second derivatives of the
gaps couple the twelve (in 2D six) nodes of a point's own facet and of the target's; points on the same
pair of facets share them, and are summed as products of small matrices before they are put together.
"""

from __future__ import annotations

import numpy as np
import scipy.sparse as sp

from .pairs import Pairs

GROUP = 8
"""Points that are summed at a time: a pair of facets has about a dozen."""


def contact_hessian(touch, move: sp.bsr_matrix | None = None, *, geometric: bool = True,
                    exact: bool = False) -> list[sp.bsr_matrix]:
    """Return matrices whose sum is the Hessian.

    Parameters
    ----------
    touch : Touch
    move : blocks (d, b), optional
        How the coordinates of the nodes move with the unknowns, over which the Hessian is wanted.
    geometric : bool
        Whether the second derivative of the gaps takes part.
    exact : bool
        Whether to give the derivative of the gradient where the target has several facets, which is
        not symmetric.
    """
    left, right = _vertex_rows(touch, exact)
    if move is not None:
        left, right = left @ move, right @ move
    parts = [left.T @ right]
    use = np.flatnonzero(touch.force_N > 0)
    if geometric and len(use):
        rub = touch.slip.point_force_N[use] if touch.slip and exact else None
        bending = _bending(touch.pair.taken(use), touch.force_N[use], rub, exact,
                           len(touch.gradient) // touch.pair.a.shape[1])
        parts.append(bending if move is None else move.T @ (bending @ move))
    return parts


def _vertex_rows(touch, exact: bool) -> tuple[sp.bsr_matrix, sp.bsr_matrix]:
    """Return L and R in blocks (rows of a vertex, d) over the nodes."""
    pair, slip = touch.pair, touch.slip
    d = pair.a.shape[1]
    count = len(touch.gradient) // d
    active = (touch.stiffness > 0) | slip.holds if slip else touch.stiffness > 0
    point, corner = np.nonzero(active[pair.vertex] & (pair.share > 0))
    share = (pair.share[point, corner, None] * pair.sign[point]).ravel()
    key = (pair.vertex[point, corner, None] * count + pair.nodes[point]).ravel()
    order = np.argsort(key, kind="stable")
    first = np.flatnonzero(np.diff(key[order], prepend=-1))
    vertex, nodes = np.divmod(key[order[first]], count)
    slot = np.empty(len(key), int)
    slot[order] = np.repeat(np.arange(len(first)), np.diff(first, append=len(key)))
    point = np.repeat(point, pair.nodes.shape[1])

    def summed(values):
        return np.bincount(slot, share * values[point], len(first))

    def vectors(values):
        return np.stack([summed(v) for v in values.T], 1)

    length = np.bincount(vertex, minlength=len(active))
    length = length[length > 0]
    gap = vectors(pair.a)
    pressure = -touch.stiffness[vertex, None] * (vectors(pair.own_a) if exact else gap)
    left, right = gap[:, None], -pressure[:, None]
    if slip:
        local, coupling, drift = slip.slopes()
        # minus the slip's slope is sign times that with the relative displacement, row by row
        moved = across = np.empty((len(first), d, d))
        for i in range(d):
            for j in range(i, d):
                across[:, i, j] = across[:, j, i] = summed(
                    float(i == j) - slip.normal[:, i] * slip.normal[:, j])
        if drift is not None:
            moved = across - np.stack([vectors(drift[:, i]) for i in range(d)], 1)
        change = local[vertex] @ moved - coupling[vertex, :, None] * pressure[:, None]
        left, right = np.concatenate([left, across], 1), np.concatenate([right, change], 1)
    start = np.concatenate([[0], np.cumsum(length)])
    shape = len(length) * left.shape[1], count * d
    return tuple(sp.bsr_matrix((values, nodes, start), shape=shape) for values in (left, right))


def _bending(pair: Pairs, force_N, rub_N, exact: bool, count: int) -> sp.bsr_matrix:
    """Return the second derivative over ``count`` nodes, under forces (n,) and friction (n, d) or None.

    With the relative displacement's coefficients s over all nodes w and the shape functions' slopes c
    over the target's nodes k it is s_w s_v B + c_k (x) V s_v, and the mirror image of the second term.
    """
    carried, bend, slope = pair.bending(force_N, rub_N, exact)
    number, group = _groups(pair.meeting)
    first = np.flatnonzero(np.diff(number, prepend=-1))
    width, d = pair.nodes.shape[1], carried.shape[1]
    sign = np.where((group >= 0)[..., None], pair.sign[group], 0.0)

    def summed(factors, values):
        """Sum factor (x) sign (x) value over the points of each pair of facets."""
        values = values.reshape(len(values), 1, -1)[group] * sign[..., None]
        products = factors.transpose(0, 2, 1) @ values.reshape(*group.shape, -1)
        return np.add.reduceat(products.reshape(len(group), -1), first, axis=0)

    total = summed(sign, bend).reshape(-1, width, width, d, d)
    turn = summed(slope[group].reshape(*group.shape, -1), carried)
    turn = turn.reshape(len(first), -1, d, width, d).transpose(0, 1, 3, 4, 2)
    own = width - slope.shape[1]
    total[:, own:] += turn
    if not exact:
        total[:, :, own:] += turn.transpose(0, 2, 1, 4, 3)
    nodes = pair.nodes[group[first, 0]]
    order = np.argsort(nodes, axis=None, kind="stable")
    start = width * np.searchsorted(nodes.ravel()[order], np.arange(count + 1))
    blocks = total.reshape(-1, width, d, d)[order].reshape(-1, d, d)
    columns = np.repeat(nodes, width, axis=0)[order].ravel()
    return sp.bsr_matrix((blocks, columns, start), shape=(count * d,) * 2)


def _groups(key: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Part points (n,) with equal keys into groups of at most `GROUP`.

    Returns which key each group has (g,), in rising order from zero, and the points (g, `GROUP`), -1 at
    places that stay empty.
    """
    order = np.argsort(key, kind="stable")
    new = np.diff(key[order], prepend=-1) != 0
    number = np.cumsum(new) - 1
    start = np.flatnonzero(new)
    place = np.arange(len(key)) - start[number]
    groups = -(-np.diff(start, append=len(key)) // GROUP)
    before = np.concatenate([[0], np.cumsum(groups)])
    points = np.full((before[-1], GROUP), -1)
    points[before[number] + place // GROUP, place % GROUP] = order
    return np.repeat(np.arange(len(groups)), groups), points

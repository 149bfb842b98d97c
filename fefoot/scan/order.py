"""Put the triangles of a scan in order: one piece, one orientation, and its holes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..device.facets import Facets, edges_of


@dataclass(frozen=True)
class Hole:
    """A closed chain of open edges: its points (k, 3) mm."""

    points_mm: np.ndarray

    @property
    def across_mm(self) -> float:
        """Longest distance between two sides of the box round it, mm."""
        return float(np.ptp(self.points_mm, axis=0).max())


def largest_piece(facets: Facets) -> tuple[Facets, int, float]:
    """Return the connected piece with the largest area, how many others there are, their area share."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    count = len(facets.points_mm)
    a, b = facets.triangles[:, [0, 1]].T
    c, d = facets.triangles[:, [1, 2]].T
    links = coo_matrix((np.ones(2 * len(a)), (np.r_[a, c], np.r_[b, d])), (count, count))
    _, label = connected_components(links, directed=False)
    piece = label[facets.triangles[:, 0]]
    area = np.bincount(piece, np.linalg.norm(facets.normals_mm2(), axis=1))
    largest = int(area.argmax())
    others = int((np.unique(piece) != largest).sum())
    share = float(1.0 - area[largest] / max(area.sum(), 1e-300))
    return _used(facets.points_mm, facets.triangles[piece == largest]), others, share


def _used(points, triangles) -> Facets:
    used, number = np.unique(triangles, return_inverse=True)
    return Facets(points[used], number.reshape(-1, 3))


def oriented(facets: Facets) -> tuple[Facets, int]:
    """Turn the triangles of one piece to one side; return it and how many were turned.

    The smaller part is turned. Whether the side is the outside is not decided here.
    """
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import breadth_first_order

    edges = edges_of(facets)
    if not edges.turned:
        return facets, 0
    count = len(facets.triangles)
    i, j = edges.pairs.T
    parity = np.where(edges.same_way, 2.0, 1.0)
    links = coo_matrix((parity, (i, j)), (count, count)).tocsr()
    links = links.maximum(links.T)
    order, before = breadth_first_order(links, 0, directed=False)
    step = np.zeros(count, bool)
    step[order[1:]] = np.asarray(links[order[1:], before[order[1:]]]).ravel() == 2.0
    flip = np.zeros(count, bool)
    for node in order[1:]:
        flip[node] = flip[before[node]] ^ step[node]
    if flip.sum() > 0.5 * count:
        flip = ~flip
    triangles = facets.triangles.copy()
    triangles[flip] = triangles[flip, ::-1]
    return Facets(facets.points_mm, triangles), int(flip.sum())


def holes(facets: Facets) -> list[Hole]:
    """Return the holes of a surface, the widest first."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    edges = edges_of(facets).open_edges
    if not len(edges):
        return []
    used, number = np.unique(edges, return_inverse=True)
    a, b = number.reshape(-1, 2).T
    count, label = connected_components(
        coo_matrix((np.ones(len(a)), (a, b)), (len(used), len(used))), directed=False)
    points = facets.points_mm[used]
    found = [Hole(points[label == k]) for k in range(count)]
    return sorted(found, key=lambda hole: -hole.across_mm)


def subdivided(facets: Facets, longest_mm: float) -> np.ndarray:
    """Return corners (k, 3, 3) of the same surface with no side longer than ``longest_mm`` in plan."""
    corners = facets.points_mm[facets.triangles]
    done = []
    while len(corners):
        legs = corners - np.roll(corners, -1, axis=1)
        long = (legs**2).sum(axis=-1).max(axis=1) > longest_mm**2
        done.append(corners[~long])
        a, b, c = np.moveaxis(corners[long], 1, 0)
        ab, bc, ca = 0.5 * (a + b), 0.5 * (b + c), 0.5 * (c + a)
        corners = np.concatenate([np.stack(t, axis=1) for t in (
            (a, ab, ca), (ab, b, bc), (ca, bc, c), (ab, bc, ca))]) if long.any() else corners[:0]
    return np.concatenate(done)

"""A surface of triangles, and what can be wrong with it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

_LEGS = np.array([[0, 1], [1, 2], [2, 0]])


@dataclass(frozen=True)
class Facets:
    """A surface of triangles.

    Attributes
    ----------
    points_mm : (n, 3) array
    triangles : (m, 3) int array
        Counter-clockwise seen from outside.
    """

    points_mm: np.ndarray
    triangles: np.ndarray

    def normals_mm2(self) -> np.ndarray:
        """Return twice the area vector (m, 3) of each triangle, mm2."""
        a, b, c = self.points_mm[self.triangles.T]
        return np.cross(b - a, c - a)

    def area_mm2(self) -> float:
        """Return the area of the whole surface, mm2."""
        return float(0.5 * np.linalg.norm(self.normals_mm2(), axis=1).sum())

    def volume_mm3(self) -> float:
        """Return the volume inside a closed surface, positive when it looks outwards, mm3.

        One third of the sum over the triangles of their centre times their area vector (divergence
        theorem).
        """
        centre = self.points_mm[self.triangles].mean(axis=1) - self.points_mm.mean(axis=0)
        return float((centre * self.normals_mm2()).sum() / 6.0)

    def mirrored(self) -> Facets:
        """Return the mirror image z -> -z, still looking outwards."""
        return Facets(self.points_mm * [1.0, 1.0, -1.0], self.triangles[:, ::-1])


def merged(corners_mm: np.ndarray) -> Facets:
    """Join triangles (m, 3, 3) given by their corners: equal corners become one point."""
    points, number = np.unique(corners_mm.reshape(-1, 3), axis=0, return_inverse=True)
    return Facets(points, number.reshape(-1, 3))


@dataclass(frozen=True)
class Edges:
    """How the triangles of a surface hang together.

    Attributes
    ----------
    open_edges : (k, 2) int array
        Edges with a triangle on one side only, as that triangle runs along them.
    crowded : int
        Edges that more than two triangles share.
    turned : int
        Edges whose two triangles look to opposite sides.
    pairs : (p, 2) int array
        Triangles on the two sides of every inner edge.
    same_way : (p,) bool array
        Whether those two triangles run along it the same way, so that one of them is turned over.
    """

    open_edges: np.ndarray
    crowded: int
    turned: int
    pairs: np.ndarray
    same_way: np.ndarray


def edges_of(facets: Facets) -> Edges:
    """Return how the triangles of a surface hang together."""
    legs = facets.triangles[:, _LEGS].reshape(-1, 2)
    owner = np.repeat(np.arange(len(facets.triangles)), 3)
    low, high = legs.min(axis=1), legs.max(axis=1)
    key = low.astype(np.int64) * (len(facets.points_mm) + 1) + high
    order = np.argsort(key, kind="stable")
    _, first, count = np.unique(key[order], return_index=True, return_counts=True)
    one, two = order[first[count == 1]], first[count == 2]
    forwards = legs[:, 0] < legs[:, 1]
    a, b = order[two], order[two + 1]
    same = forwards[a] == forwards[b]
    return Edges(legs[one], int((count > 2).sum()), int(same.sum()),
                 np.column_stack([owner[a], owner[b]]), same)


def degenerate(facets: Facets) -> np.ndarray:
    """Return which triangles (m,) have no area: less than 1e-6 of their longest side squared."""
    corner = facets.points_mm[facets.triangles]
    longest = np.max(np.sum((corner - np.roll(corner, 1, axis=1)) ** 2, axis=-1), axis=1)
    return np.linalg.norm(facets.normals_mm2(), axis=1) <= 1e-6 * longest


def faults(facets: Facets) -> list[str]:
    """Return why a surface is not a watertight solid, in words; an empty list when it is one.

    Closed: every edge has two triangles. Consistently oriented: they run along it opposite ways.
    Outward: positive volume. No triangle without area.
    """
    edges = edges_of(facets)
    counts = (
        (len(edges.open_edges), "open edges"), (edges.crowded, "edges of more than two triangles"),
        (edges.turned, "edges between triangles of opposite orientation"),
        (int(degenerate(facets).sum()), "triangles without area"))
    found = [f"{count} {what}" for count, what in counts if count]
    volume = facets.volume_mm3()
    return found if volume > 0.0 else [*found, f"a volume of {volume:.3g} mm3"]

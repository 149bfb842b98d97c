"""A quadratic mesh: points, cells, tags and named surfaces.

Node order inside a cell is meshio's ``triangle6`` (corners 0 1 2, then the middle of edges 01, 12,
20) and ``tetra10`` (corners 0 1 2 3, then the middle of 01, 12, 20, 03, 13, 23). Surfaces hold
``line3`` or ``triangle6`` facets whose normal points out of the cell.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from ..errors import MeshError

EDGES = {
    6: np.array([[0, 1], [1, 2], [2, 0]]),
    10: np.array([[0, 1], [1, 2], [2, 0], [0, 3], [1, 3], [2, 3]]),
}
FACETS = {
    6: np.array([[0, 1, 3], [1, 2, 4], [2, 0, 5]]),
    10: np.array(
        [[0, 2, 1, 6, 5, 4], [0, 1, 3, 4, 8, 7], [1, 2, 3, 5, 9, 8], [2, 0, 3, 6, 7, 9]]
    ),
}


@dataclass(frozen=True)
class Mesh:
    """Points (n, dim) mm, quadratic cells (m, 6 or 10), a region number per cell, named facets.

    Attributes
    ----------
    points : (n, dim) float array, mm
    cells : (m, 6) or (m, 10) int array
    region : (m,) int array
        Index into ``region_names``.
    region_names : tuple of str
    facets : dict of name -> (k, 3) or (k, 6) int array
        Outward-oriented boundary facets.
    nodes : dict of name -> (k,) int array
        Named node sets.
    """

    points: np.ndarray
    cells: np.ndarray
    region: np.ndarray
    region_names: tuple[str, ...] = ("solid",)
    facets: dict[str, np.ndarray] = field(default_factory=dict)
    nodes: dict[str, np.ndarray] = field(default_factory=dict)

    @property
    def dim(self) -> int:
        """Number of space dimensions, 2 or 3."""
        return self.points.shape[1]

    def moved(self, points: np.ndarray) -> Mesh:
        """Return the same mesh with other point positions (n, dim)."""
        return replace(self, points=points)

    def cells_of(self, region: str) -> np.ndarray:
        """Return the indices of the cells of a named region."""
        return np.flatnonzero(self.region == self.region_names.index(region))


def quadratic(points: np.ndarray, corners: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Add mid-edge nodes to linear triangles (m, 3) or tetrahedra (m, 4).

    Cells are turned to positive orientation. Returns points (n', dim) and cells (m, 6 or 10).
    """
    points, corners = np.asarray(points, float), np.array(corners)
    legs = points[corners[:, 1:]] - points[corners[:, :1]]
    flip = np.linalg.det(legs) < 0
    corners[np.ix_(flip, [1, 2])] = corners[np.ix_(flip, [2, 1])]
    edges = EDGES[6 if corners.shape[1] == 3 else 10]
    pairs = np.sort(corners[:, edges].reshape(-1, 2), axis=1)
    unique, inverse = np.unique(pairs, axis=0, return_inverse=True)
    middle = 0.5 * (points[unique[:, 0]] + points[unique[:, 1]])
    mid_ids = len(points) + inverse.reshape(len(corners), len(edges))
    return np.vstack([points, middle]), np.hstack([corners, mid_ids])


def boundary_facets(cells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return the facets that belong to one cell only, outward, and the cell each came from."""
    table = FACETS[cells.shape[1]]
    corners = 2 if cells.shape[1] == 6 else 3
    facets = cells[:, table].reshape(-1, table.shape[1])
    owner = np.repeat(np.arange(len(cells)), len(table))
    key = np.sort(facets[:, :corners], axis=1)
    _, inverse, count = np.unique(key, axis=0, return_inverse=True, return_counts=True)
    single = count[inverse.reshape(-1)] == 1
    return facets[single], owner[single]


def joined(*meshes: Mesh) -> tuple[Mesh, list[int]]:
    """Put meshes side by side in one node numbering; also return each mesh's first node."""
    if len({m.dim for m in meshes}) != 1:
        raise MeshError("meshes of different dimension cannot be joined")
    first = np.concatenate([[0], np.cumsum([len(m.points) for m in meshes])]).astype(int)
    names = tuple(dict.fromkeys(name for m in meshes for name in m.region_names))
    region = [
        np.array([names.index(n) for n in m.region_names], int)[m.region] for m in meshes
    ]
    facets, nodes = {}, {}
    for mesh, start in zip(meshes, first[:-1], strict=True):
        for store, part in ((facets, mesh.facets), (nodes, mesh.nodes)):
            for name, ids in part.items():
                if name in store:
                    raise MeshError(f"two joined meshes both name {name!r}")
                store[name] = ids + start
    mesh = Mesh(
        np.vstack([m.points for m in meshes]),
        np.vstack([m.cells + s for m, s in zip(meshes, first[:-1], strict=True)]),
        np.concatenate(region), names, facets, nodes,
    )
    return mesh, first[:-1].tolist()

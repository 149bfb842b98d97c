"""Better tetrahedra: nodes moved by the mean ratio, then mid-side nodes put on the surfaces."""

from __future__ import annotations

import numpy as np
from scipy.optimize import minimize

from fefoot.foot.mesh3d import hole_distance, tetra_quality
from fefoot.mechanics.mesh import EDGES, boundary_facets, quadratic

from .surface import TOP_MM, gradient, project, skin_field

SPOILT = 1.15
"""An element may become worse down to this many times the worst one."""
SOUND, LARGEST_BOW = 0.3, 0.25
"""Curved elements stay above this quality; mid-side nodes move by at most this share of the edge."""
REGULAR = np.linalg.inv(np.array([[1, 0.5, 0.5], [0, np.sqrt(3) / 2, np.sqrt(3) / 6],
                                  [0, 0, np.sqrt(2 / 3)]]))


class Surface:
    """Which nodes of a mesh lie on which surface, and how they may move."""

    def __init__(self, points: np.ndarray, cells: np.ndarray):
        self.facets = boundary_facets(quadratic(points, cells)[1])[0][:, :3]
        centre = points[self.facets].mean(axis=1)
        top = (points[self.facets][..., 1] == TOP_MM).all(axis=1)
        skin = ~top & (np.abs(skin_field(centre)) < np.abs(hole_distance(centre)))
        self.cap, self.skin, self.hole = (
            np.unique(self.facets[part]) for part in (top, skin, ~top & ~skin))
        self.rim = np.intersect1d(self.cap, self.skin)
        self.cap = np.setdiff1d(self.cap, self.rim)

    def moves(self, points: np.ndarray) -> np.ndarray:
        """Return, per node, the projection (n, 3, 3) onto the directions it may move in."""
        allowed = np.broadcast_to(np.eye(3), (len(points), 3, 3)).copy()
        for field, nodes in ((skin_field, self.skin), (hole_distance, self.hole)):
            normal = gradient(field, points[nodes])
            normal /= np.linalg.norm(normal, axis=1)[:, None]
            allowed[nodes] = np.eye(3) - normal[:, :, None] * normal[:, None, :]
        allowed[self.cap] = np.diag([1.0, 0.0, 1.0])
        allowed[self.rim] = 0.0
        return allowed

    def back(self, points: np.ndarray) -> np.ndarray:
        """Return the points with skin and hole nodes put back onto their surfaces."""
        points = points.copy()
        slide = np.setdiff1d(self.skin, self.rim)
        points[slide] = project(skin_field, points[slide])
        points[self.hole] = project(hole_distance, points[self.hole])
        return points


def distortion(points: np.ndarray, cells: np.ndarray, power: float, soft: float = 0.0):
    """Return the sum of (inverse mean ratio)^power of linear tetrahedra and its gradient (n, 3).

    The inverse mean ratio |A|^2 / (3 det(A)^(2/3)), A the map from the regular tetrahedron, is 1 at
    best (Knupp 2001, SIAM J Sci Comput 23:193-218, recalled). With ``soft`` the determinant d is
    replaced by (d + sqrt(d^2 + 4 soft^2))/2, which stays positive, so that a line search may look at
    an inverted element.
    """
    a = (points[cells[:, 1:]] - points[cells[:, :1]]).transpose(0, 2, 1) @ REGULAR
    columns = a.transpose(2, 0, 1)
    cofactor = np.stack([np.cross(columns[i], columns[j]) for i, j in ((1, 2), (2, 0), (0, 1))], -1)
    det = np.einsum("mi,mi->m", a[..., 0], cofactor[..., 0])
    root = np.sqrt(det**2 + 4.0 * soft**2)
    kept = 0.5 * (det + root)
    if (kept <= 0).any():
        return np.inf, np.zeros_like(points)
    square = np.einsum("mij,mij->m", a, a)
    cost = (square / (3.0 * kept ** (2 / 3))) ** power
    slope = (2.0 * power * cost)[:, None, None] * (
        a / square[:, None, None] - cofactor / (3.0 * root[:, None, None]))
    on_legs = slope @ REGULAR.T
    force = np.concatenate([-on_legs.sum(2)[:, None], on_legs.transpose(0, 2, 1)], axis=1)
    total = np.column_stack([np.bincount(cells.ravel(), force[..., k].ravel(), len(points))
                             for k in range(3)])
    return float(cost.sum()), total


def smoothed(points, cells, rounds=5, power=3.0) -> np.ndarray:
    """Move nodes to better elements; surface nodes slide and are projected back each round.

    Where the projection spoils an element, which then is among the worst, its nodes take a smaller
    step. The last rounds have a higher power, which lifts the worst elements.
    """
    surface = Surface(points, cells)
    for number in range(rounds):
        late = number >= rounds // 2
        step = _best_step(points, cells, surface.moves(points), 1.6 * power if late else power)
        before, share = mean_ratio(points, cells), np.ones(len(points))
        while True:
            moved = surface.back(points + share[:, None] * step)
            quality = mean_ratio(moved, cells)
            worse = quality < np.minimum(before, SPOILT * before.min())
            worse &= share[cells].max(axis=1) > 0.0
            if not worse.any():
                break
            nodes = np.unique(cells[worse])
            share[nodes] = np.where(share[nodes] > 0.2, 0.5 * share[nodes], 0.0)
        points = moved
    return points


def mean_ratio(points, cells) -> np.ndarray:
    """Return the mean ratio (m,) of linear tetrahedra: 1 regular, <= 0 inverted."""
    a = (points[cells[:, 1:]] - points[cells[:, :1]]).transpose(0, 2, 1) @ REGULAR
    det = np.linalg.det(a)
    return 3.0 * np.sign(det) * np.abs(det) ** (2 / 3) / np.einsum("mij,mij->m", a, a)


def _best_step(points, cells, allowed, power) -> np.ndarray:
    """Return the displacement (n, 3) that lowers the distortion, in the allowed directions."""
    legs = points[cells[:, 1:]] - points[cells[:, :1]]
    soft = 1e-3 * np.median(np.linalg.det(legs))

    def cost(q):
        step = np.einsum("nij,nj->ni", allowed, q.reshape(-1, 3))
        value, slope = distortion(points + step, cells, power, soft)
        return value, np.einsum("nij,nj->ni", allowed, slope).ravel()

    found = minimize(cost, np.zeros(points.size), jac=True, method="L-BFGS-B",
                     options={"maxiter": 60, "maxcor": 12})
    return np.einsum("nij,nj->ni", allowed, found.x.reshape(-1, 3))


def curved(points: np.ndarray, cells: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Add mid-side nodes; those of the surfaces move onto them where the element stays sound."""
    straight, cells = quadratic(points, cells)
    facets = boundary_facets(cells)[0]
    surface = Surface(points, cells[:, :4])
    out = straight.copy()
    ends = np.zeros((len(straight), 2), int)
    edges = EDGES[10]
    ends[cells[:, 4:].ravel()] = cells[:, edges].reshape(-1, 2)
    mid = np.unique(facets[:, 3:])
    on_rim = np.isin(ends[mid], surface.rim).all(axis=1) & (straight[mid, 1] == TOP_MM)
    for field, nodes in ((skin_field, surface.skin), (hole_distance, surface.hole)):
        mine = mid[np.isin(ends[mid], nodes).all(axis=1)]
        out[mine] = project(field, straight[mine], np.isin(mine, mid[on_rim]))
    bow = out - straight
    edge = np.linalg.norm(straight[ends[:, 0]] - straight[ends[:, 1]], axis=1)
    share = np.where(np.linalg.norm(bow, axis=1) > LARGEST_BOW * edge, 0.0, 1.0)
    share[~np.isin(np.arange(len(share)), mid)] = 0.0
    floor = np.minimum(tetra_quality(straight, cells), SOUND)
    while True:
        out = straight + share[:, None] * bow
        bad = (tetra_quality(out, cells) < floor) & (share[cells].max(axis=1) > 0.0)
        if not bad.any():
            break
        nodes = np.unique(cells[bad])
        share[nodes] = np.where(share[nodes] > 0.2, 0.7 * share[nodes], 0.0)
    return out, cells

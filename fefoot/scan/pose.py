"""Rigid placements: from matched points, and by iterated closest points on a surface."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

THINNEST_UP = slice(4, 8)
"""Those of the `principal_rotations` that lay the longest axis along x and the shortest along y."""
TINY = 1e-6
"""Keeps a surface without a hold in some direction, like a plane, where it is."""
KEPT = 0.9
"""Share of the closest pairs that count: the rest is what one surface has and the other has not."""


@dataclass(frozen=True)
class Pose:
    """A rotation (3, 3) and a shift (3,) mm; a point p goes to rotation p + shift."""

    rotation: np.ndarray
    shift_mm: np.ndarray

    def of(self, points: np.ndarray) -> np.ndarray:
        """Return points (..., 3) in their new place."""
        return points @ self.rotation.T + self.shift_mm

    def moved(self, shift_mm) -> Pose:
        """Return the same pose, shifted further."""
        return Pose(self.rotation, self.shift_mm + np.asarray(shift_mm, float))

    def then(self, rotation: np.ndarray) -> Pose:
        """Return the pose followed by a rotation about the origin."""
        return Pose(rotation @ self.rotation, rotation @ self.shift_mm)


def matched(points: np.ndarray, places: np.ndarray) -> Pose:
    """Return the rigid motion that brings points (n, 3) closest to places (n, 3), least squares.

    Kabsch 1976, Acta Cryst A32:922-923: with the covariance H = U S V^T of the centred points,
    R = V diag(1, 1, det(V U^T)) U^T.
    """
    here, there = points.mean(axis=0), places.mean(axis=0)
    u, _, vt = np.linalg.svd((points - here).T @ (places - there))
    sign = np.diag([1.0, 1.0, np.sign(np.linalg.det(vt.T @ u.T))])
    rotation = vt.T @ sign @ u.T
    return Pose(rotation, there - rotation @ here)


def principal_rotations(points: np.ndarray) -> list[np.ndarray]:
    """Return the 24 rotations that lay the principal axes of points (n, 3) along x, y and z.

    The first ones lay the longest axis along x.
    """
    centred = points - points.mean(axis=0)
    _, axes = np.linalg.eigh(centred.T @ centred)
    axes = axes[:, ::-1].T
    out = []
    for order in ((0, 1, 2), (0, 2, 1), (1, 0, 2), (2, 0, 1), (1, 2, 0), (2, 1, 0)):
        for signs in itertools.product((1.0, -1.0), repeat=3):
            rotation = axes[list(order)] * np.array(signs)[:, None]
            if np.linalg.det(rotation) > 0.0:
                out.append(rotation)
    return out


def turn(degrees: float) -> np.ndarray:
    """Return the rotation (3, 3) about the vertical axis y."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return np.array([[c, 0.0, s], [0.0, 1.0, 0.0], [-s, 0.0, c]])


def closest(points, pose: Pose, tree, target, normals, passes: int) -> tuple[Pose, float]:
    """Move points (n, 3) onto a surface given by target points and normals (m, 3).

    Each pass pairs every point with its closest target point, keeps `KEPT` of the pairs and solves
    for the small motion w, t that minimises the sum of ((p + w x p + t - q) . n)^2 (Chen & Medioni
    1992, Image Vis Comput 10:145-155). Returns the pose and the root mean square distance of the
    kept points to their target planes, mm.
    """
    distance = np.inf
    for _ in range(passes):
        here = pose.of(points)
        away, index = tree.query(here)
        kept = away <= np.quantile(away, KEPT)
        p, q, n = here[kept], target[index[kept]], normals[index[kept]]
        gap = np.einsum("ij,ij->i", p - q, n)
        rows = np.hstack([np.cross(p, n), n])
        step = np.linalg.solve(rows.T @ rows + TINY * np.eye(6), -rows.T @ gap)
        pose = Pose(_rotation(step[:3]) @ pose.rotation,
                    _rotation(step[:3]) @ pose.shift_mm + step[3:])
        distance = float(np.sqrt(np.mean(gap**2)))
        if np.abs(step[:3]).max() < 1e-6 and np.abs(step[3:]).max() < 1e-4:
            break
    return pose, distance


def _rotation(vector) -> np.ndarray:
    from scipy.spatial.transform import Rotation

    return Rotation.from_rotvec(vector).as_matrix()


def sampled(corners: np.ndarray, count: int) -> np.ndarray:
    """Return points (count, 3) spread evenly over the area of triangles (m, 3, 3); always the same."""
    generator = np.random.default_rng(1)
    a, b, c = np.moveaxis(corners, 1, 0)
    area = np.linalg.norm(np.cross(b - a, c - a), axis=1)
    pick = np.searchsorted(np.cumsum(area) / area.sum(), (np.arange(count) + 0.5) / count)
    pick = np.minimum(pick, len(area) - 1)
    u, v = generator.random((2, count, 1))
    over = (u + v) > 1.0
    u, v = np.where(over, 1.0 - u, u), np.where(over, 1.0 - v, v)
    return a[pick] + u * (b - a)[pick] + v * (c - a)[pick]

"""Put a scanned foot or cast in place: by three landmarks, or by the reference foot."""

from __future__ import annotations

import functools
from dataclasses import dataclass

import numpy as np

from ..foot.anatomy import skin_distance
from ..foot.landmarks import HEEL_CENTRE_X_MM, landmarks
from ..foot.mesh3d import mesh_file
from ..foot.morph import REFERENCE, Dimensions, morph, plantar_height_mm
from ..mechanics.mesh import boundary_facets
from .measure import SOLE_MM, model_dimensions, widths_mm
from .pose import Pose, closest, matched, principal_rotations, sampled

POINTS, COARSE_POINTS = 2400, 400
ON_SKIN_MM = 1.5
COARSE_PASSES, PASSES, ROUNDS, PROMISING = 8, 25, 3, 3
_QUARTERS = np.array([[0, 3, 5], [3, 1, 4], [5, 4, 2], [3, 4, 5]])


@dataclass(frozen=True)
class Fit:
    """A foot in place, and how far it is from the model's foot of its size, mm (rms)."""

    pose: Pose
    distance_mm: float


def by_reference(corners: np.ndarray, rounds: int = ROUNDS) -> Fit:
    """Place a foot's triangles (m, 3, 3) mm like a right foot of the model of the same size.

    Its principal axes are laid along the axes of the model in all 24 ways; each start is moved onto
    the reference foot of the same length. The closest ones are refined, the model's foot taking
    on the length and widths found on the way. Then the back of the heel goes to x = 0 and the lowest
    point to y = 0.
    """
    points = sampled(corners, POINTS)
    few = points[:: POINTS // COARSE_POINTS]
    starts = []
    for rotation in principal_rotations(points):
        turned = points @ rotation.T
        target, normals, tree = _surface(_scaled(np.ptp(turned, axis=0)[0]))
        low, high = turned.min(axis=0), turned.max(axis=0)
        shift = 0.5 * (target.min(axis=0) + target.max(axis=0) - low - high)
        shift[1] = -low[1]
        starts.append(closest(few, Pose(rotation, shift), tree, target, normals, COARSE_PASSES))
    starts.sort(key=lambda start: start[1])
    fits = [refined(points, pose, 1) for pose, _ in starts[:PROMISING]]
    best = min(fits, key=lambda fit: fit.distance_mm)
    if rounds > 1:
        best = refined(points, best.pose, rounds - 1)
    return Fit(grounded(best.pose, corners.reshape(-1, 3)), best.distance_mm)


def _scaled(length_mm: float) -> Dimensions:
    """Return the reference dimensions scaled to a length, as far as the model goes."""
    return model_dimensions({
        name: getattr(REFERENCE, name) * length_mm / REFERENCE.length_mm
        for name in ("length_mm", "heel_width_mm", "forefoot_width_mm")}, None)


def refined(points, pose: Pose, rounds: int, navicular_mm: float | None = None) -> Fit:
    """Move points (n, 3) of a foot that is nearly in place onto the model's foot of its size."""
    distance = np.inf
    for _ in range(rounds):
        here = grounded(pose, points).of(points)
        target, normals, tree = _surface(model_dimensions(widths_mm(here), navicular_mm))
        pose, distance = closest(points, grounded(pose, points), tree, target, normals, PASSES)
    return Fit(pose, distance)


def grounded(pose: Pose, points: np.ndarray) -> Pose:
    """Return the pose shifted so that the heel's back is at x = 0 and the lowest point at y = 0."""
    here = pose.of(points)
    here = here - [0.0, here[:, 1].min(), 0.0]
    low = here[here[:, 1] < SOLE_MM]
    return pose.moved([-low[:, 0].min(), -pose.of(points)[:, 1].min(), 0.0])


@functools.cache
def _skin() -> tuple[np.ndarray, np.ndarray]:
    """Return the nodes (n, 3) of the coarse reference mesh and its quadratic skin facets (m, 6)."""
    with np.load(mesh_file("coarse")) as file:
        points, cells = file["points"], file["cells"].astype(int)
    facets, _ = boundary_facets(cells)
    centre = points[facets[:, :3]].mean(axis=1)
    return points, facets[np.abs(skin_distance(centre, cut=False)) < ON_SKIN_MM]


@functools.lru_cache(maxsize=16)
def _surface(dimensions: Dimensions) -> tuple:
    """Return points and normals (n, 3) spread over the skin of the model's foot, and their tree."""
    from scipy.spatial import cKDTree

    points, facets = _skin()
    nodes = morph(points, dimensions)[facets]
    a, b, c = np.moveaxis(nodes[:, _QUARTERS].reshape(-1, 3, 3), 1, 0)
    normal = np.cross(b - a, c - a)
    size = np.linalg.norm(normal, axis=1, keepdims=True)
    keep = size[:, 0] > 1e-9
    points = (a + b + c)[keep] / 3.0
    return points, normal[keep] / size[keep], cKDTree(points)


def landmark_places(points: np.ndarray) -> np.ndarray:
    """Return where three landmarks (3, 3) mm belong on a foot as long and as wide as they say.

    The reference foot's places under heel, first and fifth metatarsal head, stretched along and
    across so that the distances heel to heads and head to head are those of the landmarks.
    """
    marks = landmarks(REFERENCE)
    x = np.array([HEEL_CENTRE_X_MM, *(marks.metatarsal_head_x_mm[k] for k in (0, 4))])
    z = np.array([0.0, *(marks.metatarsal_head_z_mm[k] for k in (0, 4))])
    places = np.column_stack([x, plantar_height_mm(x, z), z])
    along = np.linalg.norm(points[1:].mean(axis=0) - points[0])
    across = np.linalg.norm(points[2] - points[1])
    wide = 1.0
    for _ in range(20):
        middle = places[1:].mean(axis=0) - places[0]
        long = np.sqrt(max(along**2 - (wide * middle[2]) ** 2, 1.0)) / middle[0]
        gap = places[2] - places[1]
        wide = np.sqrt(max(across**2 - (long * gap[0]) ** 2, 1.0)) / gap[2]
    return places * [long, 1.0, wide]


def by_landmarks(corners: np.ndarray, points: np.ndarray) -> Pose:
    """Place a foot's triangles (m, 3, 3) mm by its three landmarks (3, 3), then ground it."""
    return grounded(matched(points, landmark_places(points)), corners.reshape(-1, 3))

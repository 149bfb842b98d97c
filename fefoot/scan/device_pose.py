"""Put a scanned device in place: on the ground as it stands, its outline under the foot's."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..device.device import FootLandmarks
from ..device.facets import Facets, edges_of
from ..device.outline import outline_z_mm
from .order import subdivided
from .pose import THINNEST_UP, Pose, matched, principal_rotations, sampled, turn

STATION_MM, SAMPLES = 2.0, 4000
COMPARED = 0.06, 0.57
"""Between these shares of the foot's length the outline is laid over the foot's: behind the front edge
of a short device."""
MOST_MARGIN_MM = 6.0
CURVED_MM, ARCHED_MM = 0.5, 3.0
"""Rims this much above the middle line tell top from underside; an arch this much higher on one side
tells left from right."""
FLAT_SHARE = 0.6
"""A side that rests on this share of its plan is an underside."""
STEEP_DEGREES, LEVEL, SAME_PLANE = 20.0, 1e-3, 2e-5


@dataclass(frozen=True)
class Placed:
    """A device in place: pose, outline's margin and distance to the foot's outline (rms), mm.

    ``rim_mm``: how much higher its sides stand than its middle; ``arch_mm``: how much higher its
    medial side stands than its lateral side at the arch; ``flat``: share of its plan it rests on.
    """

    pose: Pose
    margin_mm: float
    distance_mm: float
    rim_mm: float
    arch_mm: float
    flat: float


def by_outline(facets: Facets, foot: FootLandmarks) -> Placed:
    """Place a device, mm, by where it rests and by its outline.

    The thinnest principal axis is upright. The underside is the side that rests flat; where both or
    neither do, the side over which the other's sides rise; else the one whose outline fits. It rests
    on the face of its convex hull under its middle, and is turned and shifted across until its edges
    lie over the foot's outline from heel to metatarsal heads; the back goes where that begins.
    """
    corners = subdivided(facets, 2.0 * STATION_MM)
    points = sampled(corners, SAMPLES)
    candidates = []
    for rotation in principal_rotations(points)[THINNEST_UP]:
        resting, flat = _resting(facets.points_mm, points, Pose(rotation, np.zeros(3)))
        candidates.append(_laid(facets, points, resting, flat, foot))
    flat = [placed for placed in candidates if placed.flat > FLAT_SHARE]
    pool = flat if 0 < len(flat) < len(candidates) else candidates
    most = max(placed.rim_mm for placed in pool)
    return min((p for p in pool if p.rim_mm > most - CURVED_MM), key=lambda p: p.distance_mm)


def by_landmarks(facets: Facets, foot: FootLandmarks, landmarks: np.ndarray) -> Placed:
    """Place a device by three landmarks (3, 3) mm on its top: heel, first and fifth head.

    They say which side is up and how it is turned. Where it rests flat, that says how it stands;
    else, as with a shell that rolls, the landmarks are as high as the foot's sole there. The back goes
    where the outline begins, since a short device does not reach the heads.
    """
    x = np.array([foot.heel_centre_x_mm, *(foot.metatarsal_head_x_mm[k] for k in (0, 4))])
    z = np.array([0.0, *(foot.metatarsal_head_z_mm[k] for k in (0, 4))])
    places = np.column_stack([x, foot.plantar(x, z), z])
    points = sampled(facets.points_mm[facets.triangles], SAMPLES)
    pose = matched(landmarks, places)
    resting, flat = _resting(facets.points_mm, points, pose)
    if flat > FLAT_SHARE:
        level = matched(resting.of(landmarks) * [1.0, 0.0, 1.0], places * [1.0, 0.0, 1.0])
        pose = Pose(level.rotation @ resting.rotation,
                    level.rotation @ resting.shift_mm + level.shift_mm)
    low = pose.of(facets.points_mm).min(axis=0)
    placed = measured(facets, pose.moved([-low[0], -low[1], 0.0]), foot)
    return measured(facets, placed.pose.moved([-placed.margin_mm, 0.0, 0.0]), foot)


def measured(facets: Facets, pose: Pose, foot: FootLandmarks) -> Placed:
    """Return a device in a given place with what can be said of it there."""
    points = sampled(facets.points_mm[facets.triangles], SAMPLES)
    x, low, high = _edges(_silhouette(facets, pose), pose)
    margin = _margin(x, low, high, foot)
    gap = _gap(x, low, high, foot, margin, 0.0)
    return Placed(pose, margin, float(np.sqrt(np.mean(gap**2))), *_shape(points, pose, foot), 1.0)


def _resting(points: np.ndarray, spread: np.ndarray, pose: Pose) -> tuple[Pose, float]:
    """Turn a nearly upright device so that it rests on the face of its hull under its middle.

    ``spread`` are points (k, 3) spread over its area. Also returns the share of the hull's lower side
    that this face makes up.
    """
    from scipy.spatial import ConvexHull

    here = pose.of(points)
    hull = ConvexHull(here)
    middle = pose.of(spread).mean(axis=0)
    normals = hull.equations[:, :3]
    a, b, c = np.moveaxis(here[hull.simplices], 1, 0)
    down = np.abs(np.cross(b - a, c - a)[:, 1]) * (normals[:, 1] < 0.0)
    below = np.flatnonzero(normals[:, 1] < -np.cos(np.radians(STEEP_DEGREES)))
    if not len(below):
        return pose, 0.0
    height = -(hull.equations[below, 3] + middle[0] * normals[below, 0]
               + middle[2] * normals[below, 2]) / normals[below, 1]
    face = below[np.argmax(height)]  # the hull's lower side is highest on the face below the middle
    plane = np.abs(normals @ normals[face] - 1.0) < SAME_PLANE
    out = pose.then(_upright(-_mean_normal(here[hull.simplices[plane]], normals[face])))
    lifted = out.moved([0.0, -out.of(points)[:, 1].min(), 0.0])
    return lifted, float(down[plane].sum() / max(down.sum(), 1e-300))


def _mean_normal(faces, like):
    a, b, c = np.moveaxis(faces, 1, 0)
    normal = np.cross(b - a, c - a)
    normal = (normal * np.sign(normal @ like)[:, None]).sum(axis=0)
    return normal / np.linalg.norm(normal)


def _upright(up: np.ndarray) -> np.ndarray:
    """Return the smallest rotation that lays a direction along y."""
    from scipy.spatial.transform import Rotation

    axis = np.cross(up, [0.0, 1.0, 0.0])
    sine = np.linalg.norm(axis)
    angle = np.arctan2(sine, up[1])
    return Rotation.from_rotvec(axis / sine * angle if sine > 1e-12 else np.zeros(3)).as_matrix()


def _laid(facets, points, pose: Pose, flat: float, foot: FootLandmarks) -> Placed:
    """Turn a standing device about the vertical and shift it until it lies under the foot."""
    from scipy.optimize import minimize_scalar

    rim = _silhouette(facets, pose)

    def placed(degrees: float):
        turned = pose.then(turn(degrees))
        turned = turned.moved([-turned.of(rim)[..., 0].min(), 0.0, 0.0])
        x, low, high = _edges(rim, turned)
        margin = _margin(x, low, high, foot)
        turned, x = turned.moved([-margin, 0.0, 0.0]), x - margin
        middle = np.nanmean(_gap(x, low, high, foot, margin, 0.0))
        gap = _gap(x, low, high, foot, margin, middle)
        return turned.moved([0.0, 0.0, -middle]), margin, float(np.sqrt(np.nanmean(gap**2)))

    best = minimize_scalar(lambda degrees: placed(degrees)[2], bounds=(-15.0, 15.0),
                           method="bounded", options={"xatol": 1e-3})
    found, margin, distance = placed(float(best.x))
    return Placed(found, margin, distance, *_shape(points, found, foot), flat)


def _silhouette(facets: Facets, pose: Pose) -> np.ndarray:
    """Return the sides (k, 2, 3) of triangles where the surface turns from up to down, or ends.

    Cut to pieces shorter than a step between stations; they do not depend on a turn about y.
    """
    up = facets.normals_mm2() @ pose.rotation[1]
    up = np.where(np.abs(up) > LEVEL * np.abs(up).max(), np.sign(up), 0.0)
    edges = edges_of(facets)
    one, two = edges.pairs.T
    bent = np.flatnonzero((up[one] * up[two] <= 0.0) & ((up[one] != 0.0) | (up[two] != 0.0)))
    a, b = facets.triangles[one[bent]], facets.triangles[two[bent]]
    shared = a[(a[:, :, None] == b[:, None, :]).any(axis=2)].reshape(-1, 2)
    sides = facets.points_mm[np.concatenate([shared, edges.open_edges])]
    longest = np.linalg.norm(sides[:, 1] - sides[:, 0], axis=1).max(initial=0.0)
    share = np.linspace(0.0, 1.0, int(np.ceil(longest / STATION_MM)) + 2)[:, None, None]
    line = sides[:, 0] + share * (sides[:, 1] - sides[:, 0])
    return np.stack([line[:-1], line[1:]], axis=2).reshape(-1, 2, 3)


def _edges(sides, pose: Pose) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Return stations x (k,) and the least and greatest z (k,) where sides (m, 2, 3) cross them."""
    start, end = np.moveaxis(pose.of(sides), 1, 0)
    first = int(np.floor(start[:, 0].min() / STATION_MM))
    a = np.floor(start[:, 0] / STATION_MM).astype(int)
    b = np.floor(end[:, 0] / STATION_MM).astype(int)
    cross = a != b
    station = np.maximum(a, b)[cross]
    p, q = start[cross], end[cross]
    share = (station * STATION_MM - p[:, 0]) / (q[:, 0] - p[:, 0])
    z = p[:, 2] + share * (q[:, 2] - p[:, 2])
    count = int(station.max()) - first + 1
    low, high = np.full(count, np.inf), np.full(count, -np.inf)
    np.minimum.at(low, station - first, z)
    np.maximum.at(high, station - first, z)
    keep = np.isfinite(low)
    return (first + np.arange(count))[keep] * STATION_MM, low[keep], high[keep]


def _margin(x, low, high, foot: FootLandmarks) -> float:
    """Return how far the device's heel stands outside the foot's outline on each side, mm."""
    width = float((high - low)[np.abs(x - foot.heel_centre_x_mm) < 8.0].max(initial=0.0))
    return float(np.clip(0.5 * (width - foot.heel_width_mm), 0.0, MOST_MARGIN_MM))


def _gap(x, low, high, foot: FootLandmarks, margin: float, shift: float) -> np.ndarray:
    """Return how far both edges lie lateral to the foot's outline, mm, after a shift medially."""
    share = x / foot.length_mm
    keep = (share > COMPARED[0]) & (share < COMPARED[1])
    medial, lateral = outline_z_mm(margin, foot, x[keep])
    gap = np.concatenate([low[keep] - shift - medial, high[keep] - shift - lateral])
    return gap if len(gap) else np.array([1e3])


def _shape(points, pose: Pose, foot: FootLandmarks) -> tuple[float, float]:
    """Return how much the sides of the top stand above its middle, and medial above lateral, mm."""
    here = pose.of(points)
    x = here[:, 0] / foot.length_mm
    tops = {}
    for name, (back, front) in {"heel": (0.08, 0.2), "arch": (0.33, 0.52)}.items():
        part = here[(x > back) & (x < front)]
        if not len(part):
            return 0.0, 0.0
        low, high = part[:, 2].min(), part[:, 2].max()
        across = (part[:, 2] - low) / max(high - low, 1e-9)
        tops[name] = [float(part[(across >= a) & (across <= b), 1].max(initial=0.0))
                      for a, b in ((0.0, 0.08), (0.47, 0.53), (0.92, 1.0))]
    rims = [max(t[0], t[2]) - t[1] for t in tops.values()]
    return float(max(rims)), tops["arch"][0] - tops["arch"][2]


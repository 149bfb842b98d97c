"""The reference foot as signed distances, read from ``anatomy.toml``."""

from __future__ import annotations

import functools
import itertools
import tomllib
from dataclasses import dataclass
from importlib import resources

import numpy as np

from ..errors import unknown_name
from .shape import ellipsoid, round_cone, smooth_maximum, smooth_minimum, smoothstep


@dataclass(frozen=True)
class Solid:
    """Ellipsoids (k, 6) and round cones (k, 8: centre, radius, twice), blended, cut at the top."""

    ellipsoids: np.ndarray
    cones: np.ndarray
    blend_mm: float
    top_mm: float | None
    top_blend_mm: float | None

    def distance(self, points: np.ndarray) -> np.ndarray:
        """Return signed distances (n,) mm of points (n, 3), negative inside; without the cut."""
        parts = [ellipsoid(points, e[:3], e[3:]) for e in self.ellipsoids]
        parts += [round_cone(points, c[:3], c[4:7], c[3], c[7]) for c in self.cones]
        return functools.reduce(lambda a, b: smooth_minimum(a, b, self.blend_mm), parts)


@dataclass(frozen=True)
class Anatomy:
    """Everything in ``anatomy.toml``.

    Attributes
    ----------
    bones : dict of str to Solid
    skin : Solid
    table : dict
        The file as read, for the constants of the plantar surface, the sections, the fascia, the
        dimensions and the joints.
    """

    bones: dict[str, Solid]
    skin: Solid
    table: dict


def _solid(entry: dict) -> Solid:
    cones = [a + b for row in entry.get("chain", ()) for a, b in itertools.pairwise(row)]
    return Solid(
        np.array(entry.get("ellipsoid", ()), float).reshape(-1, 6),
        np.array(cones, float).reshape(-1, 8),
        entry["blend_mm"], entry.get("top_mm"), entry.get("top_blend_mm"),
    )


@functools.cache
def anatomy() -> Anatomy:
    """Return the reference anatomy (read once)."""
    file = resources.files(__package__).joinpath("anatomy.toml")
    table = tomllib.loads(file.read_text(encoding="utf-8"))
    bones = {name: _solid(entry) for name, entry in table["bones"].items()}
    return Anatomy(bones, _solid(table["skin"]), table)


def bone_names() -> tuple[str, ...]:
    """Return the names of the bones."""
    return tuple(anatomy().bones)


def bone_distance(name: str, points: np.ndarray) -> np.ndarray:
    """Return the signed distance (n,) mm of points (n, 3) to a bone, negative inside.

    A bone that ends at a cut has that edge rounded. Raises InputError for an unknown bone.
    """
    bones = anatomy().bones
    if name not in bones:
        raise unknown_name("bone", name, bones)
    bone = bones[name]
    distance = bone.distance(points)
    if bone.top_mm is not None:
        distance = smooth_maximum(distance, points[:, 1] - bone.top_mm, bone.top_blend_mm)
    return distance


def skin_distance(points: np.ndarray, cut: bool = True) -> np.ndarray:
    """Return the signed distance (n,) mm of points (n, 3) to the skin, negative inside.

    Without ``cut`` the shank goes on above the cutting plane.
    """
    skin, entry = anatomy().skin, anatomy().table["skin"]
    distance = skin.distance(points)
    height = plantar_height_mm(points[:, 0], points[:, 2])
    distance = smooth_maximum(distance, height - points[:, 1], skin.blend_mm)
    bones = np.min([bone.distance(points) for bone in anatomy().bones.values()], axis=0)
    distance = smooth_minimum(distance, bones - entry["cover_mm"], entry["cover_blend_mm"])
    return np.maximum(distance, points[:, 1] - skin.top_mm) if cut else distance


def plantar_height_mm(x_mm: np.ndarray, z_mm: np.ndarray) -> np.ndarray:
    """Return the height (mm) of the reference foot's plantar surface above the ground.

    Arch, rounding of the heel and the forefoot across, rise at the back of the heel and toe spring,
    as written out in ``anatomy.toml``.
    """
    p = anatomy().table["plantar"]
    x, z = np.asarray(x_mm, float), np.asarray(z_mm, float)
    lateral = p["arch_lateral_share"]
    across = 1.0 - smoothstep((z - p["arch_z_from_mm"]) / p["arch_z_length_mm"])
    rise = smoothstep((x - p["arch_from_mm"]) / p["arch_length_mm"])
    fall = 1.0 - smoothstep((x - p["arch_to_mm"]) / p["arch_length_mm"])
    arch = p["arch_mm"] * rise * fall * (lateral + (1.0 - lateral) * across)
    start, length = p["heel_curve_x_mm"]
    heel = p["heel_curve_per_mm"] * z**2 * (1.0 - smoothstep((x - start) / length))
    start, length = p["forefoot_curve_x_mm"]
    forefoot = p["forefoot_curve_per_mm"] * (z - p["forefoot_curve_z_mm"]) ** 2
    forefoot = forefoot * smoothstep((x - start) / length)
    back = p["heel_rise_per_mm"] * np.maximum(p["heel_rise_x_mm"] - x, 0.0) ** 2
    toes = p["toe_spring_per_mm"] * np.maximum(x - p["toe_spring_x_mm"], 0.0) ** 2
    return arch + heel + forefoot + back + toes

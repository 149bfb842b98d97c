"""Sections of the reference foot by gently curved sheets, and their outlines.

``sagittal`` has in-plane coordinates (x, y) and follows the second ray; ``rearfoot`` has (z, y).
"""

from __future__ import annotations

import functools
from collections.abc import Callable

import numpy as np

from ..errors import unknown_name
from .anatomy import anatomy, bone_distance, skin_distance
from .morph import REFERENCE, Dimensions, length_scale, morph, width_scale
from .shape import smooth_maximum, smooth_minimum

SECTIONS = ("sagittal", "rearfoot")
_BOX = {"sagittal": (-8.0, 262.0, -8.0, 98.0), "rearfoot": (-52.0, 52.0, -8.0, 98.0)}
_ARTICULATING_MM = 6.5
_CAPSULE_MM = 3.0
_CLEAR_MM = 0.35


def _entry(name: str) -> dict:
    if name not in SECTIONS:
        raise unknown_name("section", name, SECTIONS)
    return anatomy().table["sections"][name]


@functools.cache
def _curve(name: str, key: str) -> Callable:
    """Return the smooth table ``key`` of a section as a function, constant beyond its ends."""
    from scipy.interpolate import PchipInterpolator

    knots, values = np.array(_entry(name)[key], float).T
    if len(knots) == 1:
        return lambda s: np.full_like(np.asarray(s, float), values[0])
    curve = PchipInterpolator(knots, values)
    return lambda s: curve(np.clip(s, knots[0], knots[-1]))


def lift(name: str, points: np.ndarray) -> np.ndarray:
    """Return the space points (n, 3) mm of in-plane points (n, 2) of the reference section."""
    a, b = np.asarray(points, float).T
    if name == "sagittal":
        return np.column_stack([a, b, _curve(name, "sheet_mm")(a)])
    return np.column_stack([_curve(name, "sheet_mm")(b), b, a])


def flatten(name: str, points: np.ndarray) -> np.ndarray:
    """Return the in-plane coordinates (n, 2) of space points (n, 3)."""
    return points[:, [0, 1]] if name == "sagittal" else points[:, [2, 1]]


def section_morph(name: str, points: np.ndarray, dimensions: Dimensions) -> np.ndarray:
    """Move in-plane points (n, 2) mm of the reference section to the person's section."""
    return flatten(name, morph(lift(name, points), dimensions))


def thickness_mm(name: str, x_mm, dimensions: Dimensions = REFERENCE) -> np.ndarray:
    """Return the depth (mm) of a section at the person's x (mm).

    Sagittal: the effective width of the foot, which follows the person's width. Rearfoot: the
    length of heel the slice stands for, the same everywhere, which follows the person's length.
    """
    stretch = length_scale(dimensions)
    x = np.asarray(x_mm, float) / stretch
    width = _curve(name, "width_mm")(x)
    return width * (width_scale(x, dimensions) if name == "sagittal" else stretch)


def section_bones(name: str) -> tuple[str, ...]:
    """Return the bones a section cuts."""
    return tuple(_entry(name)["bones"])


def bone_field(name: str, bone: str) -> Callable:
    """Return the signed distance of a bone as a function of in-plane points (n, 2)."""
    return lambda points: bone_distance(bone, lift(name, points))


def skin_field(name: str) -> Callable:
    """Return the signed distance of the uncut skin as a function of in-plane points (n, 2)."""
    return lambda points: skin_distance(lift(name, points), cut=False)


@functools.cache
def joint_widths_mm(name: str) -> dict[tuple[int, int], float]:
    """Return, for each pair of bones that meet in a section, the width of the blend across the gap.

    The blend min(a, b) - h^2/(4k) with k = 2 gap + 3 mm is negative between the bones where the
    distances add up to less than the gap + 1.5 mm on the middle line, and equals the nearer bone's
    own distance where the other bone is more than k away.
    """
    points = _grid(name, 1.0)[2]
    bones = section_bones(name)
    outside = [np.maximum(bone_field(name, bone)(points), 0.0) for bone in bones]
    widths = {}
    for first, second in anatomy().table["joints"]["pairs"]:
        if first in bones and second in bones:
            i, j = bones.index(first), bones.index(second)
            gap = float((outside[i] + outside[j]).min())
            if gap < _ARTICULATING_MM:
                widths[i, j] = 2.0 * gap + _CAPSULE_MM
    return widths


def hole_field(name: str) -> Callable:
    """Return a function of in-plane points (n, 2), negative in the bones and the joint spaces."""
    names = section_bones(name)
    fields = [bone_field(name, bone) for bone in names]
    solids = [anatomy().bones[bone] for bone in names]
    widths = joint_widths_mm(name)

    def distance(points):
        bones = [field(points) for field in fields]
        out = np.min(bones, axis=0)
        for (i, j), width in widths.items():
            space = smooth_minimum(bones[i], bones[j], width)
            if solids[i].top_mm is not None and solids[j].top_mm is not None:
                top = min(solids[i].top_mm, solids[j].top_mm)
                blend = min(solids[i].top_blend_mm, solids[j].top_blend_mm)
                space = smooth_maximum(space, points[:, 1] - top, blend)
            np.minimum(out, space, out=out)
        return out

    return distance


def onto_hole(name: str, points: np.ndarray, largest_mm=0.3) -> np.ndarray:
    """Project points (n, 2) near the edge of bones and joint spaces onto it.

    Points well inside a joint space's own edge stay: between two bones that face each other the
    field is flat, and that edge has no exact place. So do points that would move by more than
    ``largest_mm`` (a number or one per point): they sit where two joint spaces meet.
    """
    hole = hole_field(name)
    bones = np.min([bone_field(name, bone)(points) for bone in section_bones(name)], axis=0)
    near = bones - hole(points) < _CLEAR_MM
    out = points.copy()
    out[near] = project(hole, points[near])
    far = np.linalg.norm(out - points, axis=1) > largest_mm
    out[far] = points[far]
    return out


def _grid(name: str, step_mm: float):
    low_a, high_a, low_b, high_b = _BOX[name]
    a = np.arange(low_a, high_a + step_mm / 2, step_mm)
    b = np.arange(low_b, high_b + step_mm / 2, step_mm)
    return a, b, np.column_stack([g.ravel() for g in np.meshgrid(a, b)])


def contours(name: str, field: Callable, step_mm: float = 1.0) -> list[np.ndarray]:
    """Return the zero lines of a field as polylines (k, 2), longest first, closed or open."""
    import contourpy

    a, b, points = _grid(name, step_mm)
    values = field(points).reshape(len(b), len(a))
    lines = contourpy.contour_generator(a, b, values, name="serial").lines(0.0)
    return sorted(lines, key=lambda line: -np.linalg.norm(np.diff(line, axis=0), axis=1).sum())


def project(field: Callable, points: np.ndarray, along: np.ndarray | None = None) -> np.ndarray:
    """Newton-project points (n, 2) onto the zero line of a field.

    With ``along`` (2,) they move in that direction only, otherwise along the gradient.
    """
    points = np.array(points, float)
    step = 1e-4
    for _ in range(12 if len(points) else 0):
        value = field(points)
        if np.abs(value).max() < 1e-11:
            break
        gradient = np.column_stack([
            (field(points + move) - field(points - move)) / (2 * step)
            for move in (np.array([step, 0.0]), np.array([0.0, step]))
        ])
        if along is None:
            square = (gradient**2).sum(axis=1)
            move = gradient / np.maximum(square, 0.01)[:, None]
        else:
            move = np.asarray(along)[None] / (gradient @ along)[:, None]
        move = value[:, None] * move
        points -= move
    return points


def even(line: np.ndarray, spacing_mm: float) -> np.ndarray:
    """Return points (m, 2) on a polyline (k, 2), ends kept, at nearly the given spacing."""
    length = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    at = np.linspace(0, length[-1], max(4, round(length[-1] / spacing_mm)) + 1)
    return np.column_stack([np.interp(at, length, line[:, k]) for k in (0, 1)])


def bone_outlines(
    name: str, dimensions: Dimensions = REFERENCE, spacing_mm: float = 0.8
) -> dict[str, np.ndarray]:
    """Return the closed outline (k, 2) mm of each bone in a person's section."""
    out = {}
    for bone in section_bones(name):
        field = bone_field(name, bone)
        line = project(field, even(contours(name, field)[0], spacing_mm))
        line[-1] = line[0]
        out[bone] = section_morph(name, line, dimensions)
    return out


def skin_line(name: str) -> np.ndarray:
    """Return the reference skin (k, 2) mm from one end of the shank cut to the other.

    It runs down the back (medial side), along the sole and up again, with the inside on the left.
    """
    field, top = skin_field(name), anatomy().skin.top_mm
    line = contours(name, field)[0]
    if line[0, 0] > line[-1, 0]:
        line = line[::-1]
    below = np.flatnonzero(line[:, 1] < top - 0.2)
    line = project(field, even(line[below[0] : below[-1] + 1], 0.6))
    ends = np.array([[line[0, 0], top], [line[-1, 0], top]])
    ends = project(field, ends, along=np.array([1.0, 0.0]))
    return np.vstack([ends[:1], line, ends[1:]])


def skin_outline(
    name: str, dimensions: Dimensions = REFERENCE, spacing_mm: float = 0.8
) -> np.ndarray:
    """Return the person's closed skin outline (k, 2) mm, cut through the shank included."""
    line = even(skin_line(name), spacing_mm)
    line[1:-1] = project(skin_field(name), line[1:-1])
    return section_morph(name, np.vstack([line, line[:1]]), dimensions)

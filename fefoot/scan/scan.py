"""The way of a scan from file to surface: read, unit, order, place, holes, heights, dimensions."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from ..device.device import FootLandmarks
from ..device.facets import Facets, edges_of
from ..device.stl import from_bench
from ..errors import InputError
from . import device_pose, foot_pose
from .measure import arch_height_mm, navicular_height_mm, widths_mm
from .order import Hole, holes, largest_piece, oriented, subdivided
from .pose import Pose, sampled
from .raster import height_grid
from .read import read_facets
from .units import MM, unit_of
from .values import Scan, ScanChoice

WIDEST_HOLE_MM = 15.0
ANKLE_SHARE = 0.12
"""A foot may be open above this share of its length."""
BORDER_SHARE = 0.7
"""An opening as wide and long as this share of the scan is its border: a single sheet was scanned."""
FLAT_SHARE = 0.16
"""A closed shape that is lower than this share of its length is an insole, not a foot."""
OTHER_SIDE = 0.6
"""The mirror image of a foot must not be closer to the model's than this times the foot itself."""
FARTHEST_MM = 9.0
"""A shape that is further from the model's foot (rms) is no foot."""
CLOSED = "closed"
LEAST_SOLE_SHARE = 0.3
"""Least area of the sole over length times forefoot width: under it the sole is not in the scan."""


def scanned(path: Path, choice: ScanChoice, side: str, foot: FootLandmarks) -> Scan:
    """Return a scan in place, as a right foot's or device's, with what was found on the way.

    Parameters
    ----------
    path : Path
        Of the file.
    choice : ScanChoice
    side : {"right", "left"}
        The person's side; a left scan is mirrored on the way in.
    foot : FootLandmarks
        Of the person, under whom a device is laid.

    Raises
    ------
    InputError
        For a scan that cannot be read, is empty, open, of a wrong scale or of the other side.
    """
    file = str(path)
    facets = read_facets(path)
    facts = []
    unit, stated = unit_of(facets.points_mm, choice.kind, choice.unit, file)
    landmarks = None if choice.landmarks is None else np.array(choice.landmarks, float) * MM[unit]
    facets = Facets(facets.points_mm * MM[unit], facets.triangles)
    if side == "left":
        facets = Facets(facets.points_mm * [1.0, -1.0, 1.0], facets.triangles[:, ::-1])
        landmarks = None if landmarks is None else landmarks * [1.0, -1.0, 1.0]
    facets, others, share = largest_piece(facets)
    facets, turned = oriented(facets)
    place = _device if choice.kind == "device" else _foot
    pose, margin_mm, how = place(facets, choice, landmarks, side, foot, file)
    facets, inside_out = _outward(Facets(pose.of(facets.points_mm), facets.triangles),
                                  choice.kind == "device")
    open_words = _openings(facets, choice.kind, file)
    if choice.kind != "device" and open_words == CLOSED:
        _refuse_flat(facets, choice.kind, file)
    facts.append(f"{len(facets.triangles)} triangles, {open_words}." + _repairs(
        others, share, turned or (len(facets.triangles) if inside_out else 0)))
    facts += [stated, how]
    grid = height_grid(facets, choice.kind == "device", margin_mm)
    measured: dict[str, float] = {}
    if choice.kind != "device":
        _refuse_no_sole(facets, file)
        measured, words = _dimensions(facets, grid)
        facts.append(words)
    return Scan(choice, facets, grid, measured, tuple(facts),
                None if landmarks is None else pose.of(landmarks))


def _foot(facets, choice, landmarks, side, foot, file) -> tuple[Pose, float, str]:
    corners = facets.points_mm[facets.triangles]
    if choice.align == "as_made":
        return _as_made(), 0.0, "Placed as its axes say: X to the toes, Z up."
    if landmarks is not None:
        pose = foot_pose.by_landmarks(corners, landmarks)
        if pose.of(sampled(corners, 2000))[:, 1].mean() < pose.of(landmarks)[:, 1].mean():
            raise _other_side(side, file, "with these landmarks the foot lies under the ground")
        return pose, 0.0, "Placed by three landmarks: heel, first and fifth metatarsal head."
    fit = foot_pose.by_reference(corners)
    mirror = foot_pose.by_reference(corners * [1.0, -1.0, 1.0], rounds=1)
    if mirror.distance_mm < OTHER_SIDE * fit.distance_mm:
        raise _other_side(side, file, f"it is {fit.distance_mm:.1f} mm from the model's {side} foot, "
                                      f"its mirror image {mirror.distance_mm:.1f} mm")
    if fit.distance_mm > FARTHEST_MM:
        raise InputError(
            "this does not have the shape of a foot", file=file, key="scan.file",
            value=f"{fit.distance_mm:.1f} mm from the model's foot",
            allowed=f"up to {FARTHEST_MM:g} mm",
            hint="check scan.kind, cut away what is not foot, or give three landmarks")
    points = sampled(corners, foot_pose.POINTS)
    placed, _ = _outward(Facets(fit.pose.of(facets.points_mm), facets.triangles), False)
    widths = widths_mm(_spread(placed))
    arch = arch_height_mm(height_grid(placed, False), widths["length_mm"], widths["forefoot_width_mm"])
    fit = foot_pose.refined(points, fit.pose, 2, navicular_height_mm(arch, widths))
    pose = foot_pose.grounded(fit.pose, facets.points_mm)
    return pose, 0.0, ("Placed automatically, like the model's foot of its size; their skins are "
                       f"{fit.distance_mm:.1f} mm apart (root mean square).")


def _device(facets, choice, landmarks, side, foot, file) -> tuple[Pose, float, str]:
    if choice.align == "as_made":
        placed = device_pose.measured(facets, _as_made(), foot)
        return placed.pose, placed.margin_mm, "Placed as its axes say: X to the toes, Z up."
    if landmarks is not None:
        placed = device_pose.by_landmarks(facets, foot, landmarks)
        return placed.pose, placed.margin_mm, \
            "Placed by three landmarks, its heel at the back of the outline."
    placed = device_pose.by_outline(facets, foot)
    if placed.arch_mm < -device_pose.ARCHED_MM:
        raise _other_side(side, file, f"its arch rises {-placed.arch_mm:.1f} mm on the lateral side")
    sure = "" if placed.arch_mm > device_pose.ARCHED_MM else \
        " Right and left cannot be told apart from its shape."
    return placed.pose, placed.margin_mm, (
        "Placed automatically, as it rests, its outline under the foot's, "
        f"{placed.distance_mm:.1f} mm apart (root mean square).{sure}")


def _as_made() -> Pose:
    return Pose(from_bench(np.eye(3)).T, np.zeros(3))


def _other_side(side: str, file: str, why: str) -> InputError:
    other = "left" if side == "right" else "right"
    return InputError(
        f"the scan looks like a {other} one, and the person's side is {side}: {why}", file=file,
        key="scan.file", value=f"a {other} shape", allowed=f"a scan of the {side} side",
        hint=f"write side = {other!r}, take the other file, or check the order of the landmarks")


def _outward(facets: Facets, is_device: bool) -> tuple[Facets, bool]:
    """Turn the surface outwards: a closed one by its volume, a sheet by the side that is wanted."""
    if len(edges_of(facets).open_edges) == 0:
        wrong = facets.volume_mm3() < 0.0
    else:
        normal = facets.normals_mm2()[:, 1]
        low = facets.points_mm[facets.triangles, 1].mean(axis=1) < 10.0
        wrong = normal.sum() < 0.0 if is_device else normal[low].sum() > 0.0
    return (Facets(facets.points_mm, facets.triangles[:, ::-1]), True) if wrong else (facets, False)


def _openings(facets: Facets, kind: str, file: str) -> str:
    """Return what is open, in words, or refuse holes that are too wide."""
    size = np.ptp(facets.points_mm, axis=0)
    words, small = [], []
    for hole in holes(facets):
        box = np.ptp(hole.points_mm, axis=0)
        if kind != "device" and hole.points_mm[:, 1].min() > ANKLE_SHARE * size[0]:
            words.append(f"open at the ankle ({hole.across_mm:.0f} mm across)")
        elif box[0] > BORDER_SHARE * size[0] and box[2] > BORDER_SHARE * size[2]:
            words.append("a sheet with a border")
        elif hole.across_mm > WIDEST_HOLE_MM:
            raise _hole(hole, file)
        else:
            small.append(hole)
    if small:
        words.append(f"{len(small)} small hole{'s' if len(small) > 1 else ''} filled, up to "
                     f"{small[0].across_mm:.0f} mm across")
    return ", ".join(words) or CLOSED


def _refuse_flat(facets: Facets, kind: str, file: str) -> None:
    length, height, _ = np.ptp(facets.points_mm, axis=0)
    if height < FLAT_SHARE * length:
        raise InputError(
            f"this {kind} is as flat as an insole", file=file, key="scan.kind", value=kind,
            allowed=f"a {kind} at least {FLAT_SHARE * length:.0f} mm high; it has {height:.0f} mm",
            hint="write kind = 'device' for an insole, or scan the foot up to the ankle")


def _hole(hole: Hole, file: str) -> InputError:
    x, y, z = hole.points_mm.mean(axis=0)
    return InputError(
        "the scan is open: it has a hole", file=file, key="scan.file",
        value=f"{hole.across_mm:.0f} mm across, {x:.0f} mm from the back of the heel, {y:.0f} mm up, "
              f"{abs(z):.0f} mm {'medially' if z < 0 else 'laterally'}",
        allowed=f"holes up to {WIDEST_HOLE_MM:g} mm; the ankle and the border of a sheet may be open",
        hint="fill it in the scanning program, or scan again")


def _repairs(others: int, share: float, turned: int) -> str:
    words = []
    if others:
        words.append(f"{others} loose piece{'s' if others > 1 else ''} left out "
                     f"({100.0 * share:.1g} % of the area)")
    if turned:
        words.append(f"{turned} triangles turned to look outwards")
    return f" {'; '.join(words)}.".capitalize() if words else ""


def _spread(facets: Facets) -> np.ndarray:
    return subdivided(facets, 3.0).reshape(-1, 3)


def _refuse_no_sole(facets: Facets, file: str) -> None:
    widths = widths_mm(_spread(facets))
    normal = facets.normals_mm2()
    low = facets.points_mm[facets.triangles, 1].mean(axis=1) < 45.0
    sole = 0.5 * np.abs(np.minimum(normal[low, 1], 0.0)).sum()
    share = float(sole / max(widths["length_mm"] * widths["forefoot_width_mm"], 1.0))
    if share < LEAST_SOLE_SHARE:
        raise InputError("the scan is open: the sole is not in it", file=file, key="scan.file",
                         value=f"{100 * share:.0f} % of length times width",
                         allowed=f"at least {100 * LEAST_SOLE_SHARE:.0f} %",
                         hint="scan the foot from below, or a cast of it")


def _dimensions(facets: Facets, grid) -> tuple[dict[str, float], str]:
    """Return the dimensions that the scan gives, and a sentence with all that was measured."""
    widths = widths_mm(_spread(facets))
    arch = arch_height_mm(grid, widths["length_mm"], widths["forefoot_width_mm"])
    navicular = navicular_height_mm(arch, widths)
    measured = {name: round(value, 1) for name, value in widths.items()}
    if navicular is not None:
        measured["navicular_height_mm"] = round(navicular, 1)
    length, heel, forefoot = widths.values()
    words = (f"Measured: length {length:.1f} mm, heel {heel:.1f} mm and forefoot {forefoot:.1f} mm "
             f"wide, sole under the navicular {arch:.1f} mm up, ")
    words += ("which no navicular height of the model gives." if navicular is None else
              f"as with a navicular {navicular:.1f} mm high.")
    return measured, words + " Pads under heel and heads cannot be measured on the skin."


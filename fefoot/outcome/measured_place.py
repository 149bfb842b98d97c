"""Put a measured pressure map in place: onto the plan of the model's unloaded foot.

Without landmarks the map is turned to the principal axis of what is loaded, toes either way, and then
turned and moved until it covers the low part of the sole best: the largest ratio of common to joint
area (Jaccard's index). The mirror image must not fit better. With landmarks it is the rigid motion with
the least squared distance (Kabsch 1976, Acta Cryst A32:922-923, recalled).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from ..device.device import FootLandmarks
from ..errors import InputError
from ..foot.mesh3d import morphed3d, reference_mesh
from ..foot.morph import Dimensions
from .measured_values import LOADED_kPa
from .scene import flat_triangles

LOW_MM, GRID_MM, MARGIN_MM, DOTS = 4.0, 2.5, 40.0, 5
"""Height below which the unloaded sole counts as print; cells and margin of the search; points along
the side of a triangle of the sole."""
TURNS_DEGREES = (np.arange(-18.0, 19.0, 3.0), np.arange(-2.0, 2.1, 1.0))
MIRROR_GAIN, APART_MM = 0.03, 15.0
"""By how much better a mirror image must fit to be refused; most that landmarks may miss."""
LEAST_FIT = 0.6
"""Common over joint area below which a print is not placed by itself. Invented prints of the model's
own foot fit by 0.75 to 0.90, their mirror images by 0.54 to 0.63."""
LENGTH_SHARE, WIDTH_SHARE = (0.78, 1.08), (0.55, 1.35)
"""Length of a print that can be placed by itself, and breadth, over those of the foot."""


@dataclass(frozen=True)
class Placement:
    """Cell (row, column) of a map lies at ``corner + row * down + column * right``, (x, z) mm.

    ``fit`` is the common over the joint area with the model's print, nan with landmarks; ``facts`` says
    in sentences how it was placed.
    """

    corner: tuple[float, float]
    right: tuple[float, float]
    down: tuple[float, float]
    fit: float
    facts: tuple[str, ...]

    def cells_mm(self, shape) -> tuple[np.ndarray, np.ndarray]:
        """Return x and z (rows, columns) of the cells' middles."""
        row, column = np.indices(shape)
        return tuple(self.corner[k] + row * self.down[k] + column * self.right[k] for k in (0, 1))

    def cells_of(self, x, z) -> tuple[np.ndarray, np.ndarray]:
        """Return row and column, as broken numbers, of points in the plan."""
        matrix = np.linalg.inv(np.column_stack([self.down, self.right]))
        row, column = matrix @ np.stack([np.ravel(x) - self.corner[0], np.ravel(z) - self.corner[1]])
        return row.reshape(np.shape(x)), column.reshape(np.shape(x))


def placed(pressure_kPa: np.ndarray, spacing_mm: float, foot: FootLandmarks, dimensions: Dimensions, *,
           mirror: bool, points_mm=None, file: str = "") -> Placement:
    """Return where the cells of a map lie under the model's foot.

    Parameters
    ----------
    pressure_kPa : (rows, columns) array
    spacing_mm : float
    foot : FootLandmarks
    dimensions : Dimensions
    mirror : bool
        Whether the grid, rows downwards, shows the mirror image of a right foot from above.
    points_mm : three pairs, optional
        Heel's centre, first and fifth metatarsal head: right and down from the first cell.
    file : str
        For messages.

    Raises
    ------
    InputError
        When the print has another size than the foot, is the other side's, or the landmarks are not
        those of this foot.
    """
    sign = -1.0 if mirror else 1.0
    if points_mm is not None:
        return _by_points(np.array(points_mm, float), spacing_mm, foot, sign, file)
    loaded = np.nan_to_num(pressure_kPa) > LOADED_kPa
    row, column = np.nonzero(loaded)
    plan = spacing_mm * np.column_stack([column * sign, -row]).astype(float)
    middle, axis = plan.mean(axis=0), _axis(plan)
    along, across = ((plan - middle) @ v for v in (axis, np.array([-axis[1], axis[0]])))
    length, width = (float(np.ptp(part)) + spacing_mm for part in (along, across))
    _refuse_size(length, width, foot, file)
    start = math.degrees(math.atan2(axis[0], axis[1]))
    target = _Target(foot, dimensions)
    found = [max((target.best(plan * [m, 1.0], spacing_mm, m * (start + half))
                  for half in (0.0, 180.0)), key=lambda fit: fit[0]) for m in (1.0, -1.0)]
    (fit, turn, shift), (other, *_) = found
    if other > fit + MIRROR_GAIN:
        raise InputError(
            "the map fits as the mirror image of this foot", file=file,
            key="measured_pressure.seen_from", value=f"fit {fit:.2f}, mirrored {other:.2f}",
            allowed="the foot of person.side, as stated",
            hint="check person.side, seen_from ('above' or 'below'), and that the file is this foot's")
    if fit < LEAST_FIT:
        raise InputError(
            "the map does not look like the print of this foot", file=file,
            key="measured_pressure.file", value=f"fit {fit:.2f}, as a mirror image {other:.2f}",
            allowed=f"a fit of at least {LEAST_FIT:g}: common over joint area with the model's print",
            hint="check person.side, seen_from and spacing_mm, or give heel, first_head and fifth_head")
    facts = (f"Placed by itself: turned by {round(turn) % 360} degrees; {100 * fit:.0f} % of the joint "
             f"area of print and model's print is common ({100 * other:.0f} % as a mirror image).",
             f"The print is {length:.0f} mm long and {width:.0f} mm wide; the foot "
             f"{foot.length_mm:.0f} mm and {foot.forefoot_width_mm:.0f} mm.")
    return _placement(math.radians(turn), shift, spacing_mm, sign, fit, facts)


def _axis(plan: np.ndarray) -> np.ndarray:
    return np.linalg.svd(plan - plan.mean(axis=0), full_matrices=False)[2][0]


def _refuse_size(length, width, foot, file) -> None:
    low, high = (share * foot.length_mm for share in LENGTH_SHARE)
    narrow, wide = (share * foot.forefoot_width_mm for share in WIDTH_SHARE)
    if not (low <= length <= high and narrow <= width <= wide):
        raise InputError(
            "the loaded part of the map has not the size of this foot", file=file,
            key="measured_pressure.spacing_mm", value=f"{length:.0f} by {width:.0f} mm",
            allowed=f"{low:.0f} to {high:.0f} mm long, {narrow:.0f} to {wide:.0f} mm wide",
            hint="check spacing_mm and the person's dimensions, mask what is not this foot, or give "
                 "heel, first_head and fifth_head where only part of the foot is loaded")


class _Target:
    """The low part of the model's sole on a grid of the plan, and how well a print covers it."""

    def __init__(self, foot: FootLandmarks, dimensions: Dimensions):
        half = 0.5 * foot.forefoot_width_mm + MARGIN_MM
        self.x = np.arange(-MARGIN_MM, foot.length_mm + MARGIN_MM, GRID_MM)
        self.z = np.arange(-half, half, GRID_MM)
        self.low = np.zeros((len(self.x), len(self.z)))
        dots = sole_dots(dimensions)
        dots = dots[dots[:, 1] < LOW_MM]
        row, column = (np.floor((part - first) / GRID_MM).astype(int) for part, first in (
            (dots[:, 0], self.x[0]), (dots[:, 2], self.z[0])))
        self.low[row, column] = 1.0

    def best(self, plan: np.ndarray, spacing_mm: float, start_degrees: float):
        """Return the best (fit, turn in degrees, shift (z, x) mm) of a print (n, 2) round a turn."""
        best = (-1.0, start_degrees, np.zeros(2))
        for steps in TURNS_DEGREES:
            middle = best[1]
            best = max([best, *((*self._fit(plan, spacing_mm, middle + step),) for step in steps)],
                       key=lambda fit: fit[0])
        return best

    def _fit(self, plan, spacing_mm, turn):
        from scipy.signal import fftconvolve

        moved = plan @ _turn(math.radians(turn)).T
        low = moved.min(axis=0) - spacing_mm
        step = min(1.0, GRID_MM / spacing_mm)
        fine = np.arange(-0.5, 0.5, step) + 0.5 * step
        offset = spacing_mm * np.stack(np.meshgrid(fine, fine), -1).reshape(-1, 2) @ _turn(
            math.radians(turn)).T
        dots = (moved[:, None] + offset - low).reshape(-1, 2)
        place = np.floor(dots / GRID_MM).astype(int)
        print_ = np.zeros(place.max(axis=0)[::-1] + 1)
        print_[place[:, 1], place[:, 0]] = 1.0
        if print_.shape[0] > len(self.x) or print_.shape[1] > len(self.z):
            return -1.0, turn, np.zeros(2)
        common = fftconvolve(self.low, print_[::-1, ::-1], mode="valid")
        row, column = np.unravel_index(np.argmax(common), common.shape)
        both = float(common[row, column])
        fit = both / (self.low.sum() + print_.sum() - both)
        shift = np.array([self.z[0] + column * GRID_MM, self.x[0] + row * GRID_MM]) - low
        return fit, turn, shift


def sole_dots(dimensions: Dimensions) -> np.ndarray:
    """Return points (n, 3), mm, spread over the unloaded sole of a person's whole foot."""
    mesh = morphed3d(reference_mesh("coarse"), dimensions)
    corners = mesh.points[flat_triangles(mesh.facets["plantar"])]
    return np.einsum("qa,kai->kqi", shares(DOTS), corners).reshape(-1, 3)


def shares(count: int) -> np.ndarray:
    """Return barycentric coordinates (q, 3) of the middles of ``count`` squared equal triangles."""
    out = []
    for i in range(count):
        for j in range(count - i):
            out.append((i + 1 / 3, j + 1 / 3))
            if i + j < count - 1:
                out.append((i + 2 / 3, j + 2 / 3))
    first, second = np.array(out).T / count
    return np.column_stack([first, second, 1.0 - first - second])


def _turn(angle: float) -> np.ndarray:
    return np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])


def _placement(angle, shift, spacing_mm, sign, fit, facts) -> Placement:
    turn = spacing_mm * _turn(angle)
    right, down = turn @ [sign, 0.0], turn @ [0.0, -1.0]
    corner, right, down = (tuple(float(v) for v in part[::-1])
                           for part in (np.asarray(shift), right, down))
    return Placement(corner, right, down, float(fit), facts)


def _by_points(points, spacing_mm, foot, sign, file) -> Placement:
    goal = np.array([(0.0, foot.heel_centre_x_mm), *(
        (foot.metatarsal_head_z_mm[k], foot.metatarsal_head_x_mm[k]) for k in (0, 4))])
    plan = points * [sign, -1.0]
    angle, shift, apart = _rigid(plan, goal)
    if apart > APART_MM:
        mirrored = _rigid(plan * [-1.0, 1.0], goal)[2] < apart
        raise InputError(
            "the landmarks fit the mirror image of this foot better" if mirrored
            else "the landmarks do not lie like those of this foot", file=file,
            key="measured_pressure.heel", value=f"up to {apart:.0f} mm apart",
            allowed=f"up to {APART_MM:g} mm", hint="check person.side and seen_from" if mirrored else
            "give [right, down] in mm from the middle of the first cell; check the person's dimensions")
    facts = (f"Placed by its three landmarks, which miss the model's by up to {apart:.0f} mm.",)
    return _placement(angle, shift, spacing_mm, sign, math.nan, facts)


def _rigid(plan, goal):
    """Return angle, shift (2,) and largest distance of the rotation that brings points to a goal."""
    a, b = plan - plan.mean(axis=0), goal - goal.mean(axis=0)
    angle = math.atan2((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum(), (a * b).sum())
    shift = goal.mean(axis=0) - _turn(angle) @ plan.mean(axis=0)
    apart = np.linalg.norm(plan @ _turn(angle).T + shift - goal, axis=1).max()
    return angle, shift, float(apart)

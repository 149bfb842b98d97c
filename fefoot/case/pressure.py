"""What a case says of a measured pressure map, and the map as it was read and put in place."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np

from ..errors import InputError
from . import schema
from .check import Mistakes, read_keys, unknown_keys
from .pressure_file import KEY, read_grid
from .values import Case

PLACES = ("heel", "first_head", "fifth_head")
FORCE_RATIO = (0.5, 2.0)
"""Force of the map over that of the instant which is taken as the same load."""
STANDARD_GRAVITY = 9.80665


@dataclass(frozen=True)
class PressureChoice:
    """A measured pressure map as the case names it; keys and units as in ``schema``.

    ``landmarks`` are three pairs (right, down) in mm from the first cell, or None.
    """

    file: str = field(compare=False)
    spacing_mm: float
    condition: str = "barefoot"
    stance_percent: float | None = field(default=None, compare=False)
    seen_from: str = "above"
    mask_file: str = field(default="", compare=False)
    landmarks: tuple | None = None


@dataclass(frozen=True)
class MeasuredPressure:
    """A measured pressure map in place.

    Attributes
    ----------
    choice : PressureChoice
    pressure_kPa : (rows, columns) array
        Nan where nothing was measured.
    stance_percent : float
        The instant it is compared with.
    place : Placement
        How cells lie in the plan of the model.
    digest : str
        Of the pressures.
    """

    choice: PressureChoice
    pressure_kPa: np.ndarray = field(compare=False)
    stance_percent: float
    place: object = field(compare=False)
    digest: str

    @property
    def force_N(self) -> float:
        """Return the force that the pressures add up to."""
        return 1e-3 * float(np.nansum(self.pressure_kPa)) * self.choice.spacing_mm**2


def read_pressure(given: dict | None, case: Case, mistakes: Mistakes) -> MeasuredPressure | None:
    """Return the measured pressure of an otherwise valid case; mistakes are noted."""
    if given is None:
        return None
    unknown_keys(given, [key.name for key in schema.MEASURED_PRESSURE], "measured_pressure", mistakes)
    before = len(mistakes.found)
    read = read_keys(given, schema.MEASURED_PRESSURE, "measured_pressure", (), mistakes)
    if len(mistakes.found) > before:
        return None
    points = [read.pop(name) for name in PLACES]
    percent = read.pop("stance_percent")
    with mistakes.noted():
        choice = PressureChoice(
            **read, stance_percent=None if percent == () else percent,
            landmarks=_landmarks(points, case.file))
        return _measured(choice, case)
    return None


def _landmarks(points, file):
    if not any(points):
        return None
    missing = [name for name, point in zip(PLACES, points, strict=True) if not point]
    if missing:
        raise InputError("three landmarks are needed", file=file,
                         key=f"measured_pressure.{missing[0]}", value="missing",
                         allowed=", ".join(PLACES), hint="add the others, or leave all out")
    return tuple(points)


def _measured(choice: PressureChoice, case: Case) -> MeasuredPressure:
    from ..foot.landmarks import landmarks
    from ..outcome.measured_place import placed

    names = ["barefoot", *(device.name for device in case.devices)]
    if choice.condition not in names:
        raise InputError("no condition of the case has this name", file=case.file,
                         key="measured_pressure.condition", value=choice.condition,
                         allowed=", ".join(names),
                         hint="name what was under the foot when it was measured")
    instant = _instant(choice, case)
    home = Path(case.file).parent
    pressure = read_grid(home / choice.file)
    if choice.mask_file:
        pressure = _masked(pressure, home / choice.mask_file)
    file = str(home / choice.file)
    if not np.nansum(pressure) > 0:
        raise InputError("there is no pressure in the map", file=file, key=KEY, value="only zeros",
                         allowed="pressures in kPa",
                         hint="choose an instant with the foot on the ground")
    wanted = instant.vertical_bodyweights * case.person.body_mass_kg * STANDARD_GRAVITY
    force = 1e-3 * float(np.nansum(pressure)) * choice.spacing_mm**2
    if not FORCE_RATIO[0] <= force / wanted <= FORCE_RATIO[1]:
        raise InputError(
            "the pressures do not add up to the load of this instant", file=file, key=KEY,
            value=f"{force:.3g} N",
            allowed=f"{FORCE_RATIO[0] * wanted:.0f} to {FORCE_RATIO[1] * wanted:.0f} N ("
                    f"{wanted:.0f} N at {instant.stance_percent:g} % of stance)",
            hint="check the unit (kPa; 1 N/cm2 is 10 kPa), spacing_mm, body mass, and that the map is "
                 "one instant, not the largest values of a whole step")
    dimensions = case.person.dimensions()
    place = placed(pressure, choice.spacing_mm, landmarks(dimensions), dimensions,
                   mirror=_mirror(choice, case), points_mm=choice.landmarks, file=file)
    return MeasuredPressure(choice, pressure, instant.stance_percent, place,
                            hashlib.sha256(np.ascontiguousarray(pressure).tobytes()).hexdigest())


def _mirror(choice: PressureChoice, case: Case) -> bool:
    """Say whether the grid, rows downwards, is the mirror image of a right foot from above."""
    return (choice.seen_from == "below") != (case.person.side == "left")


def _instant(choice: PressureChoice, case: Case):
    instants = case.activity.instants()
    listed = ", ".join(f"{i.stance_percent:g}" for i in instants)
    if choice.stance_percent is None:
        if len(instants) > 1:
            raise InputError("several instants are solved", file=case.file,
                             key="measured_pressure.stance_percent", value="missing", allowed=listed,
                             hint="say which of them was measured")
        return instants[0]
    for instant in instants:
        if abs(instant.stance_percent - choice.stance_percent) < 0.5:
            return instant
    raise InputError("this instant is not solved", file=case.file,
                     key="measured_pressure.stance_percent", value=choice.stance_percent,
                     allowed=listed, hint="choose one of them, or set activity.at")


def _masked(pressure: np.ndarray, path: Path) -> np.ndarray:
    key = "measured_pressure.mask_file"
    mask = read_grid(path, key)
    if mask.shape != pressure.shape:
        raise InputError("mask and pressures have different sizes", file=str(path), key=key,
                         value=f"{mask.shape[0]} rows of {mask.shape[1]}",
                         allowed=f"{pressure.shape[0]} rows of {pressure.shape[1]}",
                         hint="give a mask of the same grid: 1 where it counts, 0 where not")
    return np.where(np.nan_to_num(mask) > 0, pressure, np.nan)

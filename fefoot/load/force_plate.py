"""One step on a force plate as an activity: stance found, scaled to body weight, resampled.

Across the foot the centre of pressure is no demand of the model, so that only its place along the
foot is taken.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from .activity import Activity, Instant
from .plate_file import COLUMNS, Plate, read_plate

GRAVITY_m_per_s2 = 9.81
THRESHOLD_N = 20.0
"""Vertical force from which the foot counts as loaded (common practice)."""
BRIDGED_S, SHORTEST_S, LONGEST_S = 0.02, 0.05, 120.0
"""Gaps that are bridged; loads shorter than the second are no stance, longer than the third no step."""
LEAST_ROWS = 8
LEAST_BODYWEIGHTS, MOST_BODYWEIGHTS, MOST_FORE_AFT_BODYWEIGHTS = 0.05, 12.0, 3.0
PLACES_PERCENT = 3.0, 95.0
"""Instants that carry less, or whose centre of pressure lies outside, are left out."""
NOTEWORTHY = 0.02
"""Mean fore-aft force in body weights that has a clear sign."""


def force_plate_activity(path: str | Path, *, name: str, body_mass_kg: float, length_mm: float,
                         instants: int = 19) -> Activity:
    """Return the step that a force-plate file holds; its columns are `plate_file.COLUMNS`.

    Parameters
    ----------
    path : path
    name : str
        Of the activity.
    body_mass_kg, length_mm : float
        Of the person: forces are divided by the body's weight, places by the foot's length.
    instants : int
        How many instants at equal steps of stance, both ends left out; the one nearest to the
        greatest vertical force is moved there.

    Raises
    ------
    InputError
        For every defect of the file, and for signs and units that do not fit a step.
    """
    plate = read_plate(Path(path))
    time = plate.columns["time_s"]
    back = np.flatnonzero(np.diff(time) <= 0.0)
    if back.size:
        raise plate.refuse("time does not rise", "time_s", int(back[0]) + 1,
                           value=float(time[back[0] + 1]), hint="sort the rows by time")
    first, last = _stance(plate)
    part = slice(first, last + 1)
    percent = 100.0 * (time[part] - time[first]) / (time[last] - time[first])
    weight_N = body_mass_kg * GRAVITY_m_per_s2
    vertical = plate.columns["vertical_N"][part] / weight_N
    fore_aft = plate.columns["fore_aft_N"][part] / weight_N
    place = _place_percent(plate, first, last, length_mm)
    _refuse_sizes(plate, vertical, fore_aft, body_mass_kg)
    _refuse_signs(plate, percent, fore_aft, place)
    shank = _filled(plate, "shank_angle_degrees", first, last)
    at = np.linspace(0.0, 100.0, instants + 2)[1:-1]
    peak = percent[np.argmax(vertical)]
    at[np.argmin(np.abs(at - peak))] = peak
    rows = [Instant(*map(float, row)) for row in zip(
        at, *(np.interp(at, percent, v) for v in (vertical, fore_aft, place, shank)), strict=True)]
    kept = tuple(r for r in rows if r.vertical_bodyweights >= LEAST_BODYWEIGHTS
                 and PLACES_PERCENT[0] <= r.pressure_centre_percent <= PLACES_PERCENT[1])
    if not kept:
        raise plate.refuse(
            "no instant of this step can be computed", "vertical_N",
            allowed=f"at least {LEAST_BODYWEIGHTS:g} body weights, centre of pressure "
                    f"{PLACES_PERCENT[0]:g} to {PLACES_PERCENT[1]:g} percent of foot length",
            hint="check the units of force and place")
    file = "".join(c for c in Path(path).name if c.isprintable())[:80]
    source = f"force-plate file {file}, stance of {time[last] - time[first]:.3g} s"
    return Activity(name, name, source, "given in the case file", kept)


def _stance(plate: Plate) -> tuple[int, int]:
    """Return the first and the last row of the one stance."""
    time, vertical = plate.columns["time_s"], plate.columns["vertical_N"]
    if vertical.max() < THRESHOLD_N:
        turned, small = vertical.min() < -THRESHOLD_N, vertical.max() > 0.2
        raise plate.refuse(
            "the foot is never loaded", "vertical_N", value=float(vertical.max()),
            allowed=f"a greatest force above {THRESHOLD_N:g} N",
            hint="upwards on the foot is positive: turn the sign" if turned else
            "these look like kN or body weights: write newtons" if small else
            "choose the step on the plate")
    edge = np.diff(np.concatenate([[0], (vertical >= THRESHOLD_N).astype(int), [0]]))
    runs = np.column_stack([np.flatnonzero(edge == 1), np.flatnonzero(edge == -1) - 1])
    far = time[runs[1:, 0]] - time[runs[:-1, 1]] > BRIDGED_S
    runs = np.column_stack([runs[np.concatenate([[True], far]), 0],
                            runs[np.concatenate([far, [True]]), 1]])
    runs = runs[time[runs[:, 1]] - time[runs[:, 0]] >= SHORTEST_S]
    if len(runs) == 0:
        raise plate.refuse(
            "the foot is loaded for a moment only", "time_s",
            allowed=f"{SHORTEST_S:g} s or longer above {THRESHOLD_N:g} N",
            hint="write time in seconds, and leave in the whole step")
    if len(runs) > 1:
        spans = ", ".join(f"{time[a]:.3g} to {time[b]:.3g} s" for a, b in runs[:4])
        raise plate.refuse("there are several stances", "time_s", value=spans,
                           allowed="one step", hint="cut out the rows of one step")
    first, last = map(int, runs[0])
    if time[last] - time[first] > LONGEST_S:
        raise plate.refuse(
            "the stance is too long", "time_s", value=float(time[last] - time[first]),
            allowed=f"up to {LONGEST_S:g} s", hint="these look like milliseconds: write seconds")
    if last - first + 1 < LEAST_ROWS:
        raise plate.refuse("too few rows during stance", "time_s", value=last - first + 1,
                           allowed=f"{LEAST_ROWS} or more", hint="export at a higher rate")
    return first, last


def _filled(plate: Plate, name: str, first: int, last: int) -> np.ndarray:
    """Return a column over stance without gaps; zeros where the file does not have it."""
    if name not in plate.columns:
        return np.zeros(last - first + 1)
    part = plate.columns[name][first:last + 1]
    if np.isnan(part).any():
        raise plate.refuse("this cell is empty while the foot is loaded", name,
                           first + int(np.argmax(np.isnan(part))), hint="fill it in")
    return part


def _place_name(plate: Plate) -> str:
    return next(n for n in ("pressure_centre_mm", "pressure_centre_percent") if n in plate.columns)


def _place_percent(plate: Plate, first: int, last: int, length_mm: float) -> np.ndarray:
    """Return the centre of pressure over stance in percent of foot length."""
    name = _place_name(plate)
    part = _filled(plate, name, first, last)
    percent = part if name.endswith("percent") else 100.0 * part / length_mm
    outside = (percent < 0.0) | (percent > 100.0)
    # the edges of stance, where the load is small, place it badly
    middle = slice(len(part) // 10, len(part) - len(part) // 10)
    size = np.abs(part[middle]).max()
    if size <= 1.0:
        raise plate.refuse(
            "the centre of pressure stays at the heel", name, value=float(size),
            allowed="from the back of the heel, heel to toes",
            hint=f"these look like metres or shares: write {name.rpartition('_')[2]}")
    if outside[middle].any():
        row = first + middle.start + int(np.argmax(outside[middle]))
        raise plate.refuse(
            "the centre of pressure lies outside the foot", name, row,
            value=float(plate.columns[name][row]), allowed=f"0 to {length_mm:g} mm from the heel"
            if name.endswith("mm") else "0 to 100 percent of foot length",
            hint="measure from the back of the heel along the foot, and check the foot's length")
    return percent


def _refuse_sizes(plate, vertical, fore_aft, body_mass_kg) -> None:
    for name, values, most in (("vertical_N", vertical, MOST_BODYWEIGHTS),
                               ("fore_aft_N", fore_aft, MOST_FORE_AFT_BODYWEIGHTS)):
        size = float(np.abs(values).max())
        if size > most:
            raise plate.refuse(
                "the force is larger than any step's", name,
                value=f"{size:.3g} body weights of {body_mass_kg:g} kg",
                allowed=f"up to {most:g} body weights", hint="write newtons, and check the body mass")


def _refuse_signs(plate, percent, fore_aft, place) -> None:
    halves = [np.trapezoid(fore_aft[part], percent[part]) / 50.0
              for part in (percent <= 50.0, percent >= 50.0)]
    if halves[0] > NOTEWORTHY and halves[1] < -NOTEWORTHY:
        raise plate.refuse(
            "the ground pushes forwards first and brakes later", "fore_aft_N",
            value=f"{halves[0]:.2g}, then {halves[1]:.2g} body weights on average",
            allowed="braking (negative), then propulsion (positive)", hint="turn the sign")
    third = len(place) // 3
    if place[-third:].mean() < place[:third].mean() - 10.0:
        raise plate.refuse(
            "the centre of pressure moves from the toes to the heel", _place_name(plate),
            value=f"{place[:third].mean():.3g}, then {place[-third:].mean():.3g} percent of length",
            allowed="from the heel to the toes", hint="measure it from the back of the heel")


def columns_text() -> Iterator[str]:
    """Yield what a force-plate file holds, one line per column."""
    yield "A force-plate file (CSV with a head line, one step): activity.force_plate"
    for column in COLUMNS:
        yield f"    {column.name}: {column.doc}"
    yield (f"    the step is what lies above {THRESHOLD_N:g} N; forces are divided by the body's "
           "weight")

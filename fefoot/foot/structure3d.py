"""Bodies, joints and cables of the whole foot of one person, read from ``structure3d.toml``."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from .morph import REFERENCE, Dimensions, morph
from .structure import (
    SHANK_LINE,
    Structure,
    _read,
    calibrated_factors,
    read_bodies,
    read_cords,
)

FILE = "structure3d.toml"
STRANDS = ("plantar_fascia", "long_plantar_ligament", "deep_transverse_ligament",
           "flexor_digitorum_longus")
"""Structures of several cables, named by what stands before the last underscore."""


@dataclass(frozen=True)
class Link3d:
    """A joint: bodies, point (3,) mm, three axes (rows), rotational law of each, translation.

    A positive rotation of the second body about the first axis is dorsiflexion, at the subtalar joint
    inversion.
    """

    name: str
    bodies: tuple[str, str]
    point_mm: tuple[float, float, float]
    axes: tuple[tuple[float, float, float], ...]
    stiffness_Nm_per_rad: tuple[float, float, float]
    range_degrees: tuple[tuple[float, float], ...]
    translation_N_per_mm: float
    note: str


def structure3d(dimensions: Dimensions = REFERENCE, *, inclination_degrees: float | None = None,
                deviation_degrees: float | None = None, axis_shift_mm: float = 0.0,
                shank_angle_degrees: float = 0.0, stiffness: dict[str, float] | None = None,
                factors: dict[str, float] | None = None) -> Structure:
    """Return the structure of a person's right foot; its links are `Link3d`.

    Parameters
    ----------
    inclination_degrees, deviation_degrees : float, optional
        Of the subtalar axis: above the ground, and medially from the foot's x axis. Those of
        ``structure3d.toml`` unless given.
    axis_shift_mm : float
        Shift of the subtalar axis, lateral positive.
    shank_angle_degrees : float
        Forward lean of the shank: turns the upper points of the tendons about the ankle axis.
    stiffness : dict of cable name -> float
        Further factors on cables; 0 removes one. The name of a structure of several strands, e.g.
        ``plantar_fascia``, stands for all of them.
    factors : dict, optional
        Calibration factors other than the committed ones.
    """
    table = _read(FILE)
    factors = calibrated_factors() if factors is None else factors

    def place(point, shift=0.0):
        x, y, z = morph(np.array([point], float), dimensions)[0].tolist()
        return x, y, z + shift

    def link(entry):
        subtalar = "inclination_degrees" in entry
        axis = (subtalar_axis(*(
            entry[key] if given is None else given
            for key, given in (("inclination_degrees", inclination_degrees),
                               ("deviation_degrees", deviation_degrees))))
                if subtalar else _axis(entry))
        other = entry.get("other_range_degrees", math.inf)
        scale = factors.get(entry.get("scale"), 1.0)
        return Link3d(
            entry["name"], tuple(entry["bodies"]),
            place(entry["point"], axis_shift_mm if subtalar else 0.0), _triad(axis),
            tuple(k * scale for k in entry["stiffness_Nm_per_rad"]),
            (tuple(entry["range_degrees"]), (other, other), (other, other)),
            entry["translation_N_per_mm"], entry["note"])

    links = tuple(link(entry) for entry in table["joints"])
    ankle = next(joint for joint in links if joint.name == "ankle_joint")
    turn = turn_about(ankle.axes[0], -math.radians(shank_angle_degrees))

    def point_of(body, point):
        at = place(point)
        if body == SHANK_LINE:
            at = tuple((ankle.point_mm + turn @ np.subtract(at, ankle.point_mm)).tolist())
        return body, at

    cords = read_cords(table, point_of, factors, _of_strands(table, stiffness or {}))
    return Structure(read_bodies(table, place), links, cords)


def subtalar_axis(inclination_degrees: float, deviation_degrees: float) -> np.ndarray:
    """Return the unit vector (3,) of a subtalar axis: forwards, upwards and medially."""
    i, d = math.radians(inclination_degrees), math.radians(deviation_degrees)
    return np.array([math.cos(i) * math.cos(d), math.sin(i), -math.cos(i) * math.sin(d)])


def turn_about(axis, angle_rad: float) -> np.ndarray:
    """Return the rotation matrix (3, 3) about a unit vector (3,)."""
    from ..mechanics.state import rotation

    return rotation(angle_rad * np.array([axis], float))[0]


def strands(frame: Structure, name: str) -> tuple[str, ...]:
    """Return the names of the cables that make up a structure, e.g. ``plantar_fascia``."""
    return tuple(c.name for c in frame.cords if c.name == name or _of(c.name) == name)


def _of(cable: str) -> str:
    """Return the structure a cable is a strand of, or its own name."""
    whole = cable.rpartition("_")[0]
    return whole if whole in STRANDS else cable


def _of_strands(table: dict, stiffness: dict[str, float]) -> dict[str, float]:
    """Return factors on cables, those of a structure given to each of its strands."""
    return {c["name"]: stiffness.get(_of(c["name"]), 1.0) * (
        stiffness.get(c["name"], 1.0) if _of(c["name"]) != c["name"] else 1.0)
        for c in table["cables"]}


def _axis(entry: dict) -> np.ndarray:
    """Return the first axis (3,) of a joint entry: a vector, or the angles of the ankle."""
    if "axis" in entry:
        axis = np.array(entry["axis"], float)
    else:
        axis = np.array([-math.tan(math.radians(entry["lateral_end_back_degrees"])),
                         -math.tan(math.radians(entry["lateral_end_down_degrees"])), 1.0])
    return axis / np.linalg.norm(axis)


def _triad(axis: np.ndarray) -> tuple[tuple[float, float, float], ...]:
    """Return the axis, the part of the vertical square to it, and the one square to both."""
    second = np.array([0.0, 1.0, 0.0]) - axis[1] * axis
    second /= np.linalg.norm(second)
    return tuple(tuple(v.tolist()) for v in (axis, second, np.cross(axis, second)))

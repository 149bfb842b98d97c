"""How the bones of a section are held together: bodies, joints and cables of one person.

Read from ``structure.toml``, scaled by ``calibration.toml`` and moved with the person's morph.
"""

from __future__ import annotations

import functools
import math
import tomllib
from dataclasses import dataclass
from importlib import resources

import numpy as np

from .morph import REFERENCE, Dimensions
from .section import section_morph

SHANK_LINE = "shank_line"


@dataclass(frozen=True)
class Body:
    """Bones that move as one: name, bones, centre (2,) or (3,) mm, whether it is held.

    Tissue is not attached to the bones of a ``loose`` body.
    """

    name: str
    bones: tuple[str, ...]
    centre_mm: tuple[float, ...]
    held: bool = False
    loose: bool = False


@dataclass(frozen=True)
class Link:
    """A joint: bodies, point (2,) mm, rotational law, translation stiffness."""

    name: str
    bodies: tuple[str, str]
    point_mm: tuple[float, float]
    stiffness_Nm_per_rad: float
    range_degrees: tuple[float, float]
    translation_N_per_mm: float
    note: str


@dataclass(frozen=True)
class Cord:
    """A ligament, tendon or the fascia: path of (body, point (2,) or (3,) mm), stiffness, strength.

    ``muscle`` is "plantarflexes" or "dorsiflexes" for a tendon that helps to place the centre of
    pressure, ``muscle_share`` its force per force of the main one.
    """

    name: str
    path: tuple[tuple[str, tuple[float, ...]], ...]
    stiffness_N_per_mm: float
    toe_mm: float
    resting_N: float
    strength_N: float | None
    source: str
    muscle: str = ""
    muscle_share: float = 0.0


@dataclass(frozen=True)
class Structure:
    """All bodies, joints and cables of a section or of the whole foot, for one person."""

    bodies: tuple[Body, ...]
    links: tuple[Link, ...]
    cords: tuple[Cord, ...]

    def muscles(self) -> tuple[dict[str, float], dict[str, float]] | None:
        """Return the cables that plantarflex and dorsiflex, with their shares; None without."""
        groups = tuple({c.name: c.muscle_share for c in self.cords if c.muscle == kind}
                       for kind in ("plantarflexes", "dorsiflexes"))
        return groups if any(groups) else None

    def cord(self, name: str) -> Cord:
        """Return a cable by name."""
        return next(c for c in self.cords if c.name == name)

    def link(self, name: str):
        """Return a joint by name."""
        return next(j for j in self.links if j.name == name)


@functools.cache
def _read(file: str) -> dict:
    text = resources.files(__package__).joinpath(file).read_text(encoding="utf-8")
    return tomllib.loads(text)


def calibrated_factors() -> dict[str, float]:
    """Return the committed calibration factors."""
    return dict(_read("calibration.toml")["factors"])


def structure(section: str, dimensions: Dimensions = REFERENCE, *, axis_shift_mm: float = 0.0,
              shank_angle_degrees: float = 0.0, stiffness: dict[str, float] | None = None,
              factors: dict[str, float] | None = None) -> Structure:
    """Return the structure of a person's section.

    Parameters
    ----------
    section : {"sagittal", "rearfoot"}
    axis_shift_mm : float
        Shift of the subtalar axis, lateral positive; only in the rearfoot section.
    shank_angle_degrees : float
        Forward lean of the shank: turns the upper points of the tendons about the ankle.
    stiffness : dict of cable name -> float
        Further factors, e.g. on the fascia of this person; 0 removes the cable.
    factors : dict, optional
        Calibration factors other than the committed ones.
    """
    table = _read("structure.toml")[section]
    factors = calibrated_factors() if factors is None else factors
    stiffness = stiffness or {}

    def place(point, shift=0.0):
        moved = section_morph(section, np.array([point], float), dimensions)[0]
        return float(moved[0] + shift), float(moved[1])

    bodies = read_bodies(table, place)
    links = tuple(
        Link(j["name"], tuple(j["bodies"]),
             place(j["point"], axis_shift_mm if j.get("axis") else 0.0),
             j["stiffness_Nm_per_rad"] * factors.get(j.get("scale"), 1.0),
             tuple(j["range_degrees"]), j["translation_N_per_mm"], j["note"])
        for j in table["joints"])
    ankle = np.array(bodies[0].centre_mm)
    angle = -math.radians(shank_angle_degrees)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])

    def point_of(body, point):
        at = place(point)
        if body == SHANK_LINE:
            at = tuple(float(v) for v in ankle + turn @ (np.array(at) - ankle))
        return body, at

    return Structure(bodies, links, read_cords(table, point_of, factors, stiffness))


def read_bodies(table: dict, place) -> tuple[Body, ...]:
    """Return the bodies of a table, their centres put where ``place(point)`` says."""
    return tuple(
        Body(b["name"], tuple(b["bones"]), place(b["centre"]), b.get("held", False),
             b.get("loose", False))
        for b in table["bodies"])


def read_cords(table: dict, point_of, factors: dict[str, float],
               stiffness: dict[str, float]) -> tuple[Cord, ...]:
    """Return the cables of a table, without those whose person's factor is 0.

    ``point_of(body, point)`` gives each point of a path as the person's (body, point).
    """
    return tuple(
        Cord(c["name"], tuple(point_of(p[0], p[1:]) for p in c["path"]),
             c.get("stiffness_N_per_mm", 0.0) * factors.get(c.get("scale"), 1.0)
             * stiffness.get(c["name"], 1.0),
             c.get("toe_mm", 0.0), c.get("resting_N", 0.0), c.get("strength_N"), c["source"],
             c.get("muscle", ""), c.get("muscle_share", 0.0))
        for c in table["cables"] if stiffness.get(c["name"], 1.0) > 0)

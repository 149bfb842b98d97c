"""What a device is: outline, base surface, layers and an ordered list of features.

All values describe a right device; a left one is mirrored on the way in and out.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from .grid import HeightGrid

LENGTHS = ("full", "to_metatarsals")
BASES = ("flat", "foot", "scan")
UNDERSIDES = ("flat", "follow")


@dataclass(frozen=True)
class Layer:
    """One layer of a device: a material name and its thickness in mm where nothing is added."""

    material: str
    thickness_mm: float


@dataclass(frozen=True)
class Feature:
    """One entry of a device's feature list: a kind and the value of each of its parameters."""

    kind: str
    parameters: dict[str, float | str] = field(default_factory=dict)


@dataclass(frozen=True)
class Device:
    """One candidate to put under the foot.

    Attributes
    ----------
    name, title : str
        Short name for tables and files; plain words for people.
    length : {"full", "to_metatarsals"}
        Up to the toes, or up to just behind the metatarsal heads.
    base : {"flat", "foot", "scan"}
        Surface the features start from: a plane, the foot's own plantar surface, or ``surface``.
    underside : {"flat", "follow"}
        Solid down to the ground, or of constant thickness with a free arch underneath.
    layers : tuple of Layer
        From the skin down. The last one takes up every added height.
    features : tuple of Feature
        Applied in this order.
    surface : HeightGrid or None
        The scan that a device with ``base = "scan"`` starts from.
    """

    name: str
    title: str = ""
    length: str = "full"
    base: str = "flat"
    underside: str = "flat"
    layers: tuple[Layer, ...] = ()
    features: tuple[Feature, ...] = ()
    surface: HeightGrid | None = None

    @property
    def stack_mm(self) -> float:
        """Thickness of all layers together, mm."""
        return sum(layer.thickness_mm for layer in self.layers)


@dataclass(frozen=True)
class FootLandmarks:
    """Where the parts of one person's foot lie, mm (right foot; z medial -, lateral +).

    Attributes
    ----------
    metatarsal_head_x_mm, metatarsal_head_z_mm : five floats each
        Rays 1 to 5.
    arch_apex_x_mm : float
        Where the medial arch is highest.
    plantar : callable (x, z) -> y
        Height of the unloaded plantar surface above the ground; arrays in, array out, mm.
    """

    length_mm: float
    heel_width_mm: float
    forefoot_width_mm: float
    heel_centre_x_mm: float
    metatarsal_head_x_mm: tuple[float, ...]
    metatarsal_head_z_mm: tuple[float, ...]
    arch_apex_x_mm: float
    plantar: Callable

    def metatarsal_line_x_mm(self, z):
        """Place of the metatarsal head line at z: the parabola closest to the five heads."""
        return np.polyval(
            np.polyfit(self.metatarsal_head_z_mm, self.metatarsal_head_x_mm, 2), z
        )

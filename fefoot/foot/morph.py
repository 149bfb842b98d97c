"""The smooth map from the reference foot to a person's.

With S the quintic smoothstep, and L, Wh, Wf, tH, tM, Hn the person's length, heel width, forefoot
width, heel-pad and metatarsal-pad thickness and navicular height:

    x' = x L / 255
    z' = z [(1 - w) Wh/65 + w Wf/98],                 w = S((x - 60)/100)
    y' = y + d g,   d = wh (tH - 17) + wm (tM - 11) + wn m (Hn - 40)
    wh = 1 - S((x - 45)/60), wm = S((x - 125)/60), wn = (1 - wh)(1 - wm),
    m = 0.35 + 0.65 [1 - S((z + 15)/50)],
    g = min(1.15 y/t, 1) with the kink rounded over +-0.15, t = 17 wh + 11 wm + 40 wn m

g reaches 1 at y = t, the height of the bone above the pad, so that a pad takes up the whole change.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from ..errors import InputError
from .anatomy import anatomy
from .anatomy import plantar_height_mm as reference_height_mm
from .shape import smoothstep

_KINK = 0.15


@dataclass(frozen=True)
class Dimensions:
    """A person's foot dimensions in mm; the defaults are those of the reference foot.

    Raises InputError for a value outside the range the morph is meant for.
    """

    length_mm: float = 255.0
    heel_width_mm: float = 65.0
    forefoot_width_mm: float = 98.0
    heel_pad_mm: float = 17.0
    metatarsal_pad_mm: float = 11.0
    navicular_height_mm: float = 40.0

    def __post_init__(self):
        for entry in fields(self):
            low, high = dimension_range_mm(entry.name)
            value = getattr(self, entry.name)
            number = isinstance(value, int | float | np.number) and not isinstance(value, bool)
            if not number or not low <= value <= high:
                raise InputError("this foot dimension is outside the model's range",
                                 key=entry.name, value=value,
                                 allowed=f"{low:g} to {high:g} mm",
                                 hint="check the unit; the morph is not meant for other feet")


def dimension_range_mm(name: str) -> tuple[float, float]:
    """Return the smallest and largest value the morph accepts for a dimension."""
    return tuple(anatomy().table["dimensions"][name]["allowed"])


REFERENCE = Dimensions()


def _reference(name: str) -> float:
    return anatomy().table["dimensions"][name]["reference"]


def width_scale(x_mm: np.ndarray, dimensions: Dimensions) -> np.ndarray:
    """Return z'/z at the reference foot's x."""
    w = smoothstep((np.asarray(x_mm, float) - 60.0) / 100.0)
    heel = dimensions.heel_width_mm / _reference("heel_width_mm")
    forefoot = dimensions.forefoot_width_mm / _reference("forefoot_width_mm")
    return (1.0 - w) * heel + w * forefoot


def length_scale(dimensions: Dimensions) -> float:
    """Return x'/x."""
    return dimensions.length_mm / _reference("length_mm")


def _raised(x, y, z, d: Dimensions):
    wh = 1.0 - smoothstep((x - 45.0) / 60.0)
    wm = smoothstep((x - 125.0) / 60.0)
    wn = (1.0 - wh) * (1.0 - wm) * (0.35 + 0.65 * (1.0 - smoothstep((z + 15.0) / 50.0)))
    rest = [_reference(n) for n in ("heel_pad_mm", "metatarsal_pad_mm", "navicular_height_mm")]
    own = (d.heel_pad_mm, d.metatarsal_pad_mm, d.navicular_height_mm)
    change = sum(w * (a - b) for w, a, b in zip((wh, wm, wn), own, rest, strict=True))
    height = sum(w * b for w, b in zip((wh, wm, wn), rest, strict=True))
    s = (1.0 + _KINK) * y / height
    rounded = s - np.clip(s - 1.0 + _KINK, 0.0, 2 * _KINK) ** 2 / (4 * _KINK)
    return y + change * np.where(s >= 1.0 + _KINK, 1.0, rounded)


def morph(points: np.ndarray, dimensions: Dimensions) -> np.ndarray:
    """Move points (n, 3) mm of the reference foot to the person's foot."""
    x, y, z = np.asarray(points, float).T
    return np.column_stack([
        x * length_scale(dimensions),
        _raised(x, y, z, dimensions),
        z * width_scale(x, dimensions),
    ])


def plantar_height_mm(x_mm, z_mm, dimensions: Dimensions = REFERENCE) -> np.ndarray:
    """Return the height (mm) of the person's plantar surface at the person's x and z (mm)."""
    x = np.asarray(x_mm, float) / length_scale(dimensions)
    z = np.asarray(z_mm, float) / width_scale(x, dimensions)
    return _raised(x, reference_height_mm(x, z), z, dimensions)

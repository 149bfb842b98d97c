"""Features that take material away: relief at a place, groove along the fascia, first-ray cut-out."""

from __future__ import annotations

import numpy as np

from .edit import first_ray, hollowed
from .ramp import ramp

HEADS = tuple(f"metatarsal_head_{ray}" for ray in range(1, 6))
PLACES = ("heel", *HEADS)
"""Where a relief can be centred."""
FASCIA_Z_SHARE = -5.0 / 65.0
"""Medial offset of the fascia's origin over the heel's width (reference anatomy)."""
GROOVE_ENDS = 0.10, 25.0, 15.0
"""A groove begins this share of the foot's length in front of the heel's centre, ends this far (mm)
behind the first metatarsal head, and runs out over the last length (mm) at both ends."""
CUT_OUT_FRONT_MM = 14.0
"""How far a first-ray cut-out reaches in front of the metatarsal head line."""


def place_mm(place: str, foot) -> tuple[float, float]:
    """Return x and z (mm) of a place of `PLACES`."""
    if place == "heel":
        return foot.heel_centre_x_mm, 0.0
    number = HEADS.index(place)
    return foot.metatarsal_head_x_mm[number], foot.metatarsal_head_z_mm[number]


def relief(heights, x, z, parameters, foot):
    """Sink a round dish of ``depth_mm`` at a place, moved by ``forward_mm`` and ``lateral_mm``.

    Full depth over the inner half of ``radius_mm``, a quintic ramp to nothing at the radius.
    """
    centre_x, centre_z = place_mm(parameters["place"], foot)
    away = np.hypot(x - centre_x - parameters["forward_mm"], z - centre_z - parameters["lateral_mm"])
    rim = ramp(2.0 * away / parameters["radius_mm"] - 1.0)
    return hollowed(heights, parameters["depth_mm"] * (1.0 - rim))


def fascia_line(foot) -> tuple[np.ndarray, np.ndarray]:
    """Return the ends (x, z), mm, of the straight line under the fascia's medial part.

    From below the fascia's origin at the heel to the first metatarsal head.
    """
    start = np.array([foot.heel_centre_x_mm, FASCIA_Z_SHARE * foot.heel_width_mm])
    return start, np.array([foot.metatarsal_head_x_mm[0], foot.metatarsal_head_z_mm[0]])


def fascia_groove(heights, x, z, parameters, foot):
    """Sink a channel along the medial part of the fascia, see ``fascia_line`` and ``GROOVE_ENDS``.

    Deepest on the line and nothing at half of ``width_mm`` beside it, by a quintic ramp;
    ``lateral_mm`` moves it across.
    """
    start, end = fascia_line(foot)
    length = np.hypot(*(end - start))
    along_x, along_z = (end - start) / length
    off_x, off_z = x - start[0], z - start[1] - parameters["lateral_mm"]
    beside = np.abs(off_z * along_x - off_x * along_z)
    along = off_x * along_x + off_z * along_z
    share, behind, fade = GROOVE_ENDS
    window = ramp((along - share * foot.length_mm) / fade)
    window = window * ramp((length - behind - along) / fade)
    return hollowed(heights, parameters["depth_mm"] * window
                    * (1.0 - ramp(2.0 * beside / parameters["width_mm"])))


def first_ray_cut_out(heights, x, z, parameters, foot):
    """Lower the device under the first metatarsal head and the shaft behind it.

    From ``behind_mm`` behind the metatarsal head line to `CUT_OUT_FRONT_MM` in front of it, with
    quintic ramps of 10 mm inside both ends, from the medial edge to half-way to the second ray.
    """
    forward = x - foot.metatarsal_line_x_mm(z)
    window = ramp((forward + parameters["behind_mm"]) / 10.0)
    window = window * ramp((CUT_OUT_FRONT_MM - forward) / 10.0)
    return hollowed(heights, parameters["depth_mm"] * window * first_ray(z, foot))

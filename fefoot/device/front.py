"""Features in front of the heel: arch fill, metatarsal pad and bar, forefoot wedge, extensions."""

from __future__ import annotations

import numpy as np

from .edit import added, first_ray, shaped
from .heel import tilt
from .ramp import ramp


def arch_fill(heights, x, z, parameters, foot):
    """Fill ``fill_percent`` of the space between a flat base and the foot's own arch.

    Between heel and metatarsal heads the top rises by that share of the plantar surface's height
    above the ground, so that at 100 % the arch of the unloaded foot lies on it.
    """
    start, length = foot.heel_centre_x_mm + 0.05 * foot.length_mm, 0.05 * foot.length_mm
    window = ramp((x - start) / length)
    window = window * (1.0 - ramp((x - foot.metatarsal_line_x_mm(z) + 20.0) / 15.0))
    space = np.maximum(foot.plantar(x, z) + heights.stack_mm - heights.base_mm, 0.0)
    rise = 0.01 * parameters["fill_percent"] * window * space
    return shaped(heights, rise, rise)


def metatarsal_pad(heights, x, z, parameters, foot):
    """Add a dome behind the metatarsal heads, centred across on heads 2 to 4.

    Its ridge lies ``behind_mm`` behind the metatarsal head line. Along x it falls to zero over half
    its length by a quintic ramp; across it is level over the middle half of its width and falls to
    zero over the outer quarters.
    """
    along = np.abs(x - foot.metatarsal_line_x_mm(z) + parameters["behind_mm"])
    across = np.abs(z - np.mean(foot.metatarsal_head_z_mm[1:4]))
    rise = parameters["height_mm"] * (1.0 - ramp(along / (0.5 * parameters["length_mm"])))
    rise = rise * (1.0 - ramp(across / (0.25 * parameters["width_mm"]) - 1.0))
    return added(heights, rise, contour=True)


def forefoot_wedge(heights, x, z, parameters, foot):
    """Tilt the forefoot by ``angle_degrees``: positive raises the medial side.

    A wedge like the rearfoot post's across the forefoot's width, rising from nothing 35 mm behind
    the metatarsal head line to its full height 10 mm behind it, and on to the toe end.
    """
    width = foot.forefoot_width_mm
    rise = tilt(z, parameters["angle_degrees"], 0.48 * width, 0.52 * width)
    return added(heights, rise * ramp((x - foot.metatarsal_line_x_mm(z) + 35.0) / 25.0))


def metatarsal_bar(heights, x, z, parameters, foot):
    """Add a bar across the whole width behind the metatarsal heads.

    Its middle lies ``behind_mm`` behind the metatarsal head line. Along x it is level over the middle
    half of its length and falls to zero over the outer quarters by a quintic ramp.
    """
    along = np.abs(x - foot.metatarsal_line_x_mm(z) + parameters["behind_mm"])
    rise = parameters["height_mm"] * (1.0 - ramp(along / (0.25 * parameters["length_mm"]) - 1.0))
    return added(heights, rise, contour=True)


def _extension(heights, x, z, parameters, foot, share):
    """Raise a ``share`` of the forefoot's width from behind the heads on to the toe end.

    The rise begins ``behind_mm`` behind the metatarsal head line and is full 10 mm further on.
    """
    start = foot.metatarsal_line_x_mm(z) - parameters["behind_mm"]
    return added(heights, parameters["height_mm"] * share * ramp((x - start) / 10.0))


def first_ray_extension(heights, x, z, parameters, foot):
    """Raise the first metatarsal head and the hallux on to the toe end; see ``_extension``.

    Laterally it runs out half-way to the second ray, see ``first_ray``.
    """
    return _extension(heights, x, z, parameters, foot, first_ray(z, foot))


def lateral_extension(heights, x, z, parameters, foot):
    """Raise metatarsal heads and toes 2 to 5 on to the toe end; see ``_extension``.

    What ``first_ray_extension`` leaves out: the two together are level across the foot.
    """
    return _extension(heights, x, z, parameters, foot, 1.0 - first_ray(z, foot))

"""Features round the heel: lift, cup, rearfoot post, skives."""

from __future__ import annotations

import numpy as np

from ..errors import InputError
from .edit import added, shaped
from .ramp import capped, positive, ramp

EDGE_ROUNDING_MM = 3.0
"""Rounding where a wedge runs out at the low edge."""
FLOOR_SHARE = 0.575
"""Share of the heel's half width over which the heel is flat: sqrt(1 - (27/33)^2) of the heel's
ellipsoid, whose centre stands 27 mm and whose vertical radius is 33 mm at a heel 65 mm wide."""
DEEPEST_CUP_SHARE = 0.33
"""Deepest heel cup as a share of heel width: above it the side of the heel is vertical."""


def heel_block(x, foot):
    """Share of solid ground contact: 1 under the heel, 0 from a third of the foot on."""
    return 1.0 - ramp((x - foot.heel_centre_x_mm - 0.12 * foot.length_mm) / (0.08 * foot.length_mm))


def heel_lift(heights, x, z, parameters, foot):
    """Raise the heel by ``height_mm``; the rise ends 10 mm behind the metatarsal head line.

    Full height up to the heel's centre, a quintic ramp from there forward.
    """
    start, end = foot.heel_centre_x_mm, foot.metatarsal_line_x_mm(z) - 10.0
    rise = parameters["height_mm"] * (1.0 - ramp((x - start) / (end - start)))
    return added(heights, rise, heel_block(x, foot))


def _heel_side(x, z, foot, clearance_mm):
    """Height of the heel's side above the floor at (x, z), the side moved out by a clearance, mm.

    The heel is the ellipsoid whose lower part the reference anatomy uses: y = c - r sqrt(1 - rho^2)
    with c = 27/65 and r = 33/65 of the heel's width, rho the distance from the heel's centre over
    its half width (behind the centre: the ellipse through the back of the heel). In front of the
    centre rho depends on z alone. Negative over the floor.
    """
    behind = positive(foot.heel_centre_x_mm - x, 5.0) / (foot.heel_centre_x_mm + clearance_mm)
    beside = z / (0.5 * foot.heel_width_mm + clearance_mm)
    rho2 = np.minimum(behind**2 + beside**2, 1.0)
    return foot.heel_width_mm / 65.0 * (27.0 - 33.0 * np.sqrt(1.0 - rho2))


def heel_cup(heights, x, z, parameters, foot):
    """Raise a rim round the heel to ``depth_mm`` above the floor, up the foot's own side.

    The inner face stands ``clearance_mm`` outside the heel's side (an ellipsoid, see
    ``_heel_side``); under a free underside the outer face stands one layer stack further out. The
    rim runs out between a twentieth and a fifth of the foot's length in front of the heel's centre.

    Raises
    ------
    InputError
        When the cup would be deeper than a third of the heel's width.
    """
    depth, clearance = parameters["depth_mm"], parameters["clearance_mm"]
    deepest = DEEPEST_CUP_SHARE * foot.heel_width_mm
    if depth > deepest:
        raise InputError(
            "the heel cup is deeper than the side of this heel", key="heel_cup.depth_mm",
            value=depth, allowed=f"up to {deepest:.1f} mm (0.33 of the heel's width)",
            hint="make the cup shallower",
        )
    rounding = min(2.0, 0.5 * depth)
    fade = ramp((x - foot.heel_centre_x_mm - 0.05 * foot.length_mm) / (0.15 * foot.length_mm))

    floor = heights.base_mm - heights.stack_mm

    def rise(distance):
        side = capped(_heel_side(x, z, foot, distance), depth, rounding)
        return (1.0 - fade) * positive(side - floor, rounding)

    return shaped(heights, rise(clearance), rise(clearance + heights.stack_mm))


def tilt(z, degrees, half_medial_mm, half_lateral_mm):
    """Height of a wedge that is thin on its low side and rises across the foot, mm."""
    slope = np.tan(np.radians(abs(degrees)))
    across = half_lateral_mm - z if degrees > 0 else half_medial_mm + z
    return slope * positive(across + EDGE_ROUNDING_MM, EDGE_ROUNDING_MM)


def rearfoot_post(heights, x, z, parameters, foot):
    """Tilt the rear part by ``angle_degrees``: positive raises the medial side (varus).

    A wedge whose height across the heel is tan(angle) times the distance from a line 3 mm outside
    the low edge of the heel; full under the heel, tapering out between 0.12 and 0.35 of the foot's
    length in front of the heel's centre.
    """
    half = 0.5 * foot.heel_width_mm
    fade = ramp((x - foot.heel_centre_x_mm - 0.12 * foot.length_mm) / (0.23 * foot.length_mm))
    rise = tilt(z, parameters["angle_degrees"], half, half) * (1.0 - fade)
    return added(heights, rise, heel_block(x, foot))


def _skive(heights, x, z, parameters, foot, side):
    """Add a planar wedge on one side of the heel's floor (``side`` -1 medial, +1 lateral).

    The floor ends where the side of the heel begins, 0.575 of the heel's half width from its
    middle. There the plane stands ``depth_mm`` above the floor, and it falls towards the middle at
    ``angle_degrees``, so that it meets the floor depth / tan(angle) further in. Outside that line
    it runs on up to 1.1 times the depth, or to the cup's wall where that is higher. Corners are
    rounded over a tenth of the depth. It works on the surface as shaped so far: list it after the
    heel cup. Full under the heel, running out in front like the rim of a cup.
    """
    depth, angle = parameters["depth_mm"], parameters["angle_degrees"]
    outward = side * z - 0.5 * FLOOR_SHARE * foot.heel_width_mm
    plane = depth + np.tan(np.radians(angle)) * outward
    rounding = 0.1 * depth
    wall = heights.contour_mm - heights.base_mm
    fade = ramp((x - foot.heel_centre_x_mm - 0.05 * foot.length_mm) / (0.15 * foot.length_mm))
    wedge = positive(capped(plane, 1.1 * depth, rounding) - wall, rounding)
    return added(heights, wedge * (1.0 - fade), contour=True)


def medial_heel_skive(heights, x, z, parameters, foot):
    """Add a skive on the medial side of the heel's floor; see ``_skive`` for its construction."""
    return _skive(heights, x, z, parameters, foot, -1.0)


def lateral_heel_skive(heights, x, z, parameters, foot):
    """Add a skive on the lateral side of the heel's floor; see ``_skive`` for its construction."""
    return _skive(heights, x, z, parameters, foot, 1.0)

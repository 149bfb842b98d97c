"""The table of features: each edits the height fields of a device over points (x, z).

Two ways of changing a surface occur. A *shape* (arch fill, heel cup) bends the whole device: where
the underside follows the top, it bends with it. An *addition* (lift, post, wedge, skive, pad) is
solid material that the last layer takes up; where the underside follows the top it stands on the
ground only under the block that is named (the heel block of a lift or post), and in front of it
the device keeps its thickness.

Angles are positive with the medial side raised. Nothing here ever lowers the top, so no layer gets
thinner than the device's layers are.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ..errors import InputError, unknown_name
from .device import Feature
from .ramp import capped, positive, ramp

EDGE_ROUNDING_MM = 3.0
"""Rounding where a wedge runs out at the low edge."""
FLOOR_SHARE = 0.575
"""Share of the heel's half width over which the heel is flat: sqrt(1 - (27/33)^2) of the heel's
ellipsoid, whose centre stands 27 mm and whose vertical radius is 33 mm at a heel 65 mm wide."""
DEEPEST_CUP_SHARE = 0.33
"""Deepest heel cup as a share of heel width: above it the side of the heel is vertical."""


@dataclass(frozen=True)
class Heights:
    """Height fields over points of one shape, mm.

    Attributes
    ----------
    top_mm, bottom_mm : arrays
        Surface under the skin; underside.
    base_mm : array
        Top of the device without features.
    contour_mm : array
        Top as shaped by arch fill, cup, skive and pad, without lifts, posts and wedges.
    stack_mm : float
        Thickness of the layers together.
    free_underside : bool
        Whether the underside follows the top.
    material : (layers, ...) int array
        Index into ``material_names`` under each point.
    material_names : tuple of str
    """

    top_mm: np.ndarray
    bottom_mm: np.ndarray
    base_mm: np.ndarray
    contour_mm: np.ndarray
    stack_mm: float
    free_underside: bool
    material: np.ndarray
    material_names: tuple[str, ...]


@dataclass(frozen=True)
class Parameter:
    """One number a feature takes, with its unit, range and default."""

    name: str
    unit: str
    low: float
    high: float
    default: float
    doc: str


@dataclass(frozen=True)
class FeatureKind:
    """One kind of feature: its plain title, parameters, the edit, and what it needs."""

    name: str
    title: str
    parameters: tuple[Parameter, ...]
    apply: Callable[..., Heights]
    margin: Callable[[dict], float] = lambda parameters: 0.0
    needs_base: str | None = None
    needs_length: str | None = None


def _shaped(heights: Heights, rise, rise_below) -> Heights:
    """Bend the device by ``rise``, and by ``rise_below`` underneath when the underside is free."""
    below = rise_below if heights.free_underside else 0.0
    return replace(
        heights, top_mm=heights.top_mm + rise, contour_mm=heights.contour_mm + rise,
        bottom_mm=heights.bottom_mm + below,
    )


def _added(heights: Heights, rise, grounded=1.0, contour=False) -> Heights:
    """Add material of height ``rise``, standing on the ground by the share ``grounded``."""
    below = rise * (1.0 - grounded) if heights.free_underside else 0.0
    return replace(
        heights, top_mm=heights.top_mm + rise, bottom_mm=heights.bottom_mm + below,
        contour_mm=heights.contour_mm + (rise if contour else 0.0),
    )


def _heel_block(x, foot):
    """Share of solid ground contact: 1 under the heel, 0 from a third of the foot on."""
    return 1.0 - ramp((x - foot.heel_centre_x_mm - 0.12 * foot.length_mm) / (0.08 * foot.length_mm))


def heel_lift(heights, x, z, parameters, foot):
    """Raise the heel by ``height_mm``; the rise ends 10 mm behind the metatarsal head line.

    Full height up to the heel's centre, a quintic ramp from there forward.
    """
    start, end = foot.heel_centre_x_mm, foot.metatarsal_line_x_mm(z) - 10.0
    rise = parameters["height_mm"] * (1.0 - ramp((x - start) / (end - start)))
    return _added(heights, rise, _heel_block(x, foot))


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
    return _shaped(heights, rise, rise)


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

    return _shaped(heights, rise(clearance), rise(clearance + heights.stack_mm))


def _tilt(z, degrees, half_medial_mm, half_lateral_mm):
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
    rise = _tilt(z, parameters["angle_degrees"], half, half) * (1.0 - fade)
    return _added(heights, rise, _heel_block(x, foot))


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
    return _added(heights, wedge * (1.0 - fade), contour=True)


def medial_heel_skive(heights, x, z, parameters, foot):
    """Add a skive on the medial side of the heel's floor; see ``_skive`` for its construction."""
    return _skive(heights, x, z, parameters, foot, -1.0)


def lateral_heel_skive(heights, x, z, parameters, foot):
    """Add a skive on the lateral side of the heel's floor; see ``_skive`` for its construction."""
    return _skive(heights, x, z, parameters, foot, 1.0)


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
    return _added(heights, rise, contour=True)


def forefoot_wedge(heights, x, z, parameters, foot):
    """Tilt the forefoot by ``angle_degrees``: positive raises the medial side.

    A wedge like the rearfoot post's across the forefoot's width, rising from nothing 35 mm behind
    the metatarsal head line to its full height 10 mm behind it, and on to the toe end.
    """
    width = foot.forefoot_width_mm
    rise = _tilt(z, parameters["angle_degrees"], 0.48 * width, 0.52 * width)
    return _added(heights, rise * ramp((x - foot.metatarsal_line_x_mm(z) + 35.0) / 25.0))


def _angle(doc):
    return Parameter("angle_degrees", "degrees", -12.0, 12.0, 4.0, doc)


_SKIVE = (
    Parameter("depth_mm", "mm", 0.0, 8.0, 3.0, "height of the wedge where floor and side meet"),
    Parameter("angle_degrees", "degrees", 5.0, 30.0, 15.0, "slope of the wedge across the heel"),
)

FEATURES: dict[str, FeatureKind] = {
    kind.name: kind
    for kind in (
        FeatureKind("heel_lift", "heel lift", (
            Parameter("height_mm", "mm", 0.0, 25.0, 6.0, "height at the heel"),), heel_lift),
        FeatureKind("arch_fill", "arch fill", (
            Parameter("fill_percent", "percent", 0.0, 100.0, 75.0,
                      "share of the space under the unloaded arch that is filled"),),
            arch_fill, needs_base="flat"),
        FeatureKind("heel_cup", "heel cup", (
            Parameter("depth_mm", "mm", 0.0, 25.0, 12.0, "height of the rim above the floor"),
            Parameter("clearance_mm", "mm", 0.0, 4.0, 1.0, "room between heel and rim")),
            heel_cup,
            margin=lambda p: min(p["clearance_mm"] + 1.0, p["depth_mm"])),
        FeatureKind("rearfoot_post", "rearfoot post", (
            _angle("tilt under the heel; positive raises the medial side (varus), negative the "
                   "lateral side (valgus)"),), rearfoot_post),
        FeatureKind("medial_heel_skive", "medial heel skive", _SKIVE, medial_heel_skive),
        FeatureKind("lateral_heel_skive", "lateral heel skive", _SKIVE, lateral_heel_skive),
        FeatureKind("metatarsal_pad", "metatarsal pad", (
            Parameter("height_mm", "mm", 0.0, 12.0, 5.0, "greatest height"),
            Parameter("length_mm", "mm", 20.0, 80.0, 50.0, "length, heel to toe"),
            Parameter("width_mm", "mm", 20.0, 90.0, 55.0, "width"),
            Parameter("behind_mm", "mm", -10.0, 60.0, 20.0,
                      "how far its highest line lies behind the metatarsal heads")),
            metatarsal_pad),
        FeatureKind("forefoot_wedge", "forefoot wedge", (
            _angle("tilt under the forefoot; positive raises the medial side, negative the "
                   "lateral side"),), forefoot_wedge, needs_length="full"),
    )
}
"""Every kind of feature a device can have; adding one is adding an entry."""


def feature(kind: str, **values: float) -> Feature:
    """Return a feature with every parameter filled in.

    Raises
    ------
    InputError
        On an unknown kind, an unknown parameter or a value outside its range.
    """
    if kind not in FEATURES:
        raise unknown_name("feature", kind, FEATURES)
    known = {p.name: p for p in FEATURES[kind].parameters}
    for name, value in values.items():
        if name not in known:
            raise unknown_name("parameter", name, known, key=kind)
        p = known[name]
        if not p.low <= value <= p.high:
            raise InputError(
                "value out of range", key=f"{kind}.{name}", value=value,
                allowed=f"{p.low:g} to {p.high:g} {p.unit}", hint="choose a value in the range",
            )
    return Feature(kind, {p.name: float(values.get(p.name, p.default)) for p in known.values()})



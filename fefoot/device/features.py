"""The table of features a device can have, and one filled-in feature from it."""

from __future__ import annotations

from dataclasses import replace

from ..errors import InputError, unknown_name
from . import front, heel, hollows
from .device import Device, Feature
from .edit import FeatureKind, Heights, Parameter

__all__ = ["FEATURES", "FeatureKind", "Heights", "Parameter", "feature", "grown"]


def _angle(doc):
    return Parameter("angle_degrees", "degrees", -12.0, 12.0, 4.0, doc)


def _height(high, default, doc="height"):
    return Parameter("height_mm", "mm", 0.0, high, default, doc)


def _depth(doc):
    return Parameter("depth_mm", "mm", 0.0, 10.0, 3.0, f"{doc}; the last layer keeps at least 1 mm")


_SKIVE = (
    Parameter("depth_mm", "mm", 0.0, 8.0, 3.0, "height of the wedge where floor and side meet"),
    Parameter("angle_degrees", "degrees", 5.0, 30.0, 15.0, "slope of the wedge across the heel"),
)
_BEGINS = Parameter("behind_mm", "mm", 0.0, 40.0, 12.0,
                    "how far behind the metatarsal heads it begins to rise")

FEATURES: dict[str, FeatureKind] = {
    kind.name: kind
    for kind in (
        FeatureKind("heel_lift", "heel lift", "height_mm", (
            Parameter("height_mm", "mm", 0.0, 25.0, 6.0, "height at the heel"),), heel.heel_lift),
        FeatureKind("arch_fill", "arch fill", "fill_percent", (
            Parameter("fill_percent", "percent", 0.0, 100.0, 75.0,
                      "share of the space under the unloaded arch that is filled"),),
            front.arch_fill, needs_base="flat"),
        FeatureKind("heel_cup", "heel cup", "depth_mm", (
            Parameter("depth_mm", "mm", 0.0, 25.0, 12.0, "height of the rim above the floor"),
            Parameter("clearance_mm", "mm", 0.0, 4.0, 1.0, "room between heel and rim")),
            heel.heel_cup,
            margin=lambda p: min(p["clearance_mm"] + 1.0, p["depth_mm"])),
        FeatureKind("rearfoot_post", "rearfoot post", "angle_degrees", (
            _angle("tilt under the heel; positive raises the medial side (varus), negative the "
                   "lateral side (valgus)"),), heel.rearfoot_post),
        FeatureKind("medial_heel_skive", "medial heel skive", "depth_mm", _SKIVE,
                    heel.medial_heel_skive),
        FeatureKind("lateral_heel_skive", "lateral heel skive", "depth_mm", _SKIVE,
                    heel.lateral_heel_skive),
        FeatureKind("metatarsal_pad", "metatarsal pad", "height_mm", (
            Parameter("height_mm", "mm", 0.0, 12.0, 5.0, "greatest height"),
            Parameter("length_mm", "mm", 20.0, 80.0, 50.0, "length, heel to toe"),
            Parameter("width_mm", "mm", 20.0, 90.0, 55.0, "width"),
            Parameter("behind_mm", "mm", -10.0, 60.0, 20.0,
                      "how far its highest line lies behind the metatarsal heads")),
            front.metatarsal_pad),
        FeatureKind("forefoot_wedge", "forefoot wedge", "angle_degrees", (
            _angle("tilt under the forefoot; positive raises the medial side, negative the "
                   "lateral side"),), front.forefoot_wedge, needs_length="full"),
        FeatureKind("metatarsal_bar", "metatarsal bar", "height_mm", (
            _height(12.0, 4.0, "height of its level middle"),
            Parameter("length_mm", "mm", 10.0, 60.0, 24.0, "length, heel to toe"),
            Parameter("behind_mm", "mm", -5.0, 60.0, 18.0,
                      "how far its middle lies behind the metatarsal heads")),
            front.metatarsal_bar),
        FeatureKind("first_ray_extension", "first-ray extension", "height_mm", (
            _height(8.0, 3.0, "height under the first metatarsal head and the hallux"), _BEGINS),
            front.first_ray_extension, needs_length="full", needs_model="foot3d"),
        FeatureKind("lateral_extension", "lateral extension, rays 2 to 5", "height_mm", (
            _height(8.0, 3.0, "height under metatarsal heads and toes 2 to 5"), _BEGINS),
            front.lateral_extension, needs_length="full"),
        FeatureKind("relief", "relief", "depth_mm", (
            Parameter("place", "", 0.0, 0.0, "heel", "what it lies under", hollows.PLACES),
            _depth("depth of its floor"),
            Parameter("radius_mm", "mm", 5.0, 40.0, 14.0,
                      "where it has run out; the floor is level over half of it"),
            Parameter("forward_mm", "mm", -30.0, 30.0, 0.0, "moved towards the toes"),
            Parameter("lateral_mm", "mm", -20.0, 20.0, 0.0, "moved laterally (+) or medially (-)")),
            hollows.relief),
        FeatureKind("fascia_groove", "fascia groove", "depth_mm", (
            _depth("depth along its middle"),
            Parameter("width_mm", "mm", 6.0, 40.0, 16.0, "width between its edges"),
            Parameter("lateral_mm", "mm", -15.0, 15.0, 0.0,
                      "moved laterally (+) or medially (-) from the line between the heel and the "
                      "first metatarsal head")),
            hollows.fascia_groove),
        FeatureKind("first_ray_cut_out", "first-ray cut-out", "depth_mm", (
            _depth("depth under the first metatarsal"),
            Parameter("behind_mm", "mm", 10.0, 70.0, 40.0,
                      "how far behind the metatarsal heads it begins")),
            hollows.first_ray_cut_out, needs_model="foot3d"),
    )
}
"""Every kind of feature a device can have; adding one is adding an entry."""


def grown(device: Device, share: float) -> Device:
    """Return the device with every feature's size multiplied by ``share``, 0 to 1."""
    return replace(device, features=tuple(
        replace(f, parameters=f.parameters | {
            (size := FEATURES[f.kind].size): share * f.parameters[size]})
        for f in device.features))


def feature(kind: str, **values: float | str) -> Feature:
    """Return a feature with every parameter filled in.

    Raises
    ------
    InputError
        On an unknown kind, an unknown parameter, a value outside its range or an unknown word.
    """
    if kind not in FEATURES:
        raise unknown_name("feature", kind, FEATURES)
    known = {p.name: p for p in FEATURES[kind].parameters}
    for name, value in values.items():
        if name not in known:
            raise unknown_name("parameter", name, known, key=kind)
        p = known[name]
        if p.choices:
            if value not in p.choices:
                raise unknown_name(name, value, p.choices, key=f"{kind}.{name}")
        elif not p.low <= value <= p.high:
            raise InputError(
                "value out of range", key=f"{kind}.{name}", value=value,
                allowed=f"{p.low:g} to {p.high:g} {p.unit}", hint="choose a value in the range",
            )
    given = {p.name: values.get(p.name, p.default) for p in known.values()}
    return Feature(kind, {n: v if isinstance(v, str) else float(v) for n, v in given.items()})

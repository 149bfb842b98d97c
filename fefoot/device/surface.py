"""The device as height fields over (x, z): base surface, features, front edge, layer interfaces.

The single description behind both sections and the three-dimensional model.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .device import Device, FootLandmarks
from .edit import Heights
from .features import FEATURES
from .heel import heel_block
from .outline import front_x_mm
from .ramp import capped, ramp

MINIMUM_LAYER_MM = 1.0
"""The last layer is nowhere thinner than this, but at a bevelled front edge."""
HOLLOW_EXACT = 0.8
"""Share of what the last layer can give up to which a hollow has its wanted depth."""
FRONT_EDGE_MM = 1.2
"""Thickness of all layers together at the bevelled front edge of a short device."""
FRONT_TAPER_MM = 15.0
"""Length over which the front of a short device is thinned."""


def base_heights(device: Device, foot: FootLandmarks, x, z) -> Heights:
    """Return the device without features over points x, z (any one shape), heights in mm.

    A flat base lies one layer stack above the ground. A foot base lies one stack above the foot's
    own plantar surface, its underside on the ground (``flat``) or on that surface (``follow``). A
    scanned sole takes the place of that surface; a scanned top is the top as it stands. An underside
    that follows a scanned sole is level on the ground under the heel, as it is ground in the
    workshop: a round heel would roll.
    """
    x, z = np.broadcast_arrays(np.asarray(x, float), np.asarray(z, float))
    shape = np.zeros(x.shape)
    if device.base == "foot":
        shape = np.maximum(foot.plantar(x, z), 0.0) + shape
    elif device.base == "scan" and device.surface.is_top:
        shape = device.surface.at(x, z) - device.stack_mm
    elif device.base == "scan":
        shape = np.maximum(_scanned_sole(device, foot, x, z), 0.0)
    top = shape + device.stack_mm
    names = tuple(dict.fromkeys(layer.material for layer in device.layers))
    index = np.array([names.index(layer.material) for layer in device.layers], int)
    material = np.broadcast_to(
        index.reshape(-1, *[1] * x.ndim), (len(device.layers), *x.shape)
    ).copy()
    free = device.underside == "follow"
    bottom = np.maximum(shape, 0.0) if free else np.zeros(x.shape)
    if device.base == "scan" and not device.surface.is_top:
        bottom = bottom * (1.0 - heel_block(x, foot))
    none = np.zeros(x.shape)
    return Heights(top, bottom, top, top, none, device.stack_mm, free, material, names)


def _scanned_sole(device: Device, foot: FootLandmarks, x, z):
    """Return the height of a scanned sole, let down in front so that a short device stands on its edge.

    Skin behind the metatarsal heads hangs above the ground: in front of the arch's highest place the
    height of the sole over the front edge is taken off by a quintic ramp.
    """
    sole = device.surface.at(x, z)
    if device.length == "full":
        return sole
    front, apex = front_x_mm(device, foot, z), foot.arch_apex_x_mm
    return sole - device.surface.at(front, z) * ramp((x - apex) / (front - apex))


def heights(device: Device, foot: FootLandmarks, x, z) -> Heights:
    """Return the finished device over points x, z.

    Base, each feature in order, hollows, then the edge. A hollow takes its depth from the last layer,
    of which `MINIMUM_LAYER_MM` stays: exactly as deep as wanted up to `HOLLOW_EXACT` of the rest,
    from there rounded off to all of the rest. A scanned top is bevelled as it was made, and stays at
    least `FRONT_EDGE_MM` thick.
    """
    x, z = np.broadcast_arrays(np.asarray(x, float), np.asarray(z, float))
    field = base_heights(device, foot, x, z)
    for feature in device.features:
        field = FEATURES[feature.kind].apply(field, x, z, feature.parameters, foot)
    least = sum(la.thickness_mm for la in device.layers[:-1]) + MINIMUM_LAYER_MM
    finished = device.base == "scan" and device.surface.is_top
    thickness = np.maximum(field.top_mm - field.bottom_mm, FRONT_EDGE_MM if finished else least)
    taken = _taken(field.hollow_mm, np.maximum(thickness - least, 0.0))
    thickness = thickness - taken
    if device.length == "to_metatarsals" and not finished:
        full = ramp((front_x_mm(device, foot, z) - x) / FRONT_TAPER_MM)
        thickness = FRONT_EDGE_MM + full * (thickness - FRONT_EDGE_MM)
    return replace(field, top_mm=field.bottom_mm + thickness, hollow_mm=taken)


def _taken(wanted_mm, room_mm):
    """Return how deep a hollow gets where ``room_mm`` can be taken away."""
    share = np.divide(wanted_mm, room_mm, out=np.zeros_like(room_mm), where=room_mm > 0.0)
    return room_mm * capped(share, 1.0, 1.0 - HOLLOW_EXACT)


def interfaces_mm(device: Device, field: Heights) -> np.ndarray:
    """Return the heights between the layers (layers + 1, ...) from the top down, mm.

    Upper layers keep their thickness and the last one reaches down to the underside; where the
    device is bevelled, all are thinned alike.
    """
    down = np.cumsum([0.0, *(layer.thickness_mm for layer in device.layers[:-1])])
    bevel = np.minimum(1.0, (field.top_mm - field.bottom_mm) / (down[-1] + MINIMUM_LAYER_MM))
    upper = [field.top_mm - offset * bevel for offset in down]
    return np.stack([*upper, field.bottom_mm])

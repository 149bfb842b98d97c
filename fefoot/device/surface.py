"""The device as height fields over (x, z): base surface, features, front edge, layer interfaces.

The single description behind both sections and the three-dimensional model.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from .device import Device, FootLandmarks
from .features import FEATURES, Heights
from .outline import front_x_mm
from .ramp import ramp

MINIMUM_LAYER_MM = 1.0
"""No layer is thinner than this anywhere."""
FRONT_TAPER_MM = 15.0
"""Length over which the front of a short device is thinned."""


def base_heights(device: Device, foot: FootLandmarks, x, z) -> Heights:
    """Return the device without features over points x, z (any one shape), heights in mm.

    A flat base lies one layer stack above the ground. A foot base lies one stack above the foot's
    own plantar surface, its underside on the ground (``flat``) or on that surface (``follow``).
    """
    x, z = np.broadcast_arrays(np.asarray(x, float), np.asarray(z, float))
    shape = np.zeros(x.shape)
    if device.base == "foot":
        shape = np.maximum(foot.plantar(x, z), 0.0) + shape
    top = shape + device.stack_mm
    names = tuple(dict.fromkeys(layer.material for layer in device.layers))
    index = np.array([names.index(layer.material) for layer in device.layers], int)
    material = np.broadcast_to(
        index.reshape(-1, *[1] * x.ndim), (len(device.layers), *x.shape)
    ).copy()
    free = device.underside == "follow"
    bottom = shape.copy() if free else np.zeros(x.shape)
    return Heights(top, bottom, top, top, device.stack_mm, free, material, names)


def heights(device: Device, foot: FootLandmarks, x, z) -> Heights:
    """Return the finished device over points x, z: base, then each feature in order, then edge."""
    x, z = np.broadcast_arrays(np.asarray(x, float), np.asarray(z, float))
    field = base_heights(device, foot, x, z)
    for feature in device.features:
        field = FEATURES[feature.kind].apply(field, x, z, feature.parameters, foot)
    least = sum(la.thickness_mm for la in device.layers[:-1]) + MINIMUM_LAYER_MM
    if device.length == "to_metatarsals":
        from_edge = front_x_mm(device, foot, z) - x
        full = ramp(from_edge / FRONT_TAPER_MM)
        thickness = field.top_mm - field.bottom_mm
        field = replace(field, top_mm=field.bottom_mm + least + full * (thickness - least))
    return replace(field, top_mm=np.maximum(field.top_mm, field.bottom_mm + least))


def interfaces_mm(device: Device, field: Heights) -> np.ndarray:
    """Return the heights between the layers (layers + 1, ...) from the top down, mm.

    Upper layers keep their thickness; the last layer reaches down to the underside.
    """
    down = np.cumsum([0.0, *(layer.thickness_mm for layer in device.layers[:-1])])
    upper = [field.top_mm - offset for offset in down]
    return np.stack([*upper, field.bottom_mm])

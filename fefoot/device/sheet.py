"""The build sheet: the dimensions a workshop needs to make a device."""

from __future__ import annotations

import numpy as np

from .device import Device, FootLandmarks
from .features import FEATURES
from .outline import edges_z_mm, ends_x_mm, front_x_mm
from .surface import heights

GRID_MM, GRID_ACROSS = 1.0, 101
"""Steps along and points across on which hollows are measured."""


def build_sheet(device: Device, foot: FootLandmarks) -> list[tuple[str, float | str, str]]:
    """List a device's dimensions as (label, value, unit), measured on its height fields.

    Materials and places are text with an empty unit; every other value is a number.
    """
    sheet = outline_rows(device, foot)
    for number, layer in enumerate(device.layers, 1):
        sheet += [
            (f"layer {number} (from the skin) material", layer.material, ""),
            (f"layer {number} (from the skin) thickness", layer.thickness_mm, "mm"),
        ]
    sheet += height_rows(device, foot)
    for number, entry in enumerate(device.features, 1):
        kind = FEATURES[entry.kind]
        for parameter in kind.parameters:
            words = parameter.name.removesuffix(f"_{parameter.unit}").replace("_", " ")
            label = f"{kind.title} (feature {number}) {words}"
            sheet.append((label, entry.parameters[parameter.name], parameter.unit))
    return sheet + hollow_rows(device, foot)


def outline_rows(device: Device, foot: FootLandmarks) -> list[tuple[str, float | str, str]]:
    """List length and widths as (label, value, unit)."""
    line = float(foot.metatarsal_line_x_mm(float(np.mean(foot.metatarsal_head_z_mm))))
    back, front = ends_x_mm(device, foot, lambda x: np.zeros_like(x))
    return [
        ("length on the midline", front - back, "mm"),
        ("width at the heel's centre", _width(device, foot, foot.heel_centre_x_mm), "mm"),
        ("width at the front of the metatarsals", _width(device, foot, min(line, front)), "mm"),
    ]


def height_rows(device: Device, foot: FootLandmarks) -> list[tuple[str, float | str, str]]:
    """List thickness and heights at heel and arch as (label, value, unit)."""
    return [(label, float(value), "mm") for label, value in _heights(device, foot)]


def hollow_rows(device: Device, foot: FootLandmarks) -> list[tuple[str, float | str, str]]:
    """List the depth that the hollows really have and what is left there; nothing without hollows."""
    x = np.arange(0.0, foot.length_mm, GRID_MM)
    medial, lateral = (np.nan_to_num(z) for z in edges_z_mm(device, foot, x))
    z = medial[:, None] + (lateral - medial)[:, None] * np.linspace(0.0, 1.0, GRID_ACROSS)
    x = np.broadcast_to(x[:, None], z.shape)
    inside = x <= front_x_mm(device, foot, z)
    field = heights(device, foot, x[inside], z[inside])
    if not field.hollow_mm.any():
        return []
    deepest = int(np.argmax(field.hollow_mm))
    return [("deepest hollow, as the last layer allows", float(field.hollow_mm[deepest]), "mm"),
            ("device's thickness there", float((field.top_mm - field.bottom_mm)[deepest]), "mm")]


def _width(device, foot, x):
    medial, lateral = edges_z_mm(device, foot, x)
    return float(lateral - medial)


def _heights(device, foot):
    heel = foot.heel_centre_x_mm
    medial, lateral = (float(edge) for edge in edges_z_mm(device, foot, heel))
    arch_z = float(edges_z_mm(device, foot, foot.arch_apex_x_mm)[0])
    middle = heights(device, foot, heel, 0.0)
    rims = heights(device, foot, heel, np.array([medial, lateral])).top_mm
    arch = heights(device, foot, foot.arch_apex_x_mm, arch_z)
    return [
        ("thickness under the heel's centre", middle.top_mm - middle.bottom_mm),
        ("top above the ground at the heel's centre", middle.top_mm),
        ("medial edge above the ground at the heel", rims[0]),
        ("lateral edge above the ground at the heel", rims[1]),
        ("medial edge above the ground at the arch", arch.top_mm),
        ("free space under the medial edge at the arch", arch.bottom_mm),
    ]

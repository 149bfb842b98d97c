"""Where the parts of a person's foot lie, for devices and regions."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from ..device.device import FootLandmarks
from .anatomy import anatomy
from .morph import Dimensions, length_scale, morph, plantar_height_mm
from .section import lift

RAYS = ("metatarsal_1", "metatarsal_2", "metatarsal_3", "metatarsal_4", "metatarsal_5")
ARCH_APEX_X_MM = 110.0
HEEL_CENTRE_X_MM = 34.0


def landmarks(dimensions: Dimensions) -> FootLandmarks:
    """Return the landmarks of a person's foot, mm."""
    heads = np.array([anatomy().table["bones"][ray]["chain"][0][-1][:3] for ray in RAYS], float)
    moved = morph(heads, dimensions)
    scale = length_scale(dimensions)
    return FootLandmarks(
        length_mm=dimensions.length_mm, heel_width_mm=dimensions.heel_width_mm,
        forefoot_width_mm=dimensions.forefoot_width_mm,
        heel_centre_x_mm=HEEL_CENTRE_X_MM * scale,
        metatarsal_head_x_mm=tuple(map(float, moved[:, 0])),
        metatarsal_head_z_mm=tuple(map(float, moved[:, 2])),
        arch_apex_x_mm=ARCH_APEX_X_MM * scale,
        plantar=lambda x, z: plantar_height_mm(x, z, dimensions))


def slice_z_of_x(dimensions: Dimensions) -> Callable:
    """Return z (mm) of the sagittal slice as a function of the person's x (mm)."""
    scale = length_scale(dimensions)

    def z_of_x(x):
        x = np.asarray(x, float)
        flat = np.column_stack([np.atleast_1d(x).ravel() / scale, np.zeros(x.size)])
        return morph(lift("sagittal", flat), dimensions)[:, 2].reshape(x.shape)

    return z_of_x


def slice_x_mm(dimensions: Dimensions) -> float:
    """Return x (mm) of the rearfoot slice at the heel's level."""
    return float(morph(lift("rearfoot", np.array([[0.0, 0.0]])), dimensions)[0, 0])

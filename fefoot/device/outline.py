"""The plan outline of a device: its two edges over x and its two ends along a slice.

Half an ellipse round the heel, straight blend to the forefoot's width at the metatarsal heads,
and either a rounded toe end or an edge just behind the metatarsal head line. Round a heel cup the
outline grows by the room the cup's wall needs.
"""

from __future__ import annotations

import numpy as np

from .device import Device, FootLandmarks
from .features import FEATURES
from .ramp import ramp

FRONT_GAP_MM = 6.0
"""Distance from a short device's front edge to the metatarsal head line."""
MEDIAL_SHARE = 0.48
"""Share of the forefoot's width on the medial side of z = 0."""


def margin_mm(device: Device) -> float:
    """Room that the features need round the heel outside the foot's own outline, mm.

    A scanned device brings its own.
    """
    own = device.surface.margin_mm if device.surface is not None else 0.0
    return max([own, *(FEATURES[f.kind].margin(f.parameters) for f in device.features)])


def edges_z_mm(device: Device, foot: FootLandmarks, x):
    """Return the medial and the lateral edge of the outline at x, mm (nan outside the ends)."""
    return outline_z_mm(margin_mm(device), foot, x)


def outline_z_mm(margin: float, foot: FootLandmarks, x):
    """Return both edges of an outline that stands ``margin`` mm outside the foot round the heel, mm."""
    x = np.asarray(x, float)
    heel = foot.heel_centre_x_mm
    head = float(np.mean(foot.metatarsal_head_x_mm))
    blend = ramp((x - heel) / (head - heel))
    side = margin * (1.0 - ramp((x - heel) / (0.2 * foot.length_mm)))
    with np.errstate(invalid="ignore"):
        end = np.sqrt(1.0 - (np.maximum(heel - x, 0.0) / (heel + margin)) ** 2)
        end = end * np.sqrt(1.0 - (np.maximum(x - head, 0.0) / (foot.length_mm - head)) ** 2.5)
    half = 0.5 * foot.heel_width_mm * (1.0 - blend) + side
    medial = half + MEDIAL_SHARE * foot.forefoot_width_mm * blend
    lateral = half + (1.0 - MEDIAL_SHARE) * foot.forefoot_width_mm * blend
    return -medial * end, lateral * end


def front_x_mm(device: Device, foot: FootLandmarks, z):
    """Return where the device ends in front at z, before the rounding of a toe end, mm."""
    if device.length == "full":
        return np.full_like(np.asarray(z, float), foot.length_mm)
    return foot.metatarsal_line_x_mm(np.asarray(z, float)) - FRONT_GAP_MM


def ends_x_mm(device: Device, foot: FootLandmarks, z_of_x, step_mm=0.05) -> tuple[float, float]:
    """Return the back and the front end of the device along the slice z = z_of_x(x), mm."""
    x = np.arange(-margin_mm(device), foot.length_mm + step_mm, step_mm)
    z = np.broadcast_to(np.asarray(z_of_x(x), float), x.shape)
    medial, lateral = edges_z_mm(device, foot, x)
    with np.errstate(invalid="ignore"):
        inside = (z >= medial) & (z <= lateral) & (x <= front_x_mm(device, foot, z))
    return float(x[inside][0]), float(x[inside][-1])

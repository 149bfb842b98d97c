"""A two-dimensional section of a device: the interfaces between its layers along a slice."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ..errors import InputError
from .device import Device, FootLandmarks
from .outline import edges_z_mm, ends_x_mm
from .surface import heights, interfaces_mm

SPACING_MM = 0.1


@dataclass(frozen=True)
class Plane:
    """Where a section is taken.

    Attributes
    ----------
    kind : {"sagittal", "rearfoot"}
        Along the foot at z = ``z_of_x(x)``, or across it at x = ``x_mm``.
    """

    kind: str
    x_mm: float = 0.0
    z_of_x: Callable | None = None


def sagittal_plane(z_of_x: Callable) -> Plane:
    """Return the slice along the foot at z = z_of_x(x), mm; s is x."""
    return Plane("sagittal", z_of_x=z_of_x)


def rearfoot_plane(x_mm: float) -> Plane:
    """Return the slice across the foot at x, mm; s is z (medial negative)."""
    return Plane("rearfoot", x_mm=float(x_mm))


@dataclass(frozen=True)
class Section:
    """One slice through a device.

    Attributes
    ----------
    s_mm : (n,) array
        Position along the slice: x of a sagittal, z of a rearfoot slice.
    interfaces_mm : (layers + 1, n) array
        Heights from the top down, mm.
    material : (layers, n) int array
        Index into ``material_names`` at each position.
    material_names : tuple of str
    """

    s_mm: np.ndarray
    interfaces_mm: np.ndarray
    material: np.ndarray
    material_names: tuple[str, ...]

    def interfaces_at(self, s) -> np.ndarray:
        """Return the interfaces (layers + 1, ...) at positions s, mm, interpolated linearly."""
        return np.stack([np.interp(s, self.s_mm, row) for row in self.interfaces_mm])

    def material_at(self, s) -> np.ndarray:
        """Return the material index (layers, ...) at positions s: that of the nearest sample."""
        spacing = self.s_mm[1] - self.s_mm[0]
        near = np.rint((np.asarray(s) - self.s_mm[0]) / spacing).astype(int)
        return self.material[:, np.clip(near, 0, len(self.s_mm) - 1)]


def section(device: Device, foot: FootLandmarks, plane: Plane) -> Section:
    """Cut a device with a plane, sampled every 0.1 mm or finer.

    A post, skive or wedge shows in a sagittal slice by its height at the slice's z.

    Raises
    ------
    InputError
        When a rearfoot slice misses the device.
    """
    if plane.kind == "sagittal":
        back, front = ends_x_mm(device, foot, plane.z_of_x)
        x = s = _samples(back, front)
        z = np.broadcast_to(np.asarray(plane.z_of_x(x), float), x.shape)
    else:
        medial, lateral = (float(edge) for edge in edges_z_mm(device, foot, plane.x_mm))
        if not lateral > medial:
            raise InputError(
                f"the slice at x = {plane.x_mm:g} mm misses the device {device.name!r}",
                hint="slice it between its back and front end",
            )
        z = s = _samples(medial, lateral)
        x = np.full_like(s, plane.x_mm)
    field = heights(device, foot, x, z)
    return Section(s, interfaces_mm(device, field), field.material, field.material_names)


def _samples(first, last):
    return np.linspace(first, last, int(np.ceil((last - first) / SPACING_MM)) + 1)

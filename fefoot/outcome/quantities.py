"""Every quantity that is reported: title, unit and its one definition."""

from __future__ import annotations

from dataclasses import dataclass

PATCH_MM = 8.0


@dataclass(frozen=True)
class Quantity:
    """A quantity: plain title, unit, number of decimals to show, definition."""

    title: str
    unit: str
    decimals: int
    definition: str


QUANTITIES: dict[str, Quantity] = {
    "tension_N": Quantity("tension", "N", 0, "force along the cable, one value over its length"),
    "stretch_percent": Quantity(
        "stretch", "%", 2, "current length over the length at which it becomes taut, less one"),
    "peak_pressure_kPa": Quantity(
        "peak pressure", "kPa", 0,
        f"largest contact pressure on the sole averaged over a patch of {PATCH_MM:g} mm"),
    "mean_pressure_kPa": Quantity(
        "mean pressure", "kPa", 0, "contact force over the contact area of the region"),
    "load_share_percent": Quantity(
        "share of the load", "%", 1, "vertical contact force of the region over that of the foot"),
    "strain_energy_density_kPa": Quantity(
        "strain-energy density", "kPa", 2,
        "95th percentile, by volume, of the stored energy per volume in the region's tissue"),
    "compression_percent": Quantity(
        "compression", "%", 0,
        "loss of distance between the bone's lowest point and the sole, over the unloaded one"),
    "force_N": Quantity("force", "N", 0, "resultant force across the joint"),
    "moment_Nm": Quantity(
        "moment", "N m", 2,
        "moment of all forces on the far side of the joint about its centre; dorsiflexing or "
        "pronating positive"),
    "rotation_degrees": Quantity(
        "rotation", "degrees", 1, "from the unloaded foot; dorsiflexion or eversion positive"),
    "bending_stress_MPa": Quantity(
        "bending stress", "MPa", 1,
        "section moment at mid shaft over the section modulus of the five shafts together; in the "
        "whole foot, of the one shaft"),
    "pressure_centre_percent": Quantity(
        "centre of pressure", "% of length", 1, "from the back of the heel"),
    "pressure_centre_mm": Quantity(
        "centre of pressure", "mm", 1, "lateral positive, from the middle of the heel"),
    "navicular_drop_mm": Quantity(
        "navicular drop", "mm", 1, "loss of the midfoot's height above the sole under heel and "
        "metatarsal heads, against the unloaded foot"),
}

"""Everyday words for what a case file names otherwise, and numbers that fit in another unit."""

from __future__ import annotations

from .schema import Key

KEYS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("weight_kg", "weight", "mass_kg", "mass", "body_weight_kg", "body_weight",
                     "bodyweight_kg", "bodyweight"), ("body_mass_kg",)),
    **dict.fromkeys(("foot_length_mm", "foot_length", "foot_size_mm", "total_length_mm"),
                    ("length_mm",)),
    **dict.fromkeys(("width_mm", "width", "foot_width_mm", "foot_width", "ball_width_mm",
                     "ball_width", "metatarsal_width_mm"), ("width_mm", "forefoot_width_mm")),
    **dict.fromkeys(("heel_pad_thickness_mm", "fat_pad_mm", "heel_fat_pad_mm", "heel_thickness_mm"),
                    ("heel_pad_mm",)),
    **dict.fromkeys(("forefoot_pad_mm", "ball_pad_mm"), ("metatarsal_pad_mm",)),
    **dict.fromkeys(("arch_height_mm", "arch_height", "navicular_mm"), ("navicular_height_mm",)),
    **dict.fromkeys(("foot", "leg"), ("side",)),
    **dict.fromkeys(("tissue", "structure"), ("target",)),
    **dict.fromkeys(("type", "section", "slice"), ("kind", "model")),
    **dict.fromkeys(("element_size_mm", "element_size", "mesh_mm"), ("mesh_size_mm",)),
    **dict.fromkeys(("percent", "stance_percent", "time", "when", "moment"), ("at",)),
    **dict.fromkeys(("height_mm", "height", "depth_mm", "depth", "thick_mm"),
                    ("height_mm", "depth_mm", "thickness_mm")),
    **dict.fromkeys(("tilt", "tilt_degrees", "slope_degrees"), ("angle_degrees",)),
    **dict.fromkeys(("insole", "orthosis", "orthotic", "orthoses", "shell"), ("device",)),
    **dict.fromkeys(("patient", "subject", "runner"), ("person",)),
    **dict.fromkeys(("gait", "movement", "motion", "load"), ("activity",)),
    **dict.fromkeys(("friction_coefficient", "coefficient_of_friction", "mu"), ("friction",)),
}
"""Everyday keys, with what they may mean; the first that the table knows is meant."""
WORDS: dict[str, tuple[str, ...]] = {
    **dict.fromkeys(("3d", "3_d", "whole_foot", "full_foot", "whole"), ("foot3d", "whole_foot")),
    **dict.fromkeys(("lengthwise", "longitudinal", "along"), ("sagittal",)),
    **dict.fromkeys(("frontal", "coronal", "hindfoot", "across"), ("rearfoot",)),
    **dict.fromkeys(("gait", "walk"), ("walking",)),
    "lt": ("left",), "rt": ("right",),
    **dict.fromkeys(("fascia", "aponeurosis", "plantar_aponeurosis"), ("plantar_fascia",)),
    "pp": ("polypropylene",),
}
"""Everyday values of keys, likewise."""
_OTHER_UNITS = {"mm": (("cm", 10.0), ("m", 1000.0), ("inches", 25.4)), "kg": (("grams", 1e-3),)}


def other_unit(value: float, key: Key) -> str | None:
    """Return what to write for a number out of a key's range that fits it in another unit."""
    if key.unit not in _OTHER_UNITS:
        return None
    for unit, factor in _OTHER_UNITS[key.unit]:
        if key.low <= value * factor <= key.high:
            return f"is that in {unit}? write {value * factor:.6g}"
    if key.low <= value / 10.0 <= key.high:
        return f"is a decimal point missing? write {value / 10.0:.6g}"
    return None

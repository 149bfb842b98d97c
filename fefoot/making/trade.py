"""A device in the words of the workshop: features with their angles, layers, base, axes."""

from __future__ import annotations

from ..case.values import Case
from ..device.device import Device
from ..device.features import FEATURES
from ..device.hollows import HEADS

AXES = ("X from heel to toe, Y to the left, Z up; millimetres; origin under the back of the heel, on "
        "the middle line of the heel, at the height of the ground.")
MOVED = {"lateral_mm": ("laterally", "medially"),
         "forward_mm": ("towards the toes", "towards the heel")}
"""Parameters that move a feature, and the words for their two directions."""
SHAPES = {
    "flat": "flat, with the features listed",
    "foot": "the plantar surface of the computed foot, unloaded, with the features listed",
    "scan": "the scan named below, with the features listed",
}
UNDERSIDES = {
    "flat": "solid down to the ground", "follow": "follows the top, the arch is free underneath"}
LENGTHS = {"full": "full length", "to_metatarsals": "ends behind the metatarsal heads, bevelled"}


def feature_rows(device: Device) -> list[tuple[str, str, str]]:
    """Return one row per dimension of each feature: feature (once), value with unit, what it is."""
    rows = []
    for entry in device.features:
        kind = FEATURES[entry.kind]
        for number, parameter in enumerate(kind.parameters):
            value = entry.parameters[parameter.name]
            if parameter.name not in MOVED or value != 0.0:
                rows.append(("" if number else kind.title, *_dimension(parameter, value)))
    return rows


def _dimension(parameter, value) -> tuple[str, str]:
    if parameter.choices:
        place = value if value not in HEADS else f"metatarsal head {HEADS.index(value) + 1}"
        return str(place).replace("_", " "), parameter.doc
    if parameter.unit == "degrees" and parameter.low < 0.0:
        raised, name = ("medial", "varus") if value > 0 else ("lateral", "valgus")
        if value == 0.0:
            return "0°", "no tilt"
        return f"{abs(value):g}° {name}", f"the {raised} side is raised; {_first(parameter.doc)}"
    if parameter.name in MOVED:
        plus, minus = MOVED[parameter.name]
        return f"{abs(value):g} mm", f"moved {plus if value > 0 else minus}"
    unit = {"degrees": "°", "percent": " %"}.get(parameter.unit, f" {parameter.unit}")
    return f"{value:g}{unit}", _first(parameter.doc)


def _first(doc: str) -> str:
    return doc.split(";")[0]


def shape_rows(device: Device) -> list[tuple[str, str]]:
    """Return length, shape of the top and of the underside, in words."""
    return [("length", LENGTHS[device.length]), ("top", SHAPES[device.base]),
            ("underside", UNDERSIDES[device.underside])]


def person_rows(case: Case) -> list[tuple[str, str]]:
    """Return what the workshop needs to know of the person."""
    person = case.person
    return [
        ("foot", f"{person.side}, {person.length_mm:g} mm long"),
        ("heel, forefoot", f"{person.heel_width_mm:g} mm and {person.forefoot_width_mm:g} mm wide"),
        ("body mass", f"{person.body_mass_kg:g} kg"),
    ]

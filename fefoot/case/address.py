"""Names of the values that a study may vary: ``layer.2.thickness_mm``, ``person.body_mass_kg``.

An address is a value of one device (``device``, ``layer``, ``feature``), of the person, of the
activity, a factor or shift on the load, or a factor on the stiffness of the devices' materials.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from ..device.device import Device
from ..device.features import FEATURES
from ..errors import InputError, unknown_name
from . import schema
from .schema import Key
from .values import Case

_INSTANT = {key.name: key for key in schema.INSTANT}
LOAD = (
    Key("vertical_factor", "number", "factor on the upward force", 1.0, "", 0.5, 2.0),
    Key("fore_aft_factor", "number", "factor on the forward force", 1.0, "", -2.0, 3.0),
    Key("pressure_centre_shift_percent", "number", "centre of pressure moved to the toes", 0.0,
        "percent of foot length", -15.0, 15.0),
    Key("shank_angle_shift_degrees", "number", "shank leaned further forward", 0.0, "degrees",
        -10.0, 10.0),
)
MATERIAL = (
    Key("stiffness_factor", "number", "factor on every stiffness of the devices' materials", 1.0, "",
        0.2, 5.0),
)
_DEVICE = {k.name: k for k in schema.DEVICE if k.name in ("length", "base", "underside")}
_ACTIVITY = {k.name: k for k in schema.ACTIVITY if k.name == "at"}
FORMS = ("layer.NUMBER.KEY, feature.KIND.KEY, device.KEY, person.KEY, activity.at, load.KEY, "
         "material.stiffness_factor")


@dataclass(frozen=True)
class Address:
    """A value of a case: ``parts`` of its name, and the schema's key for it."""

    text: str
    parts: tuple[str | int, ...]
    key: Key

    @property
    def of_device(self) -> bool:
        """Whether it is a value of one device."""
        return self.parts[0] in ("layer", "feature", "device")


def address(text: str, case: Case, device: Device | None) -> Address:
    """Return the address that a text names.

    Raises
    ------
    InputError
        Without file and key, when there is no such value in the case or the device.
    """
    first, *rest = text.split(".")
    groups = {"person": {k.name: k for k in schema.PERSON if k.name != "side"}, "device": _DEVICE,
              "activity": _ACTIVITY, "load": {k.name: k for k in LOAD},
              "material": {k.name: k for k in MATERIAL}}
    if first in ("device", "layer", "feature") and device is None:
        raise InputError("no device is named whose value this could be", value=text,
                         hint="name the device that is varied")
    if first in groups and len(rest) == 1:
        known = groups[first]
        if rest[0] not in known:
            raise unknown_name("value to vary", text, [f"{first}.{name}" for name in known])
        _refuse_measured_load(text, case)
        return Address(text, (first, rest[0]), known[rest[0]])
    if first == "layer" and len(rest) == 2:
        keys = {k.name: k for k in schema.LAYER}
        count = len(device.layers)
        if rest[0].isdecimal() and 1 <= int(rest[0]) <= count and rest[1] in keys:
            return Address(text, ("layer", int(rest[0]) - 1, rest[1]), keys[rest[1]])
        raise unknown_name("value to vary", text, [
            f"layer.{n}.{k}" for n in range(1, count + 1) for k in keys])
    if first == "feature" and len(rest) == 2:
        known = {f"feature.{entry.kind}.{key.name}": (number, key)
                 for number, entry in reversed(list(enumerate(device.features)))
                 for key in schema.feature_keys(FEATURES[entry.kind])}
        if text not in known:
            raise unknown_name("value to vary", text, known) if known else InputError(
                "the device has no feature", value=text,
                hint="add [[device.feature]] to it, with a value to start from")
        number, key = known[text]
        return Address(text, ("feature", number, key.name), key)
    raise InputError("this is not the name of a value to vary", value=text, allowed=FORMS,
                     hint="write one of these forms")


def _refuse_measured_load(text: str, case: Case) -> None:
    if case.activity.file and text in ("person.body_mass_kg", "person.length_mm"):
        raise InputError("the force-plate file was scaled with this value", value=text,
                         hint="vary load.vertical_factor instead")


def value_at(case: Case, device: Device | None, at: Address):
    """Return what stands at an address; for a factor or shift its neutral value."""
    match at.parts:
        case ("layer", int(number), str(name)):
            return getattr(device.layers[number], name)
        case ("feature", int(number), str(name)):
            return device.features[number].parameters[name]
        case ("device", str(name)):
            return getattr(device, name)
        case ("person", str(name)):
            return getattr(case.person, name)
        case ("activity", _):
            return case.activity.at
    return at.key.default


def applied(case: Case, device: Device | None, at: Address, value) -> tuple[Case, Device | None]:
    """Return case and device with another value at an address."""
    match at.parts:
        case ("layer", int(number), str(name)):
            layers = list(device.layers)
            layers[number] = replace(layers[number], **{name: value})
            return case, replace(device, layers=tuple(layers))
        case ("feature", int(number), str(name)):
            features = list(device.features)
            features[number] = replace(
                features[number], parameters={**features[number].parameters, name: value})
            return case, replace(device, features=tuple(features))
        case ("device", str(name)):
            return case, replace(device, **{name: value})
        case ("person", str(name)):
            return replace(case, person=replace(case.person, **{name: value})), device
        case ("activity", _):
            return replace(case, activity=replace(case.activity, at=value)), device
        case ("load", str(name)):
            return _loaded(case, name, value), device
    return _stiffened(case, value), device


def _loaded(case: Case, name: str, value: float) -> Case:
    """Return a case whose instants are changed; places and angles stay within the schema's range."""
    target, factor = {
        "vertical_factor": ("vertical_bodyweights", True),
        "fore_aft_factor": ("fore_aft_bodyweights", True),
        "pressure_centre_shift_percent": ("pressure_centre_percent", False),
        "shank_angle_shift_degrees": ("shank_angle_degrees", False)}[name]
    key, choice = _INSTANT[target], case.activity

    def changed(instant):
        old = getattr(instant, target)
        new = old * value if factor else old + value
        return replace(instant, **{target: min(max(new, key.low), key.high)})

    activity = replace(choice.activity, instants=tuple(map(changed, choice.activity.instants)))
    return replace(case, activity=replace(choice, activity=activity))


def _stiffened(case: Case, factor: float) -> Case:
    """Return a case in which every device material is so many times as stiff."""
    def scaled(name, constant):
        power = -1 if name.endswith("_per_MPa") else 1 if name.endswith("_MPa") else 0
        by = factor ** power
        return tuple(c * by for c in constant) if isinstance(constant, tuple) else constant * by

    own = dict(case.own_materials)
    for name in {layer.material for device in case.devices for layer in device.layers}:
        material = case.material(name)
        own[name] = replace(material, constants={
            n: scaled(n, c) for n, c in material.constants.items()})
    return replace(case, own_materials=own)

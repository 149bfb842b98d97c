"""Settings that are each fine and contradict each other."""

from __future__ import annotations

from collections.abc import Iterator

from ..device.features import FEATURES
from ..device.heel import DEEPEST_CUP_SHARE
from ..device.hollows import HEADS
from ..errors import InputError
from .schema import PERSON
from .tissues import TISSUES, tissues_of
from .values import Case

BARE_FOOT = "barefoot"
"""Name of the solve without a device; no device may take it."""
AXIS_ANGLES = tuple(key for key in PERSON if key.name in (
    "subtalar_axis_inclination_degrees", "subtalar_axis_deviation_degrees"))
"""What only the whole foot can use."""


def disagreements(case: Case) -> Iterator[InputError]:
    """Yield an error for each contradiction in an otherwise valid case."""
    for part in (_model, _person, _activity, _names, _materials, _scan, _features):
        for problem, key, details in part(case):
            yield InputError(problem, file=case.file, key=key, **details)


def _model(case):
    if case.model not in TISSUES[case.target].models:
        yield f"the {case.model} model does not hold this tissue", "target", {
            "value": case.target, "allowed": ", ".join(tissues_of(case.model)),
            "hint": f"write model = {TISSUES[case.target].models[0]!r}, or another target",
        }


    if case.model != "sagittal" and case.solver.fascia == "meshed":
        yield f"the {case.model} model holds the fascia only as cables", "solver.fascia", {
            "value": "meshed", "allowed": "'cable'", "hint": "leave it out, or use the sagittal model"}


def _person(case):
    person = case.person
    if case.model == "sagittal" and person.subtalar_axis_shift_mm != 0.0:
        yield "the sagittal model has no subtalar axis to shift", "person.subtalar_axis_shift_mm", {
            "value": person.subtalar_axis_shift_mm, "allowed": "0 mm",
            "hint": "leave it out, or use the rearfoot model or the whole foot"}
    for key in AXIS_ANGLES if case.model != "foot3d" else ():
        if getattr(person, key.name) != key.default:
            yield f"the {case.model} model has no subtalar axis to turn", f"person.{key.name}", {
                "value": getattr(person, key.name), "allowed": f"{key.default:g} {key.unit}",
                "hint": "leave it out, or write model = 'foot3d'"}
    if person.forefoot_width_mm <= person.heel_width_mm:
        yield "the forefoot is not wider than the heel", "person.forefoot_width_mm", {
            "value": person.forefoot_width_mm,
            "allowed": f"more than the heel's width, {person.heel_width_mm:g} mm",
            "hint": "check both widths"}


def _activity(case):
    try:
        case.activity.instants()
    except InputError as error:
        rows = case.activity.activity.instants
        allowed, hint = error.allowed, error.hint
        if len(rows) == 1:
            allowed = f"only {rows[0].stance_percent:g} percent, the one instant of this activity"
            hint = "leave at out"
        yield error.problem, error.key, {"value": error.value, "allowed": allowed, "hint": hint}


def _names(case):
    seen = {BARE_FOOT: "it is kept for the solve without a device"}
    for number, device in enumerate(case.devices, 1):
        key = f"device[{number}].name"
        if device.name in seen:
            yield f"this name is taken: {seen[device.name]}", key, {
                "value": device.name, "hint": "give each device its own name"}
        else:
            seen[device.name] = f"device[{number}] has it"


def _materials(case):
    tissue = case.person.plantar_tissue
    if case.material(tissue).kind != "tissue":
        yield "this material is not a tissue", "person.plantar_tissue", {
            "value": tissue, "hint": "choose a material whose kind is 'tissue'"}
    for number, device in enumerate(case.devices, 1):
        for row, layer in enumerate(device.layers, 1):
            if case.material(layer.material).kind != "device":
                yield "devices are not made of this", f"device[{number}].layer[{row}].material", {
                    "value": layer.material, "hint": "choose a material whose kind is 'device'"}


def _scan(case):
    starting = [device.name for device in case.devices if device.base == "scan"]
    for number, device in enumerate(case.devices, 1):
        if device.base == "scan" and case.scan is None:
            yield "there is no scan to start from", f"device[{number}].base", {
                "value": "scan", "hint": "add [scan] with its file and kind, or choose another base"}
    if case.scan is not None and case.scan.choice.kind == "device" and not starting:
        yield "no device starts from the scanned one", "scan.kind", {
            "value": "device", "hint": "write base = 'scan' in a device, or leave [scan] out"}


def _features(case):
    deepest = DEEPEST_CUP_SHARE * case.person.heel_width_mm
    for number, device in enumerate(case.devices, 1):
        for row, entry in enumerate(device.features, 1):
            kind, path = FEATURES[entry.kind], f"device[{number}].feature[{row}]"
            for need, has, name in ((kind.needs_base, device.base, "base"),
                                    (kind.needs_length, device.length, "length")):
                if need not in (None, has):
                    yield f"{kind.title} does nothing on a device with {name} = {has!r}", path, {
                        "hint": f"write {name} = {need!r} in the device, or leave the feature out"}
            if kind.needs_model not in (None, case.model):
                yield f"the {case.model} section does not meet this feature", path, {
                    "value": entry.kind,
                    "hint": f"write model = {kind.needs_model!r}, or leave the feature out"}
            if entry.kind == "relief":
                yield from _relief(case.model, device, entry, path)
            if entry.kind == "heel_cup" and entry.parameters["depth_mm"] > deepest:
                yield "the heel cup is deeper than the side of this heel", f"{path}.depth_mm", {
                    "value": entry.parameters["depth_mm"],
                    "allowed": f"up to {deepest:.1f} mm (0.33 of the heel's width)",
                    "hint": "make the cup shallower"}


def _relief(model, device, entry, path):
    place = entry.parameters["place"]
    met = {"sagittal": ("heel", HEADS[1]), "rearfoot": ("heel",)}.get(model)
    if met and place not in met:
        yield f"the {model} section does not meet a relief there", f"{path}.place", {
            "value": place, "allowed": " or ".join(map(repr, met)),
            "hint": "choose another place, or model = 'foot3d'"}
    if device.length != "full" and place in HEADS:
        yield "this device ends behind the metatarsal heads", f"{path}.place", {
            "value": place, "allowed": "'heel'", "hint": "write length = 'full' in the device"}

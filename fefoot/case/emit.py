"""Write a case back as TOML with every default filled in."""

from __future__ import annotations

from dataclasses import asdict

from ..material import Material
from ..scan.values import PLACES
from .cautions import cautions
from .emit_studies import study_tables
from .values import Case

_ESCAPES = {'"': '\\"', "\\": "\\\\", "\n": "\\n", "\t": "\\t", "\r": "\\r"}


def resolved_toml(case: Case, places: dict[str, str] | None = None) -> str:
    """Return the case as TOML; reading it gives the same ``Case`` to the last digit.

    ``places`` names files, by the path the case gives, that do not lie where the case says.
    """
    top = {name: getattr(case, name) for name in ("title", "expect", "model", "target")}
    choice = case.activity
    parts = [
        _remarks(case), _lines(top),
        _table("person", asdict(case.person) | ({"assumed": case.assumed} if case.assumed else {})),
        _table("activity", {"name": choice.activity.name, "at": choice.at}
               | ({"source": choice.activity.source} if choice.own else {})),
    ]
    if choice.own:
        parts += [_table("activity.instant", asdict(i), 2) for i in choice.activity.instants]
    if case.scan is not None:
        parts.append(_table("scan", _scan(case.scan.choice, places or {})))
    if case.measured_pressure is not None:
        parts.append(_table("measured_pressure", _pressure(case.measured_pressure, places or {})))
    for device in case.devices:
        names = ("name", "title", "length", "base", "underside")
        parts.append(_table("device", {name: getattr(device, name) for name in names}, 2))
        parts += [_table("device.layer", asdict(layer), 2) for layer in device.layers]
        parts += [
            _table("device.feature", {"kind": entry.kind, **entry.parameters}, 2)
            for entry in device.features
        ]
    for name, material in case.own_materials.items():
        parts.append(_table(f"material.{_key(name)}", _material(material)))
        parts.append(_table(f"material.{_key(name)}.constants", material.constants))
    parts.append(_table("solver", asdict(case.solver)))
    parts += [_table(name, values, brackets)
              for name, brackets, values in study_tables(case.studies)]
    return "\n".join(parts)


def _remarks(case: Case) -> str:
    return "# The case with every default filled in.\n" + "".join(
        f"# Caution: {sentence}.\n" for sentence in cautions(case))


def _pressure(given, places: dict[str, str]) -> dict:
    choice = given.choice
    values = {"file": places.get(choice.file, choice.file), "spacing_mm": choice.spacing_mm,
              "condition": choice.condition, "stance_percent": given.stance_percent,
              "seen_from": choice.seen_from}
    if choice.mask_file:
        values["mask_file"] = places.get(choice.mask_file, choice.mask_file)
    return values | dict(zip(PLACES, choice.landmarks or (), strict=False))


def _scan(choice, places: dict[str, str]) -> dict:
    values = {"file": places.get(choice.file, choice.file), "kind": choice.kind, "unit": choice.unit,
              "align": choice.align}
    return values | dict(zip(PLACES, choice.landmarks or (), strict=False))


def _material(material: Material) -> dict:
    values = {
        "law": material.law.name, "kind": material.kind, "title": material.title,
        "stretch_range": material.stretch_range, "source": material.source,
        "flag": material.flag,
    }
    if material.density_kg_per_m3 is not None:
        values["density_kg_per_m3"] = material.density_kg_per_m3
    return values


def _table(name: str, values: dict, brackets: int = 1) -> str:
    return "[" * brackets + name + "]" * brackets + "\n" + _lines(values)


def _lines(values: dict) -> str:
    return "".join(f"{_key(name)} = {toml_value(value)}\n" for name, value in values.items())


def _key(name: str) -> str:
    bare = name.isascii() and name.replace("_", "").replace("-", "").isalnum()
    return name if bare else toml_value(name)


def toml_value(value) -> str:
    """Return a value as TOML, on one line."""
    if isinstance(value, str):
        text = "".join(
            _ESCAPES.get(c, c if c.isprintable() else f"\\U{ord(c):08x}") for c in value
        )
        return f'"{text}"'
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(toml_value, value)) + "]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(k)} = {toml_value(v)}" for k, v in value.items()) + " }"
    return repr(value)

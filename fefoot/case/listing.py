"""The tables of the software as text: tissues, materials, features, activities, settings."""

from __future__ import annotations

from collections.abc import Iterator

from ..device.features import FEATURES
from ..load.activity import activities
from ..load.force_plate import columns_text
from ..material import LAWS, materials
from .schema import ASSUMED, REQUIRED, SECTIONS, feature_keys
from .tissues import TISSUES
from .toml_mistakes import LISTS as TABLE_LISTS


def tissues() -> Iterator[str]:
    """Yield each tissue: name, title, models, quantities."""
    for name, tissue in TISSUES.items():
        yield f"{name}: {tissue.title}"
        yield f"    models: {', '.join(tissue.models)}"
        yield f"    computed: {', '.join(tissue.quantities)}"


def material_table() -> Iterator[str]:
    """Yield each shipped material with its constants, range and source, then the laws."""
    for name, material in materials().items():
        shear, bulk = material.moduli()
        low, high = material.stretch_range
        units = {constant.name: constant.unit for constant in material.law.constants}
        yield f"{name}: {material.title} ({material.kind})"
        yield f"    law {material.law.name}: " + ", ".join(
            f"{n} = {_plain(v)}" + ("" if units[n] == "-" else f" [{units[n]}]")
            for n, v in material.constants.items()
        )
        yield f"    at rest: shear modulus {shear:.4g} MPa, bulk modulus {bulk:.4g} MPa"
        yield f"    stretch {low:g} to {high:g}"
        yield f"    source ({material.flag}): {material.source}"
    yield ""
    yield "Laws for your own materials (the list of settings shows a whole one, [material.NAME]):"
    for name, law in LAWS.items():
        yield f"{name}: {law.doc}"
        for constant in law.constants:
            yield f"    {constant.name}: {constant.doc}; {constant.allowed}"


def features() -> Iterator[str]:
    """Yield each kind of feature with its parameters."""
    for name, kind in FEATURES.items():
        needs = [f"{key} = {need!r}" for key, need in
                 (("base", kind.needs_base), ("length", kind.needs_length),
                  ("model", kind.needs_model)) if need]
        yield f"{name}: {kind.title}" + (f" (needs {' and '.join(needs)})" if needs else "")
        yield from _keys(feature_keys(kind))


def activity_table() -> Iterator[str]:
    """Yield each shipped activity with its instants and source."""
    for name, activity in activities().items():
        yield f"{name}: {activity.title}"
        yield ("    stance [percent], vertical and fore-aft [body weights], centre of pressure "
               "[percent of length], shank [degrees]")
        for i in activity.instants:
            yield (f"    {i.stance_percent:5.0f} {i.vertical_bodyweights:6.2f} "
                   f"{i.fore_aft_bodyweights:6.2f} {i.pressure_centre_percent:6.1f} "
                   f"{i.shank_angle_degrees:6.1f}")
        yield f"    source ({activity.flag}): {activity.source}"
    yield ""
    yield from columns_text()


def settings() -> Iterator[str]:
    """Yield every key of a case file, by table."""
    from .own_materials import key_lines

    for table, keys in SECTIONS.items():
        yield (f"[[{table}]]" if table in TABLE_LISTS else f"[{table}]") if table else "at the top"
        yield from _keys((*keys, ASSUMED) if table == "person" else keys)
    yield "[[device.feature]]"
    yield "    kind: see the list of features"
    yield "[material.NAME]"
    yield from key_lines()
    yield from _studies()


LISTS = {
    "tissues": tissues, "materials": material_table, "features": features,
    "activities": activity_table, "settings": settings,
}
"""What can be listed, by the word that asks for it."""


def _studies() -> Iterator[str]:
    from .address import FORMS, LOAD, MATERIAL
    from .studies import TABLES

    for table, keys in TABLES.items():
        yield f"[[{table}]]" if "." in table else f"[{table}]"
        yield from _keys(keys)
        if table in ("sweep.vary", "certainty.unknown"):
            yield "    among: a list of values, instead of from and to"
    yield "[[sweep.exclude]]"
    yield "    NAME of a varied value: a value, a list of values, or { below = 3, above = 1 }"
    yield "        the combinations for which every line of the table holds are left out"
    yield f"what of can name: {FORMS}"
    for group, keys in (("load", LOAD), ("material", MATERIAL)):
        for key in keys:
            yield f"    {group}.{key.name}: {key.doc}"
            yield f"        {key.allowed}"


def _keys(keys) -> Iterator[str]:
    for key in keys:
        default = ("must be given" if key.default is REQUIRED else "may be left out"
                   if key.default in ((), None) else f"default {_plain(key.default)}")
        yield f"    {key.name}: {key.doc}"
        yield f"        {key.allowed}; {default}"


def _plain(value) -> str:
    if isinstance(value, list | tuple):
        return "[" + ", ".join(map(_plain, value)) + "]"
    return f"{value:g}" if isinstance(value, float) else repr(value)

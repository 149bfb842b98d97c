"""Read the materials that a case file defines itself."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from ..errors import InputError, unknown_name
from ..material import LAWS, Material, materials, user_material
from ..material import table as shipped
from .check import Mistakes, is_name, shown
from .emit import toml_value
from .schema import GIVEN

FLAGS = (GIVEN, "measured", *shipped.FLAGS)
"""How sure the constants of an own material are; the first is the default."""
NO_SOURCE = "no source stated"
EXAMPLE = """\
[material.shelf_foam]
law = "foam"
constants = { mu_MPa = [0.8], alpha = [6.0], nu = 0.1 }
stretch_range = [0.5, 1.2]
source = "compression test of the workshop"
flag = "measured"
"""
"""A whole own material, as it stands in a case file."""


def own_materials(given: dict, mistakes: Mistakes) -> dict[str, Material]:
    """Return the materials of a case file by name; mistakes are noted."""
    own = {}
    for name, entry in given.items():
        key = f"material.{shown(name)}"
        if not is_name(name):
            mistakes.add("this cannot be the name of a material", key,
                         allowed="1 to 40 letters, digits, '_' or '-'",
                         hint="write such a name in the heading, and the words as its title")
            continue
        if name in materials():
            mistakes.add("a shipped material has this name", key, hint="choose another name")
            continue
        with mistakes.noted():
            try:
                own[name] = _material(entry, mistakes.file, key)
            except (OverflowError, ArithmeticError):
                mistakes.add("a constant is too large to compute with", key,
                             hint="check the numbers")
    return own


def _material(entry: object, file: str, key: str) -> Material:
    if not isinstance(entry, dict):
        return user_material(entry, file, key)
    _refuse_loose_constants(entry, file, key)
    flag = entry.get("flag", GIVEN)
    if flag not in FLAGS:
        raise unknown_name("flag", flag, FLAGS, file=file, key=f"{key}.flag")
    rest = {name: value for name, value in entry.items() if name != "flag"}
    return replace(user_material({"source": NO_SOURCE, **rest}, file, key), flag=flag)


def _refuse_loose_constants(entry: dict, file: str, key: str) -> None:
    """Refuse constants of the law that stand beside the law instead of in ``constants``."""
    law = entry.get("law")
    laws = [LAWS[law]] if isinstance(law, str) and law in LAWS else LAWS.values()
    known = {constant.name for law in laws for constant in law.constants}
    loose = {name: value for name, value in entry.items() if name in known}
    if not loose:
        return
    inside = entry.get("constants")
    together = toml_value((inside if isinstance(inside, dict) else {}) | loose)
    raise InputError(
        "constants of the law stand beside it", file=file, key=f"{key}.{next(iter(loose))}",
        value=next(iter(loose.values())), allowed="law, constants = { ... } and the optional keys",
        hint=f"write constants = {together}" if len(together) < 200 else
        "write them as constants = { ... }")


def key_lines() -> Iterator[str]:
    """Yield the keys of an own material, with an example of a whole one."""
    numbers = ("two numbers, 0 < first < 1 < second; default [0.5, 1.5]",
               "a number above 0 kg/m3; may be left out")
    for name, doc, allowed in (
            ("law", "which law", f"{', '.join(map(repr, LAWS))}; must be given"),
            ("constants", "the law's constants, as the list of materials names them",
             "{ NAME = number, ... }, on one line; must be given"),
            ("stretch_range", "principal stretches the constants are meant for", numbers[0]),
            ("density_kg_per_m3", "density", numbers[1]),
            ("kind", "what it can be used for",
             f"{', '.join(map(repr, shipped.KINDS))}; default 'device'"),
            ("title", "what it is, in plain words", "words in quotes; default its name"),
            ("source", "where the constants come from", f"words in quotes; default {NO_SOURCE!r}"),
            ("flag", "how sure they are", f"{', '.join(map(repr, FLAGS))}; default {GIVEN!r}")):
        yield f"    {name}: {doc}"
        yield f"        {allowed}"
    yield "    an example:"
    yield from (f"        {line}" for line in EXAMPLE.splitlines())

"""Check what stands in a TOML table against the schema, collecting every mistake."""

from __future__ import annotations

import math
import re
from contextlib import contextmanager

from ..device.features import FEATURES
from ..errors import InputError, nearest, unknown_name
from . import everyday
from .schema import REQUIRED, SECTIONS, Key
from .toml_mistakes import LISTS

_COORDINATE = Key("coordinate", "number", "", low=-1e6, high=1e6)
_NAME = re.compile(r"[A-Za-z0-9_-]{1,40}")


def is_name(text: str) -> bool:
    """Say whether a text is short and safe for a table, a file name and a bare TOML key."""
    return _NAME.fullmatch(text) is not None


def shown(name: str) -> str:
    """Return a key as it can be shown in a message: short, without control signs."""
    text = "".join(c if c.isprintable() else "?" for c in name)
    return text if len(text) <= 60 else text[:57] + "..."


class Mistakes:
    """The mistakes found in one file, in the order they were found."""

    def __init__(self, file: str):
        self.file = file
        self.found: list[InputError] = []

    def add(self, problem: str, key: str, **details) -> None:
        """Note one mistake at a key."""
        self.found.append(InputError(problem, file=self.file, key=key, **details))

    @contextmanager
    def noted(self):
        """Note an InputError raised inside the block instead of letting it through."""
        try:
            yield
        except InputError as error:
            self.found.append(error)

    def raise_first(self) -> None:
        """Raise the first mistake with one further line for each other; nothing if none."""
        if not self.found:
            return
        first, others = self.found[0], self.found[1:]
        if others:
            lines = [f"  {len(others)} more:"]
            lines += [f"    {other.key or other.file}: {other.problem}" for other in others[:8]]
            lines += ["    ..."] if len(others) > 8 else []
            first.args = ("\n".join([str(first), *lines]),)
        raise first


def read_keys(table, keys: tuple[Key, ...], path: str, materials, mistakes: Mistakes) -> dict:
    """Return the value of every key in a table, defaults filled in.

    A wrong value is noted in ``mistakes`` and stands as ``None``. Keys that the schema does not
    know are not looked at here; see ``unknown_keys``.
    """
    values = {}
    for key in keys:
        place = f"{path}.{key.name}" if path else key.name
        if key.name in table:
            values[key.name] = read_value(table[key.name], key, place, materials, mistakes)
        elif key.default is REQUIRED:
            mistakes.add(f"{key.name} is missing", place, allowed=key.allowed,
                         hint=f"add {key.name}: {key.doc}")
            values[key.name] = None
        else:
            values[key.name] = key.default
    return values


def unknown_keys(table: dict, known, path: str, mistakes: Mistakes) -> None:
    """Note every key of a table that is not known, with the nearest known one."""
    for name in table:
        if name not in known:
            place = f"{path}.{shown(name)}" if path else shown(name)
            mistakes.found.append(_misplaced(name, known, place, mistakes.file) or unknown_name(
                "key", name, known, file=mistakes.file, key=place, everyday=everyday.KEYS))


def _misplaced(name: str, known, place: str, file: str) -> InputError | None:
    """Return the error for a key that another table knows by this very name, or None."""
    owners = [where for where, keys in SECTIONS.items() if any(key.name == name for key in keys)]
    if ".feature[" not in place and any(
            p.name == name for kind in FEATURES.values() for p in kind.parameters):
        owners.append("device.feature")
    if not owners:
        return None
    tables = [f"[[{o}]]" if o in LISTS else f"[{o}]" if o else "the top of the file" for o in owners]
    meant = nearest(name, known, everyday.KEYS)
    return InputError(f"{name} stands in the wrong table", file=file, key=place,
                      allowed=f"here: {', '.join(sorted(map(str, known)))}",
                      hint=f"move it to {' or '.join(tables)}" + (
                          f", or write {meant!r}" if meant else ""))


def read_value(value, key: Key, place: str, materials, mistakes: Mistakes):
    """Return one value in the type its key asks for, or note the mistake and return ``None``."""
    problem = hint = None
    if key.kind == "instant":
        if value in ("peak", "all"):
            return value
        percent = Key(key.name, "number", key.doc, unit="percent of stance", low=0, high=100)
        problem, hint = _number_problem(value, percent)
        if problem is None:
            return float(value)
    elif key.kind in ("number", "integer"):
        problem, hint = _number_problem(value, key)
        if problem is None:
            return int(value) if key.kind == "integer" else float(value)
    elif key.kind in ("point", "pair"):
        count, words = (3, "three") if key.kind == "point" else (2, "two")
        if isinstance(value, list) and len(value) == count and not any(
                _number_problem(v, _COORDINATE)[0] for v in value):
            return tuple(float(v) for v in value)
        problem, hint = "this is not a point", f"write its {words} coordinates in brackets"
    elif key.kind == "choices":
        if isinstance(value, list) and all(item in key.choices for item in value):
            return tuple(name for name in key.choices if name in value)
        problem, hint = "this is not such a list", "write the names in quotes, in square brackets"
    elif not isinstance(value, str):
        problem, hint = "text is needed here", "write it in quotes"
    elif key.kind == "text":
        if not all(character.isprintable() for character in value) or len(value) > 500:
            problem, hint = "this is not one line of words", "keep it short, without control signs"
    elif key.kind == "name":
        if not is_name(value):
            problem, hint = "this cannot be a name", "keep the words for the title"
    elif value not in (known := key.choices if key.kind == "choice" else materials):
        mistakes.found.append(unknown_name(
            _noun(key), value, filter(is_name, known), file=mistakes.file, key=place,
            everyday=everyday.WORDS))
        return None
    if problem is None:
        return value
    mistakes.add(problem, place, value=value, allowed=key.allowed, hint=hint)
    return None


def _noun(key: Key) -> str:
    return {"target": "tissue", "kind": "feature"}.get(
        key.name, "material" if key.kind == "material" else key.name
    )


def _number_problem(value, key: Key):
    if isinstance(value, bool) or not isinstance(value, int | float):
        unit = f" without its unit ({key.unit})" if key.unit and isinstance(value, str) else ""
        return "a number is needed here", f"write the number{unit}, without quotes"
    if isinstance(value, float) and not math.isfinite(value):
        return "this is not a finite number", "write a number in the range"
    if key.kind == "integer" and isinstance(value, float):
        return "a whole number is needed here", "leave out the decimal point"
    if not key.low <= value <= key.high:
        unit = f" in {key.unit}" if key.unit else ""
        return "value out of range", everyday.other_unit(value, key) or (
            f"check the number and that it is{unit or ' meant'}")
    return None, None


def tables(value, path: str, mistakes: Mistakes) -> list[dict]:
    """Return an array of tables, or note that it is none and return an empty list."""
    if isinstance(value, list) and all(isinstance(item, dict) for item in value):
        return value
    name, single = re.sub(r"\[\d+\]", "", path), isinstance(value, dict)
    mistakes.add(f"[{name}] is one table where a list of tables is wanted" if single
                 else "this is a list of tables", path, value=None if single else value,
                 hint=f"head each one with [[{name}]], also where there is only one")
    return []


def table(value, path: str, mistakes: Mistakes) -> dict:
    """Return a table, or note that it is none and return an empty one."""
    if isinstance(value, dict):
        return value
    mistakes.add("this is a table", path, value=value, hint=f"head it with [{path}]")
    return {}

"""Materials by name: the shipped table, and the ones a user writes into a case file."""

from __future__ import annotations

import functools
import tomllib
from dataclasses import dataclass
from importlib import resources

import numpy as np

from ..errors import InputError, nearest, unknown_name
from .laws import LAWS, Constant, Law

KINDS = ("tissue", "device", "bone")
FLAGS = ("read", "recalled", "computed", "common practice, no source")
_KEYS = (
    "law", "constants", "stretch_range", "density_kg_per_m3", "kind", "title", "source", "flag",
)


@dataclass(frozen=True)
class Material:
    """A law with its constants, range of validity and source.

    Attributes
    ----------
    name, title : str
        Short name and plain words.
    law : Law
    constants : dict
        Name to number, or to a tuple of numbers.
    stretch_range : (float, float)
        Principal stretches the constants are meant for.
    density_kg_per_m3 : float or None
    kind : {"tissue", "device", "bone"}
    source : str
    flag : {"read", "recalled", "computed", "common practice, no source"}
        How sure the constants are.
    """

    name: str
    law: Law
    constants: dict
    stretch_range: tuple[float, float]
    density_kg_per_m3: float | None
    kind: str
    title: str
    source: str
    flag: str

    def response(self, C: np.ndarray, fibre: np.ndarray | None = None, tangent: bool = True):
        """Return W (n,), S (6, n), D (6, 6, n) or ``None``, in MPa, for C (6, n); see `Law`."""
        return self.law.response(C, self.constants, fibre, tangent)

    def moduli(self) -> tuple[float, float]:
        """Return the initial (shear, bulk) moduli in MPa."""
        return self.law.moduli(self.constants)


@functools.cache
def materials() -> dict[str, Material]:
    """Return the shipped materials by name."""
    file = resources.files(__package__).joinpath("table.toml")
    entries = tomllib.loads(file.read_text(encoding="utf-8"))
    return {name: user_material(entry, file.name, name) for name, entry in entries.items()}


def material(name: str, **where) -> Material:
    """Return a shipped material; ``where`` (file, key) is quoted in the error for a wrong name."""
    try:
        return materials()[name]
    except (KeyError, TypeError):
        raise unknown_name("material", name, materials(), **where) from None


def user_material(entry: dict, file: str, key: str) -> Material:
    """Build a material from a table of a case file; raises InputError for anything amiss.

    Keys: ``law`` and ``constants`` (a table) must be there; ``stretch_range``,
    ``density_kg_per_m3``, ``kind``, ``title``, ``source`` and ``flag`` may be.
    """
    if not isinstance(entry, dict):
        raise InputError("a material is a table", file=file, key=key, value=entry,
                         allowed="law, constants and the optional keys " + ", ".join(_KEYS[2:]),
                         hint="write the name of a shipped material, or a table")
    for name in entry:
        if name not in _KEYS:
            raise unknown_name("material key", name, _KEYS, file=file, key=f"{key}.{name}")
    for name in ("law", "constants"):
        if name not in entry:
            raise InputError(f"{name} is missing", file=file, key=f"{key}.{name}",
                             hint=f"add {name}")
    if not isinstance(entry["law"], str) or entry["law"] not in LAWS:
        raise unknown_name("law", entry["law"], LAWS, file=file, key=f"{key}.law")
    law = LAWS[entry["law"]]
    name = str(key).rsplit(".", 1)[-1]
    return Material(
        name, law, _constants(entry["constants"], law, file, f"{key}.constants"),
        _stretch_range(entry.get("stretch_range", (0.5, 1.5)), file, f"{key}.stretch_range"),
        _density(entry.get("density_kg_per_m3"), file, f"{key}.density_kg_per_m3"),
        _one_of(entry.get("kind", "device"), KINDS, "kind", file, f"{key}.kind"),
        _text(entry.get("title", name), file, f"{key}.title"),
        _text(entry.get("source", "given in the case file"), file, f"{key}.source"),
        _one_of(entry.get("flag", FLAGS[-1]), FLAGS, "flag", file, f"{key}.flag"),
    )


def _constants(given: object, law: Law, file: str, key: str) -> dict:
    known = {constant.name: constant for constant in law.constants}
    if not isinstance(given, dict):
        raise InputError("constants is a table", file=file, key=key, value=given,
                         allowed=", ".join(known))
    for name in given:
        if name not in known:
            raise unknown_name(f"constant of the law {law.name}", name, known, file=file,
                               key=f"{key}.{name}")
    for name, constant in known.items():
        if name not in given:
            close = nearest(name, [n for n in given if n not in known])
            raise InputError(f"the law {law.name} needs {name}", file=file, key=f"{key}.{name}",
                             allowed=constant.allowed, hint=f"rename {close!r}" if close else
                             f"add {name}: {constant.doc}")
    values = {n: _value(given[n], c, file, f"{key}.{n}") for n, c in known.items()}
    lists = [n for n, c in known.items() if c.is_list]
    if len({len(values[n]) for n in lists}) > 1:
        raise InputError(f"{' and '.join(lists)} differ in length", file=file, key=key,
                         value={n: len(values[n]) for n in lists}, allowed="one number per term")
    shear = law.moduli(values)[0]
    if not shear > 0:
        raise InputError("the initial shear modulus is not positive", file=file, key=key,
                         value=shear, allowed="above 0 MPa", hint="check the constants")
    return values


def _value(value: object, constant: Constant, file: str, key: str):
    items = value if constant.is_list and isinstance(value, list | tuple) else [value]
    wrong_shape = constant.is_list != isinstance(value, list | tuple) or not items
    if wrong_shape or not all(constant.accepts(item) for item in items):
        hint = None
        if constant.name.startswith("nu") and value == 0.5:
            hint = "use 0.49: the elements are displacement-only"
        raise InputError(f"{constant.doc} cannot be this", file=file, key=key, value=value,
                         allowed=constant.allowed, hint=hint)
    numbers = tuple(float(item) for item in items)
    return numbers if constant.is_list else numbers[0]


def _stretch_range(value: object, file: str, key: str) -> tuple[float, float]:
    numbers = isinstance(value, list | tuple) and len(value) == 2 and all(
        isinstance(v, int | float) and not isinstance(v, bool) for v in value)
    if not numbers or not 0 < value[0] < 1 < value[1] < np.inf:
        raise InputError("a stretch range goes from compression to tension", file=file, key=key,
                         value=value, allowed="two numbers, 0 < first < 1 < second")
    return float(value[0]), float(value[1])


def _density(value: object, file: str, key: str) -> float | None:
    if value is None:
        return None
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < np.inf:
        raise InputError("density must be positive", file=file, key=key, value=value,
                         allowed="a number above 0 [kg/m3]")
    return float(value)


def _text(value: object, file: str, key: str) -> str:
    if not isinstance(value, str):
        raise InputError("this is plain text", file=file, key=key, value=value,
                         allowed="text in quotes")
    return value


def _one_of(value: object, known: tuple[str, ...], what: str, file: str, key: str) -> str:
    if value not in known:
        raise unknown_name(what, value, known, file=file, key=key)
    return value

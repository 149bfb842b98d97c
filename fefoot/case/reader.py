"""Read a case file: TOML in, a checked ``Case`` or one clear error out."""

from __future__ import annotations

import os
import tomllib
from dataclasses import replace
from pathlib import Path

from ..device.device import Device, Feature, Layer
from ..device.features import FEATURES
from ..errors import InputError
from ..material import materials
from . import schema
from .activity import read_activity
from .agree import disagreements
from .check import Mistakes, read_keys, read_value, table, tables, unknown_keys
from .own_materials import own_materials
from .pressure import read_pressure
from .read_studies import TABLES as STUDIES
from .read_studies import read_studies
from .scan import read_scan
from .toml_mistakes import not_toml, shown_line
from .values import Case, Person, Solver

LARGEST_BYTES = 1_000_000
LARGEST_BITS = 63
DEEPEST = 12


def read_case(path: str | os.PathLike) -> Case:
    """Read and check a case file.

    Raises
    ------
    InputError
        For the first mistake found, with one further line for each other: a file that cannot be
        read, text that is not TOML, an unknown key or name, a wrong type, a value out of range,
        or settings that contradict each other.
    """
    return case_from_dict(_parsed(Path(path)), str(path))


def case_from_dict(given: dict, file: str = "case") -> Case:
    """Check a case given as nested dicts, as ``tomllib`` would return them; see `read_case`."""
    mistakes = Mistakes(file)
    groups = ("person", "activity", "scan", "measured_pressure", "device", "material", "solver",
              *STUDIES)
    unknown_keys(given, [*(k.name for k in schema.CASE), *groups], "", mistakes)
    tables_of_own = table(given.get("material", {}), "material", mistakes)
    own = own_materials(tables_of_own, mistakes)
    names = [*tables_of_own, *materials()]

    def values(source, keys, path):
        return read_keys(source, keys, path, names, mistakes)

    top = values(given, schema.CASE, "")
    written = table(given.get("person", {}), "person", mistakes)
    unknown_keys(written, [k.name for k in (*schema.PERSON, schema.ASSUMED)], "person", mistakes)
    person = Person(**values(written, schema.PERSON, "person"))
    scan, person = read_scan(
        table(given["scan"], "scan", mistakes) if "scan" in given else None, person, written, mistakes)
    assumed = _assumed(written, scan, mistakes)
    choice = read_activity(
        table(given.get("activity", {}), "activity", mistakes), person, mistakes)
    devices = tuple(
        _device(entry, f"device[{number}]", values, scan, mistakes)
        for number, entry in enumerate(tables(given.get("device", []), "device", mistakes), 1)
    )
    case = Case(
        **top, person=person, activity=choice, devices=devices, own_materials=own,
        solver=_solver(table(given.get("solver", {}), "solver", mistakes), top["model"], mistakes),
        scan=scan, assumed=assumed, file=file,
    )
    if not mistakes.found:
        mistakes.found.extend(disagreements(case))
    if not mistakes.found:
        case = replace(case, studies=read_studies(given, case, names, mistakes))
        case = replace(case, measured_pressure=read_pressure(
            table(given["measured_pressure"], "measured_pressure", mistakes)
            if "measured_pressure" in given else None, case, mistakes))
    mistakes.raise_first()
    return case


def _parsed(path: Path) -> dict:
    file = str(path)
    try:
        if path.is_dir():
            raise InputError("this is a folder, not a case file", file=file,
                             hint="give the path of a .toml file")
        if path.exists() and not path.is_file():
            raise InputError("this is not a plain file", file=file)
        with path.open("rb") as stream:
            data = stream.read(LARGEST_BYTES + 1)
    except FileNotFoundError:
        raise InputError("there is no such file", file=file, hint="check the path") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise InputError(f"the file cannot be read ({reason})", file=file) from None
    if len(data) > LARGEST_BYTES:
        raise InputError("the file is too large for a case file", file=file,
                         allowed=f"up to {LARGEST_BYTES} bytes")
    try:
        text = data.decode("utf-8-sig").replace("\r\n", "\n")
        given = tomllib.loads(text)
    except UnicodeDecodeError as error:
        number = data[: error.start].count(b"\n") + 1
        line = shown_line(data.split(b"\n")[number - 1].decode("utf-8", "replace"))
        raise InputError(f"line {number} is not UTF-8 text", file=file, line=(number, line),
                         hint="save the file as plain text in UTF-8") from None
    except RecursionError:
        raise InputError("brackets are nested too deeply", file=file) from None
    except ValueError as error:
        raise not_toml(text, error, file) from None
    _refuse_extremes(given, file)
    return given


def _refuse_extremes(given, file: str, depth: int = 0) -> None:
    """Refuse nesting and whole numbers beyond anything a case holds, before they are shown."""
    if depth > DEEPEST:
        raise InputError("tables are nested too deeply", file=file, allowed=f"{DEEPEST} levels")
    if isinstance(given, int) and given.bit_length() > LARGEST_BITS:
        raise InputError("a whole number is too large", file=file, allowed="below 1e19",
                         hint="check the numbers")
    for item in given.values() if isinstance(given, dict) else given if isinstance(
            given, list) else ():
        _refuse_extremes(item, file, depth + 1)


def _assumed(written: dict, scan, mistakes: Mistakes) -> tuple[str, ...]:
    """Return the dimensions that nobody measured: not written and not scanned, or said to be so."""
    said = read_value(written["assumed"], schema.ASSUMED, "person.assumed", (), mistakes) or () \
        if "assumed" in written else ()
    known = {*written, *(scan.used if scan is not None else ())}
    return tuple(n for n in schema.DIMENSIONS if n not in known or (n in said and n in written))


def _solver(given: dict, model: str | None, mistakes: Mistakes) -> Solver:
    keys = schema.solver_keys(model)
    unknown_keys(given, [key.name for key in keys], "solver", mistakes)
    return Solver(**read_keys(given, keys, "solver", (), mistakes))


def _device(given: dict, path: str, values, scan, mistakes: Mistakes) -> Device:
    keys = [key.name for key in schema.DEVICE]
    unknown_keys(given, [*keys, "layer", "feature"], path, mistakes)
    parts = values(given, schema.DEVICE, path)
    layers = []
    rows = tables(given.get("layer", []), f"{path}.layer", mistakes)
    for number, row in enumerate(rows, 1):
        place = f"{path}.layer[{number}]"
        unknown_keys(row, [key.name for key in schema.LAYER], place, mistakes)
        layers.append(Layer(**values(row, schema.LAYER, place)))
    if not given.get("layer"):
        mistakes.add("a device needs a layer", f"{path}.layer",
                     hint="add [[device.layer]] with material and thickness_mm")
    features = [
        _feature(row, f"{path}.feature[{number}]", values, mistakes)
        for number, row in enumerate(
            tables(given.get("feature", []), f"{path}.feature", mistakes), 1)
    ]
    surface = scan.grid if scan and parts["base"] == "scan" else None
    return Device(**parts, layers=tuple(layers), features=tuple(features), surface=surface)


def _feature(given: dict, path: str, values, mistakes: Mistakes) -> Feature:
    kind = values(given, (schema.FEATURE_KIND,), path)["kind"]
    if kind is None:
        return Feature("", {})
    keys = schema.feature_keys(FEATURES[kind])
    unknown_keys(given, ["kind", *(key.name for key in keys)], path, mistakes)
    return Feature(kind, values(given, keys, path))

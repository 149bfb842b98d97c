"""What a run folder keeps of the comparisons, so that its page can be built again without solving.

``outcomes.json`` holds names, measures, checks and costs as plain values to the last digit;
``pictures.npz`` holds the arrays of the pictures. The Newton history stands in ``history.csv``.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path

import numpy as np

from .. import __version__
from ..case.values import Case
from ..errors import InputError
from ..outcome.comparison import compare_outcomes
from ..outcome.scene import ARRAYS as SURFACES
from ..outcome.scene import Scene
from ..outcome.values import Check, Comparison, Measure, Outcome, Picture

OUTCOMES, PICTURES = "outcomes.json", "pictures.npz"
FORMAT = 1
"""Grows when a reader of the former format would misread the files."""
_ARRAYS = ("points", "cells", "is_device", "stress_kPa")


def plain(value):
    """Return a NumPy number as the Python number it is, for JSON."""
    if isinstance(value, np.generic):
        return value.item()
    raise TypeError(f"{type(value).__name__} is no plain value")


def keep(folder: Path, case: Case, comparisons) -> None:
    """Write both files into a folder."""
    arrays: dict[str, np.ndarray] = {}
    instants = [[_outcome(o, f"{i}.{j}", arrays) for j, o in enumerate(c.outcomes)]
                for i, c in enumerate(comparisons)]
    scan = None if case.scan is None else {"facts": case.scan.facts, "used": case.scan.used}
    record = {"format": FORMAT, "fefoot": __version__, "scan": scan, "instants": instants}
    (folder / OUTCOMES).write_text(json.dumps(record, indent=1, default=plain) + "\n",
                                   encoding="utf-8")
    with open(folder / PICTURES, "wb") as handle:
        np.savez_compressed(handle, **arrays)


def _outcome(outcome: Outcome, name: str, arrays: dict) -> dict:
    return {
        "name": outcome.name, "title": outcome.title, "stance_percent": outcome.stance_percent,
        "failure": outcome.failure, "measures": [asdict(m) for m in outcome.measures],
        "checks": [asdict(c) for c in outcome.checks], "cost": outcome.cost,
        "picture": None if outcome.picture is None else _picture(outcome.picture, name, arrays),
    }


def _picture(picture: Picture, name: str, arrays: dict) -> dict:
    """Return the plain part of a picture; its arrays are added under names that begin with ``name``."""
    arrays |= {f"{name}.{key}": getattr(picture, key) for key in _ARRAYS}
    arrays |= {f"{name}.bone.{k}": line for k, line in enumerate(picture.bones.values())}
    for k, (path, _) in enumerate(picture.cables.values()):
        arrays[f"{name}.cable.{k}"] = path
    for k, (place, pressure) in enumerate(picture.contacts.values()):
        arrays[f"{name}.place.{k}"], arrays[f"{name}.pressure.{k}"] = place, pressure
    return {
        "name": name, "view": picture.view, "ground_y_mm": picture.ground_y_mm,
        "centre_of_pressure_mm": picture.centre_of_pressure_mm, "bones": list(picture.bones),
        "cables": [[cable, tension] for cable, (_, tension) in picture.cables.items()],
        "contacts": list(picture.contacts),
        "scene": None if picture.scene is None else _scene(picture.scene, f"{name}.scene", arrays),
    }


def _scene(scene: Scene, name: str, arrays: dict) -> dict:
    arrays |= {f"{name}.{key}": getattr(scene, key) for key in SURFACES}
    arrays |= {f"{name}.cable.{k}": path for k, (path, _) in enumerate(scene.cables.values())}
    return {"ground_y_mm": scene.ground_y_mm,
            "cables": [[cable, tension] for cable, (_, tension) in scene.cables.items()]}


def kept(folder: Path, target: str) -> tuple[tuple[Comparison, ...], dict | None]:
    """Return the comparisons of a run folder, without history, and what was kept of its scan.

    Raises
    ------
    InputError
        When a file is damaged or of another format.
    """
    record = read_json(folder / OUTCOMES)
    found = record.get("format") if isinstance(record, dict) else None
    if found != FORMAT:
        raise InputError("this run folder has another format", file=str(folder / OUTCOMES),
                         key="format", value=found, allowed=FORMAT,
                         hint="use the version of fefoot that wrote it, or solve the case again")
    try:
        with open(folder / PICTURES, "rb") as handle, np.load(handle, allow_pickle=False) as arrays:
            return tuple(
                compare_outcomes(tuple(_read_outcome(entry, arrays) for entry in outcomes), target)
                for outcomes in record["instants"]), record["scan"]
    except Exception as problem:
        raise damaged(folder, problem) from None


def read_json(path: Path):
    """Return the values in a JSON file; InputError when it is damaged."""
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as problem:
        raise damaged(path, problem) from None


def damaged(path: Path, problem: Exception) -> InputError:
    """Return the error for a run folder, or a file of it, that cannot be read back."""
    words = " ".join(f"{type(problem).__name__}: {problem}".split())[:160]
    return InputError(f"the run folder is damaged ({words})", file=str(path),
                      hint="solve the case again with fefoot compare")


def _read_outcome(entry: dict, arrays) -> Outcome:
    picture = entry["picture"]
    return Outcome(
        entry["name"], entry["title"], entry["stance_percent"], entry["failure"],
        tuple(Measure(**m) for m in entry["measures"]), tuple(Check(**c) for c in entry["checks"]),
        entry["cost"], (), None if picture is None else _read_picture(picture, arrays))


def _read_picture(entry: dict, arrays) -> Picture:
    name = entry["name"]
    return Picture(
        *(arrays[f"{name}.{key}"] for key in _ARRAYS),
        {bone: arrays[f"{name}.bone.{k}"] for k, bone in enumerate(entry["bones"])},
        {cable: (arrays[f"{name}.cable.{k}"], tension)
         for k, (cable, tension) in enumerate(entry["cables"])},
        {contact: (arrays[f"{name}.place.{k}"], arrays[f"{name}.pressure.{k}"])
         for k, contact in enumerate(entry["contacts"])},
        entry["ground_y_mm"], entry["centre_of_pressure_mm"], entry["view"],
        None if entry.get("scene") is None else _read_scene(entry["scene"], f"{name}.scene", arrays))


def _read_scene(entry: dict, name: str, arrays) -> Scene:
    return Scene(
        *(arrays[f"{name}.{key}"] for key in SURFACES),
        {cable: (arrays[f"{name}.cable.{k}"], tension)
         for k, (cable, tension) in enumerate(entry["cables"])}, entry["ground_y_mm"])

"""Read the scan of a case: its keys, the file, and what it gives the person."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from ..scan.values import PLACES, Scan, ScanChoice
from . import schema
from .check import Mistakes, read_keys, unknown_keys
from .values import Person

TELLING_SHARE = 0.05
"""A given dimension that differs from the measured one by more than this share is remarked on."""


def read_scan(given: dict | None, person: Person, written: dict, mistakes: Mistakes
              ) -> tuple[Scan | None, Person]:
    """Return the scan in place, and the person with the dimensions it gives; mistakes are noted.

    ``written`` is the person as the case file has it: what it gives itself stays.
    """
    if given is None:
        return None, person
    unknown_keys(given, [key.name for key in schema.SCAN], "scan", mistakes)
    before = len(mistakes.found)
    read = read_keys(given, schema.SCAN, "scan", (), mistakes)
    choice = _choice(given, read, mistakes)
    needed = (person.side, *(getattr(person, name) for name in schema.DIMENSIONS))
    if len(mistakes.found) > before or None in needed:
        return None, person
    from ..foot.landmarks import landmarks
    from ..scan.scan import scanned

    with mistakes.noted():
        marks = landmarks(person.dimensions())
        scan = scanned(Path(mistakes.file).parent / choice.file, choice, person.side, marks)
        return _given(scan, person, written, mistakes)
    return None, person


def _choice(given: dict, read: dict, mistakes: Mistakes) -> ScanChoice:
    points = {name: read.pop(name) for name in PLACES}
    there = [name for name in PLACES if points[name]]
    if there and len(there) < len(PLACES):
        missing = next(name for name in PLACES if name not in there)
        mistakes.add("three landmarks are needed", f"scan.{missing}", value=", ".join(there),
                     allowed=", ".join(PLACES), hint="add the others, or leave all out")
    if there and given.get("align", "landmarks") != "landmarks":
        mistakes.add("the scan has landmarks, and is not to be placed by them", "scan.align",
                     value=given["align"], allowed="'landmarks'",
                     hint="leave the landmarks out, or leave align out")
    if not there and read["align"] == "landmarks":
        mistakes.add("there are no landmarks to place the scan by", "scan.align", value="landmarks",
                     hint=f"add {', '.join(PLACES)}, each [x, y, z] in the file's axes and unit")
    if there:
        read["align"] = "landmarks"
    return ScanChoice(**read, landmarks=tuple(points[name] for name in PLACES) if there else None)


def _given(scan: Scan, person: Person, written: dict, mistakes: Mistakes) -> tuple[Scan, Person]:
    """Give the person the scan's dimensions that the case file does not give."""
    if not scan.measured:
        return scan, person
    keys = {key.name: key for key in schema.PERSON}
    used, kept = {}, []
    for name, value in scan.measured.items():
        if name in written:
            kept.append(_kept(name, written[name], value))
        elif not keys[name].low <= value <= keys[name].high:
            mistakes.add("the scan measures a foot that the model does not cover", f"scan.file: {name}",
                         value=value, allowed=keys[name].allowed,
                         hint=f"check side, scale and place of the scan (fefoot check --picture), or "
                              f"give person.{name}")
        else:
            used[name] = value
    first = f"{_listed([_words(name) for name in used])} from the scan" if used else \
        "none from the scan"
    sentence = "; ".join([first, *kept, "the others from the case file or by default"])
    return (replace(scan, used=tuple(used), facts=(*scan.facts, f"Dimensions: {sentence}.")),
            replace(person, **used))


def _kept(name: str, given: float, measured: float) -> str:
    apart = abs(given - measured) > TELLING_SHARE * measured
    return (f"{_words(name)} {given:g} mm from the case file"
            + (f", against {measured:g} mm in the scan: check that it is this foot" if apart else ""))


def _listed(words: list[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _words(name: str) -> str:
    return name.removesuffix("_mm").replace("_", " ")

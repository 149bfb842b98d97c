"""Read what loads the foot: a shipped activity, instants of one's own, or a force-plate file."""

from __future__ import annotations

from pathlib import Path

from ..load.activity import Activity, Instant, activities, activity
from . import schema
from .check import Mistakes, read_keys, read_value, tables, unknown_keys
from .values import ActivityChoice, Person


def read_activity(given: dict, person: Person, mistakes: Mistakes) -> ActivityChoice:
    """Return the activity of a case; mistakes are noted."""
    keys = {key.name: key for key in schema.ACTIVITY}
    unknown_keys(given, [*keys, "instant"], "activity", mistakes)
    read = read_keys(given, tuple(k for n, k in keys.items() if n != "name"), "activity", (), mistakes)
    _contradictions(given, mistakes)
    if "instant" in given:
        found = _instants(given, _own_name(given, keys["name"], mistakes), read["source"], mistakes)
    elif given.get("force_plate"):
        found = _plate(_own_name(given, keys["name"], mistakes), read, person, mistakes)
    else:
        found = None
        with mistakes.noted():
            found = activity(given.get("name", keys["name"].default), file=mistakes.file,
                             key="activity.name")
        return ActivityChoice(found, read["at"])
    return ActivityChoice(found, read["at"], True, given.get("force_plate", ""))


def _contradictions(given: dict, mistakes: Mistakes) -> None:
    if "instant" in given and given.get("force_plate"):
        mistakes.add("the case gives both instants and a force-plate file", "activity.force_plate",
                     value=given["force_plate"], hint="leave one of them out")
    if "force_plate_instants" in given and not given.get("force_plate"):
        mistakes.add("there is no force-plate file to read instants from",
                     "activity.force_plate_instants", hint="add force_plate, or leave it out")
    if "source" in given and "instant" not in given:
        mistakes.add("a source goes with your own instants", "activity.source",
                     hint="add [[activity.instant]], or leave it out")


def _own_name(given: dict, key: schema.Key, mistakes: Mistakes) -> str:
    name = read_value(given.get("name", "own"), key, "activity.name", (), mistakes)
    if name in activities():
        mistakes.add("a shipped activity has this name, and the case gives its own instants",
                     "activity.name", value=name,
                     hint="choose another name, or leave out your own instants")
    return name


def _instants(given: dict, name: str, source: str, mistakes: Mistakes) -> Activity:
    instants, last = [], None
    rows = tables(given["instant"], "activity.instant", mistakes)
    for number, row in enumerate(rows, 1):
        path = f"activity.instant[{number}]"
        unknown_keys(row, [key.name for key in schema.INSTANT], path, mistakes)
        instant = Instant(**read_keys(row, schema.INSTANT, path, (), mistakes))
        percent = instant.stance_percent
        if None not in (percent, last) and percent <= last:
            mistakes.add("instants must follow each other", f"{path}.stance_percent",
                         value=percent, allowed=f"more than {last:g}",
                         hint="put the instants in order of stance")
        last = percent
        instants.append(instant)
    if rows == [] and given["instant"] == []:
        mistakes.add("there is no instant", "activity.instant", hint="add one, or name an activity")
    return Activity(name, name, source, schema.GIVEN, tuple(instants))


def _plate(name: str, read: dict, person: Person, mistakes: Mistakes) -> Activity | None:
    """Read the force-plate file; nothing while what it is scaled with is wrong itself."""
    count = read["force_plate_instants"]
    if None in (read["force_plate"], count, person.body_mass_kg, person.length_mm):
        return None
    from ..load.force_plate import force_plate_activity

    with mistakes.noted():
        return force_plate_activity(
            Path(mistakes.file).parent / read["force_plate"], name=name,
            body_mass_kg=person.body_mass_kg, length_mm=person.length_mm, instants=count)
    return None

"""The files a case names: copied into its run folder, so that the case there still reads."""

from __future__ import annotations

import json
import re
import shutil
import tomllib
from pathlib import Path, PurePosixPath, PureWindowsPath

from ..case.values import Case

INPUTS = "inputs"
"""Where a file goes that lies outside the case file's folder."""
_NAMED = re.compile(r"""\b(file|force_plate|mask_file)(\s*=\s*)("(?:[^"\\\n]|\\.)*"|'[^'\n]*')""")


def named_files(case: Case) -> list[str]:
    """Return the paths a case names: force plate, scan, measured pressure and its mask."""
    scan = case.scan.choice.file if case.scan is not None else ""
    given = case.measured_pressure
    maps = () if given is None else (given.choice.file, given.choice.mask_file)
    return [name for name in dict.fromkeys((case.activity.file, scan, *maps)) if name]


def copied(case: Case, folder: Path, taken: set[str]) -> dict[str, str]:
    """Copy the files a case names into a folder; return the new path of each, from that folder.

    A file inside the case file's folder keeps its place; another, or one whose name is ``taken``,
    goes to `INPUTS`. A file that has gone since the case was read is left out.
    """
    home, places = Path(case.file).parent, {}
    for name in named_files(case):
        place = name if _stays(name) and name not in taken else f"{INPUTS}/{_plain_name(name)}"
        while place in places.values():
            place = f"{INPUTS}/_{PurePosixPath(place).name}"
        try:
            (folder / place).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(home / name, folder / place)
        except OSError:
            continue
        places[name] = place
    return places


def _stays(name: str) -> bool:
    path, other = PurePosixPath(name), PureWindowsPath(name)
    return not (path.is_absolute() or other.drive or other.root or ".." in path.parts
                or "\\" in name)


def _plain_name(name: str) -> str:
    return PureWindowsPath(name).name


def with_places(text: str, places: dict[str, str]) -> str:
    """Return the text of a case file with the paths it names replaced by their new places."""
    def new(match):
        given = tomllib.loads(f"v = {match[3]}")["v"]
        place = places.get(given, given)
        return match[0] if place == given else f"{match[1]}{match[2]}{json.dumps(place)}"

    return _NAMED.sub(new, text)

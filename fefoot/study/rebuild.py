"""Build the page of a finished run folder again, without solving."""

from __future__ import annotations

import os
import tempfile
from dataclasses import replace
from pathlib import Path

from ..case import read_case
from ..errors import InputError
from .kept import OUTCOMES, PICTURES, damaged, kept, read_json
from .store import build_sheets

STUDIES = "designs.csv", "certainty.csv"
"""Tables by which the folder of a study is known."""
NEEDED = ("resolved.toml", "provenance.json", OUTCOMES, PICTURES)


def rebuild(folder: str | Path) -> Path:
    """Write ``report.html`` of a run folder anew from what the folder keeps; return its path.

    The page is the same as the first one when neither folder nor fefoot has changed.

    Raises
    ------
    InputError
        When the folder is no finished run folder, is damaged, or cannot be written.
    """
    from ..report import page

    folder = Path(folder)
    if not folder.is_dir():
        raise InputError("there is no such run folder", file=str(folder),
                         hint="give the folder that fefoot compare wrote")
    missing = [name for name in NEEDED if not (folder / name).is_file()]
    if missing and any((folder / name).is_file() for name in STUDIES):
        raise InputError("this is the folder of a sweep, certainty or search: only folders of fefoot "
                         "compare can be built again", file=str(folder),
                         allowed=f"a folder with {', '.join(NEEDED)}",
                         hint="give the study's command again: its finished runs are in the store, so "
                              "that it only writes the page anew")
    if missing:
        raise InputError("this is not a finished run folder that a page can be built from",
                         file=str(folder), value=f"without {', '.join(missing)}",
                         allowed=f"a folder with {', '.join(NEEDED)}",
                         hint="give the folder that fefoot compare wrote, or solve the case again")
    case = read_case(folder / "resolved.toml")
    comparisons, scan = kept(folder, case.target)
    names = ["barefoot", *(device.name for device in case.devices)]
    if not comparisons or any([o.name for o in c.outcomes] != names for c in comparisons):
        raise damaged(folder, ValueError("its outcomes are not those of its case"))
    facts = read_json(folder / "provenance.json")
    try:
        if scan is not None:
            case = replace(case, scan=replace(
                case.scan, facts=tuple(scan["facts"]), used=tuple(scan["used"])))
        text = page(case, comparisons, facts, build_sheets(case))
    except (TypeError, ValueError, KeyError, AttributeError) as problem:
        raise damaged(folder, problem) from None
    return _put(folder / "report.html", text)


def _put(path: Path, text: str) -> Path:
    """Replace a file in one step."""
    try:
        handle, partial = tempfile.mkstemp(prefix=".report-", dir=path.parent)
    except OSError as problem:
        raise InputError(f"the page cannot be written ({problem.strerror or problem})",
                         file=str(path), allowed="a folder that can be written",
                         hint="make the folder writable, or give a copy of it elsewhere") from None
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(text.encode())
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(partial, 0o644)
        os.replace(partial, path)
    except BaseException:
        Path(partial).unlink(missing_ok=True)
        raise
    return path

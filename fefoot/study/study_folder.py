"""The folder of a finished study: every file or no folder; tables as CSV and Parquet."""

from __future__ import annotations

import csv
import io
import json
import os
import shutil
import tempfile
from collections.abc import Sequence
from pathlib import Path

from .. import __version__
from ..case.emit import resolved_toml
from ..errors import InputError
from .entries import sync_folder
from .machine import cpu_name, now_utc
from .physics import libraries, physics_version
from .sources import copied, with_places
from .store import RunFolder


def study_folder(path: str | Path) -> Path:
    """Return where a study will be written; InputError when it exists or cannot be written."""
    return RunFolder(path).path


def write_study(path: Path, case, files: dict[str, str | bytes]) -> Path:
    """Write a study's files, with the case as given and resolved, and put the folder in place.

    Raises
    ------
    InputError
        When it cannot be written: a full disk, a read-only place, a folder of that name.
    """
    try:
        partial = Path(tempfile.mkdtemp(prefix=f".{path.name}-", dir=path.parent))
        try:
            _fill(partial, case, files)
            os.chmod(partial, 0o755)
            os.rename(partial, path)
        except BaseException:
            shutil.rmtree(partial, ignore_errors=True)
            raise
        sync_folder(path.parent)
    except OSError as problem:
        raise InputError(f"the results cannot be written ({problem.strerror or problem})",
                         key="--out", value=str(path), allowed="a new folder in a place with room",
                         hint="choose another folder with --out: every finished run is in the store, "
                              "so that the same command only writes") from None
    return path


def _fill(partial: Path, case, files) -> None:
    places = copied(case, partial, {"case.toml", "resolved.toml", *files})
    resolved = resolved_toml(case, places)
    try:
        given = with_places(Path(case.file).read_text(encoding="utf-8"), places)
    except OSError:
        given = resolved
    for name, content in {"case.toml": given, "resolved.toml": resolved, **files}.items():
        data = content.encode("utf-8") if isinstance(content, str) else content
        with open(partial / name, "wb") as handle:
            handle.write(data)
            handle.flush()
            os.fsync(handle.fileno())


def table_files(name: str, columns: Sequence[str], rows: Sequence[Sequence]) -> dict:
    """Return a table as ``name.csv`` and, where pyarrow is installed, ``name.parquet``.

    Numbers keep every digit; None is an empty cell. A column holds numbers or words.
    """
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows([["" if cell is None else repr(cell) if isinstance(cell, float) else cell
                       for cell in row] for row in rows])
    files: dict[str, str | bytes] = {f"{name}.csv": text.getvalue()}
    try:
        import pyarrow
        from pyarrow import parquet
    except ImportError:
        return files
    arrays = {column: _column([row[n] for row in rows]) for n, column in enumerate(columns)}
    sink = io.BytesIO()
    parquet.write_table(pyarrow.table(arrays), sink)
    files[f"{name}.parquet"] = sink.getvalue()
    return files


def _column(cells: list) -> list:
    """Return cells of one type: numbers, or words where any cell is one."""
    if any(isinstance(cell, str) for cell in cells):
        return [None if cell is None else str(cell) for cell in cells]
    if all(isinstance(cell, int) or cell is None for cell in cells):
        return cells
    return [None if cell is None else float(cell) for cell in cells]


def plain_json(values) -> str:
    """Return values as JSON text."""
    return json.dumps(values, indent=1) + "\n"


def study_provenance(tally, seconds: float, where: str, seed: int | None) -> dict:
    """Return what computed a study; to be asked for when it has ended."""
    return {
        "ended_utc": now_utc(), "fefoot": __version__, "physics": physics_version(),
        "libraries": libraries(), "cpu": cpu_name(),
        "runs": {"wanted": tally.wanted, "computed": tally.computed, "reused": tally.reused,
                 "failed": tally.failed},
        "wall_seconds": round(seconds, 3), "computed_on": where,
        "random_seed": "none used" if seed is None else seed,
    }

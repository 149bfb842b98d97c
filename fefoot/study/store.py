"""The run folder: written under a temporary name, flushed, then renamed, so that it is complete."""

from __future__ import annotations

import csv
import hashlib
import json
import math
import os
import platform
import shutil
import tempfile
import time
from importlib import metadata
from pathlib import Path

from .. import __version__
from ..case.emit import resolved_toml
from ..errors import InputError
from ..outcome.measured import compared_pressure, pressure_rows
from ..outcome.quantities import QUANTITIES
from .fields import FIELDS, write_fields
from .kept import OUTCOMES, PICTURES, keep, plain
from .machine import cpu_name, now_utc
from .physics import physics_version
from .progress import sentence
from .reasons import plain_reason
from .sources import copied, named_files, with_places

PACKAGES = ("numpy", "scipy", "scikit-fem", "gmsh", "meshio", "pypardiso", "mkl", "contourpy",
            "matplotlib", "plotly", "trimesh")
FILES = {"case.toml", "resolved.toml", "provenance.json", "measures.csv", "history.csv", FIELDS,
         "summary.json", "report.html", "log.txt", OUTCOMES, PICTURES}
"""What a run folder holds, besides the files that its case names."""
PRESSURE = "measured_pressure.csv"
"""Added where the case has a measured pressure map."""


class RunFolder:
    """A run folder in the making.

    Parameters
    ----------
    path : path
        Where it will stand. Raises InputError when it exists or its parent cannot be written.
    """

    def __init__(self, path: str | Path):
        self.path = Path(path)
        self.started_utc, self._began = now_utc(), time.perf_counter()
        self.log: list[str] = []
        try:
            if self.path.exists():
                raise InputError("the run folder exists already", key="--out", value=str(self.path),
                                 allowed="a folder that does not exist yet",
                                 hint="name another folder, or remove that one")
            self.path.parent.mkdir(parents=True, exist_ok=True)
            with tempfile.TemporaryDirectory(dir=self.path.parent):
                pass
        except OSError as problem:
            raise unwritable(self.path, problem) from None

    def listening(self, listener):
        """Return a listener that also keeps each event for ``log.txt``."""
        def tell(event):
            self._note(sentence(event))
            listener(event)

        return tell

    def _note(self, words: str) -> None:
        """Add a line to the log, with the seconds since this object was made."""
        self.log.append(f"{time.perf_counter() - self._began:8.1f} s  {words}")

    def write(self, case, comparisons, cost: dict) -> Path:
        """Write every file and put the folder in place; InputError when that is not possible."""
        try:
            return self._written(case, comparisons, cost)
        except OSError as problem:
            raise unwritable(self.path, problem) from None

    def _written(self, case, comparisons, cost: dict) -> Path:
        from ..report import page

        partial = Path(tempfile.mkdtemp(prefix=f".{self.path.name}-", dir=self.path.parent))
        try:
            places = copied(case, partial, FILES | {PRESSURE})
            for name in named_files(case):
                if name not in places:
                    self._note(f"{name} could not be copied: the case in this folder does not read")
            resolved = resolved_toml(case, places)
            given = with_places(_source(case, resolved), places)
            facts = json.loads(_json({
                "started_utc": self.started_utc, **provenance(comparisons),
                "case_toml_sha256": hashlib.sha256(given.encode()).hexdigest(), **cost}))
            files = {
                "case.toml": given, "resolved.toml": resolved,
                "provenance.json": _json(facts), "summary.json": _json(summary(case, comparisons)),
                "report.html": page(case, comparisons, facts, build_sheets(case)),
                "log.txt": "\n".join(self.log) + "\n",
            }
            for name, text in files.items():
                (partial / name).write_bytes(text.encode())
            _table(partial / "measures.csv", measure_rows(case, comparisons))
            _table(partial / "history.csv", history_rows(comparisons))
            if case.measured_pressure is not None:
                _table(partial / PRESSURE, pressure_rows(compared_pressure(case, comparisons)))
            write_fields(partial / FIELDS, comparisons)
            keep(partial, case, comparisons)
            for file in partial.rglob("*"):
                if file.is_file():
                    with open(file, "rb") as handle:
                        os.fsync(handle.fileno())
            os.chmod(partial, 0o755)
            os.rename(partial, self.path)
        except BaseException:
            shutil.rmtree(partial, ignore_errors=True)
            raise
        return self.path


def unwritable(path: Path, problem: OSError) -> InputError:
    """Return the error for a run folder that the system does not let us write."""
    return InputError(f"the run folder cannot be written ({problem.strerror or problem})", key="--out",
                      value=str(path), allowed="a place that can be written, with room on its disk",
                      hint="choose another folder with --out")


def build_sheets(case) -> dict:
    """Return the build sheet of every device by its name."""
    from ..device.sheet import build_sheet
    from ..foot.landmarks import landmarks

    marks = landmarks(case.person.dimensions())
    return {device.name: build_sheet(device, marks) for device in case.devices}


def provenance(comparisons) -> dict:
    """Return what ran where: versions, physics, machine, solvers, threads."""
    versions = {}
    for name in PACKAGES:
        try:
            versions[name] = metadata.version(name)
        except metadata.PackageNotFoundError:
            versions[name] = "not installed"
    solvers: dict[str, int] = {}
    for comparison in comparisons:
        for outcome in comparison.outcomes:
            for name, count in outcome.cost.get("solvers", {}).items():
                solvers[name] = solvers.get(name, 0) + count
    return {
        "fefoot": __version__, "physics": physics_version(), "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}", "cpu": cpu_name(),
        "threads": os.cpu_count(),
        "linear_solvers": solvers, "random_seed": "none used", "packages": versions,
    }


def summary(case, comparisons) -> dict:
    """Return the answer as plain values."""
    return {
        "title": case.title, "model": case.model, "target": case.target,
        "instants": [{
            "stance_percent": c.stance_percent, "best": c.best, "ranking": list(c.ranking),
            "worse": [[*entry[:3], entry[3] if math.isfinite(entry[3]) else "from nothing"]
                      for entry in c.worse],
            "conditions": [{
                "name": o.name, "failure": plain_reason(o.failure), "cost": o.cost,
                "checks": {k.name: {"value": k.value, "limit": k.limit, "unit": k.unit,
                                    "passed": k.passed} for k in o.checks},
                "measures": {f"{m.tissue}.{m.quantity}": m.value for m in o.measures},
            } for o in c.outcomes],
        } for c in comparisons],
    }


def measure_rows(case, comparisons):
    """Yield the rows of ``measures.csv``, header first."""
    yield ("stance_percent", "condition", "tissue", "quantity", "unit", "value",
           "change_percent", "share_of_strength_percent", "status")
    for comparison in comparisons:
        for number, outcome in enumerate(comparison.outcomes):
            if outcome.failure:
                yield (comparison.stance_percent, outcome.name, case.target, "", "", "", "", "",
                       plain_reason(outcome.failure))
            known = {m.key: m for m in outcome.measures}
            for row in comparison.rows:
                measure = known.get((row.tissue, row.quantity))
                if measure:
                    yield (comparison.stance_percent, outcome.name, row.tissue, row.quantity,
                           QUANTITIES[row.quantity].unit, repr(float(measure.value)),
                           _cell(row.changes_percent[number]), _cell(measure.share_percent), "ok")


def history_rows(comparisons):
    """Yield the rows of ``history.csv``, header first."""
    yield ("stance_percent", "condition", "solve", "step", "iteration", "residual",
           "active_vertices", "failed_factorisations")
    for comparison in comparisons:
        for outcome in comparison.outcomes:
            for row in outcome.history:
                yield (comparison.stance_percent, outcome.name, row["solve"], row["step"],
                       row["iteration"], repr(float(row["residual"])), row["active"],
                       row.get("stabilised", 0))


def _source(case, resolved: str) -> str:
    try:
        return Path(case.file).read_text(encoding="utf-8")
    except OSError:
        return resolved


def _json(values) -> str:
    return json.dumps(values, indent=1, default=plain) + "\n"


def _cell(value) -> str:
    return "" if value is None else repr(float(value))


def _table(path: Path, rows) -> None:
    with open(path, "w", newline="", encoding="utf-8") as handle:
        csv.writer(handle).writerows(rows)

"""One run: one condition at one instant, what decides its numbers, and the key that follows."""

from __future__ import annotations

import functools
import hashlib
import json
import math
from dataclasses import dataclass, fields, is_dataclass, replace
from pathlib import Path

import numpy as np

from ..case.values import Case
from ..device.device import Device
from ..errors import InputError
from ..load.activity import Instant
from ..material.table import Material
from .physics import libraries, physics_version

THREADS = 1
"""Threads of every run: the last digits of a sum may depend on their number."""
WORDS = {"name", "title"}
"""Attributes of a device that decide no number."""
BY_QUESTION = {"activity", "devices", "own_materials", "scan"}
"""Fields of a case that count through the question and the demand alone."""
NOT_COUNTED = {"title", "expect", "target", "studies", "measured_pressure", "file", "assumed"}
"""Fields of a case that decide no number. Every other field counts, also one that is added later."""
NOT_NEEDED = {"scan", "studies", "measured_pressure"}
"""Fields of a case that a run does without."""


@dataclass(frozen=True)
class Run:
    """One condition: a person and solver settings, a device or none, and an instant.

    ``case`` is used for what it says about person, materials and solver; its devices are not.
    """

    case: Case
    device: Device | None
    instant: Instant

    @classmethod
    def of(cls, case: Case, device: Device | None, instant: Instant) -> Run:
        """Return a run without what it does not need: other devices, scan, studies."""
        needed = {case.person.plantar_tissue, *(layer.material for layer in device.layers)} \
            if device else {case.person.plantar_tissue}
        own = {n: m for n, m in case.own_materials.items() if n in needed}
        left_out = {f.name: f.default for f in fields(case) if f.name in NOT_NEEDED}
        return cls(replace(case, devices=(), own_materials=own, **left_out), device, instant)


def described(run: Run) -> dict:
    """Return all that decides a run's numbers as plain values in canonical form.

    What the solver gets (question, demand) and, for safety, every field of the case that is
    not known to decide nothing.
    """
    from .question import demand, question

    case = run.case
    asked = canonical(question(case, run.device, run.instant))
    return {
        "question": asked, "demand": canonical(demand(case, run.instant)),
        "case": {f.name: canonical(getattr(case, f.name)) for f in fields(case)
                 if f.name not in BY_QUESTION | NOT_COUNTED},
        "threads": THREADS,
        "mesh": mesh_digest(case.model, case.solver.mesh_size_mm, case.solver.fascia == "meshed"),
        "physics": physics_version(), "libraries": libraries(),
    }


def key_of(description: dict) -> str:
    """Return the key of a described run: 40 hexadecimal digits."""
    text = json.dumps(description, sort_keys=True, separators=(",", ":"), allow_nan=False)
    return hashlib.sha256(text.encode()).hexdigest()[:40]


def canonical(value):
    """Return a value as plain JSON values: equal where the numbers it leads to are equal.

    Whole numbers become floats, -0.0 becomes 0.0, infinities words, arrays their digest; names,
    titles and sources are left out.
    """
    if isinstance(value, Material):
        return {"law": value.law.name, "constants": canonical(value.constants)}
    if is_dataclass(value) and not isinstance(value, type):
        out = {f.name: canonical(getattr(value, f.name)) for f in fields(value)
               if not (isinstance(value, Device) and f.name in WORDS)}
        return out
    if isinstance(value, dict):
        return {str(k): canonical(v) for k, v in value.items()}
    if isinstance(value, tuple | list):
        return [canonical(v) for v in value]
    if isinstance(value, np.ndarray):
        return _array_digest(value)
    if value is None or isinstance(value, str | bool):
        return value
    if isinstance(value, int | float | np.number):
        number = float(value) + 0.0
        return number if math.isfinite(number) else str(number)
    raise TypeError(f"{type(value).__name__} has no canonical form")


def _array_digest(array: np.ndarray) -> str:
    array = np.ascontiguousarray(array)
    head = f"{array.dtype.str}{array.shape}".encode()
    return hashlib.sha256(head + array.tobytes()).hexdigest()[:40]


@functools.cache
def mesh_digest(model: str, size_mm: float, fascia: bool) -> str:
    """Return the digest of the reference mesh that a model starts from."""
    if model == "foot3d":
        from ..foot.mesh3d import mesh_file
        from .model3d import size_name

        return hashlib.sha256(Path(mesh_file(size_name(size_mm))).read_bytes()).hexdigest()[:40]
    from ..foot.reference import reference_mesh

    return _array_digest_of(reference_mesh(model, size_mm, fascia))


def _array_digest_of(mesh) -> str:
    total = hashlib.sha256()
    for entry in fields(mesh):
        total.update(entry.name.encode() + b"\0" + json.dumps(
            canonical(getattr(mesh, entry.name)), sort_keys=True).encode())
    return total.hexdigest()[:40]


def refusal(run: Run) -> str | None:
    """Return why a run is not worth a solve, or None."""
    from .compare import LEAST_FORCE_N
    from .question import demand

    if demand(run.case, run.instant).vertical_N < LEAST_FORCE_N:
        return "refused: the foot carries no load at this instant"
    return None


def solve_run(run: Run, tell) -> dict:
    """Solve a run; return what the store keeps of it as plain values.

    ``failure`` says why there are no numbers. What the input itself forbids (a section that misses
    the device) is a failure too.
    """
    from .compare import condition

    reason = refusal(run)
    if reason is None:
        try:
            return kept_of(condition(run.case, run.device, run.instant, tell))
        except InputError as problem:
            reason = f"refused: {problem.problem}"
    return {"failure": reason, "measures": [], "checks": [], "cost": {}}


def kept_of(outcome) -> dict:
    """Return an outcome's measures, checks, cost and failure as plain values."""
    cost = {k: v for k, v in outcome.cost.items() if k != "solvers"}
    return {
        "failure": outcome.failure,
        "measures": [[m.tissue, m.quantity, _finite(m.value), _finite(m.strength)]
                     for m in outcome.measures],
        "checks": [[c.name, _finite(c.value), _finite(c.limit), c.unit, bool(c.passed)]
                   for c in outcome.checks],
        "cost": {k: _finite(v) for k, v in cost.items()}
        | {"solvers": {k: int(v) for k, v in outcome.cost.get("solvers", {}).items()}},
    }


def _finite(value) -> float | None:
    return None if value is None or not math.isfinite(value) else float(value)

"""The feet, insoles and loads of the findings; every solve is kept for the rest of the run."""

from __future__ import annotations

import json
import math
from dataclasses import asdict, dataclass, replace
from functools import cache

from fefoot.case.reader import case_from_dict
from fefoot.errors import FefootError
from fefoot.load.activity import activity
from fefoot.load.stance import Demand, GRAVITY_m_per_s2
from fefoot.outcome.checks import checks
from fefoot.outcome.measures import measures
from fefoot.study.model import build
from fefoot.study.question import demand, question
from fefoot.study.solve import solve_model

MASS_kg = 70.0
WEIGHT_N = MASS_kg * GRAVITY_m_per_s2
STANCE = tuple(instant.stance_percent for instant in activity("walking").instants)
PEAK = activity("walking").peak().stance_percent
HEEL_LOAD = 12.0
"""Percent of stance at which the heel carries nearly everything."""


@dataclass(frozen=True)
class Found:
    """Measures and checks of one solve; without measures where it failed."""

    measures: dict[tuple[str, str], float]
    checks: dict[str, float]
    failure: str | None = None

    def __call__(self, tissue: str, quantity: str) -> float:
        """Return one measure, nan where the solve failed."""
        return self.measures.get((tissue, quantity), math.nan)


def insole(material="eva_soft", thickness_mm=6.0, *, below=(), features=(), **more) -> dict:
    """Return a device: a layer, layers (material, thickness) below it, features (kind, values)."""
    layers = [(material, thickness_mm), *below]
    return {"name": "insole", **more,
            "layer": [{"material": m, "thickness_mm": t} for m, t in layers],
            "feature": [{"kind": kind, **values} for kind, values in features]}


def instant(name: str, percent: float, scale: float = 1.0, **other) -> dict:
    """Return an activity of one instant: a shipped one's, its forces times ``scale``."""
    row = asdict(activity(name).at(percent)) | other
    for key in ("vertical_bodyweights", "fore_aft_bodyweights"):
        row[key] *= scale
    return {"name": "own", "at": percent, "instant": [row]}


def standing() -> dict:
    """Return quiet standing."""
    return {"name": "standing"}


def walking(percent: float) -> dict:
    """Return walking at a percent of stance."""
    return {"name": "walking", "at": percent}


def solve(model: str, load: dict | None, device: dict | None = None, *, axial_N=0.0, cut=False,
          **person) -> Found:
    """Solve one condition of the reference foot of 70 kg.

    With ``axial_N`` the leg presses with that force and the muscles are silent, as in a loading
    frame; with ``cut`` the plantar fascia carries nothing; ``person`` changes the person.
    """
    case = {"title": "finding", "model": model, "target": "heel_pad",
            "person": {"body_mass_kg": MASS_kg, **person}, "activity": load or standing(),
            "device": [device] if device else []}
    return _solved(json.dumps(case, sort_keys=True), float(axial_N), cut)


@cache
def _solved(text: str, axial_N: float, cut: bool) -> Found:
    case = case_from_dict(json.loads(text))
    now = case.activity.instants()[0]
    asked = question(case, case.devices[0] if case.devices else None, now)
    if cut:
        asked = replace(asked, stiffness=(("plantar_fascia", 0.0),))
    try:
        solved = solve_model(build(asked), Demand(axial_N) if axial_N else demand(case, now),
                             tolerance=case.solver.tolerance)
    except FefootError as problem:
        return Found({}, {}, str(problem))
    rows = checks(solved)
    bad = [row.name for row in rows if not row.passed]
    values = {row.name: row.value for row in rows}
    if bad:
        return Found({}, values, f"checks failed: {', '.join(bad)}")
    return Found({m.key: m.value for m in measures(solved)}, values)


def change_percent(new: float, old: float) -> float:
    """Return the change against ``old`` in percent."""
    return 100.0 * (new - old) / old

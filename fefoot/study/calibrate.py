"""Find the factors on the arch's ligaments and joints, once, and commit them with the residuals.

Run ``python -m fefoot.study.calibrate``: it solves the reference foot for the targets below, fits
the two factors by least squares, and rewrites ``fefoot/foot/calibration.toml``. A published value
that is a target here does not count as validated elsewhere.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from importlib import resources

import numpy as np

from ..errors import ConvergenceError
from ..foot.morph import Dimensions
from ..load.activity import activity
from ..load.stance import Demand, GRAVITY_m_per_s2
from ..material.table import material
from .model import Question, build
from .solve import Solved, solve_model

MASS_kg = 70.0
LENGTH_MM = 255.0
MESH_SIZE_MM = 4.0
AXIAL_N = 690.0
FACTORS = ("arch_ligaments", "arch_joints")
BOUNDS = 0.8, 20.0
UNSOLVED_SPREADS = 10.0


@dataclass(frozen=True)
class Target:
    """A published behaviour: value, spread it is weighed by, source."""

    name: str
    unit: str
    value: float
    spread: float
    source: str


TARGETS = (
    Target("arch stiffness lost when the fascia is cut", "percent", 25.0, 5.0,
           "Huang, Kitaoka, An & Chao 1993, Foot & Ankle 14:353-357 (recalled)"),
    Target("fascia tension at push-off in walking", "body weights", 0.96, 0.36,
           "Erdemir et al. 2004, J Bone Joint Surg Am 86:546-552 (read)"),
)


def solved(factors: dict[str, float], demand: Demand, *, shank_angle_degrees=0.0,
           cut=False) -> Solved:
    """Solve the reference foot with the given factors, its fascia cut or not."""
    question = Question(
        "sagittal", Dimensions(), material("plantar_tissue_firm"), {},
        shank_angle_degrees=shank_angle_degrees, mesh_size_mm=MESH_SIZE_MM,
        factors=tuple(factors.items()),
        stiffness=(("plantar_fascia", 0.0),) if cut else ())
    return solve_model(build(question), demand)


def arch_drop_mm(solution: Solved) -> float:
    """Return the fall of the midfoot below the line from heel to metatarsal heads, mm."""
    model, state = solution.model, solution.solution.state
    heel, ball = model.scale_nodes
    body = model.bodies["midfoot"]
    co = model.system.coordinates

    def height(x, centre):
        t = (centre[0] - x[heel, 0]) / (x[ball, 0] - x[heel, 0])
        return centre[1] - (1 - t) * x[heel, 1] - t * x[ball, 1]

    return float(height(co.points, co.centres[body]) - height(state.x, state.centre[body]))


def behaviour(factors: dict[str, float]) -> np.ndarray:
    """Return the values (2,) that the targets are compared with."""
    axial = Demand(AXIAL_N)
    whole, cut = (arch_drop_mm(solved(factors, axial, cut=c)) for c in (False, True))
    weight = MASS_kg * GRAVITY_m_per_s2
    peak = activity("walking").peak()
    walk = solved(factors, Demand(
        peak.vertical_bodyweights * weight, peak.fore_aft_bodyweights * weight,
        peak.pressure_centre_percent / 100 * LENGTH_MM),
        shank_angle_degrees=peak.shank_angle_degrees)
    fascia = next(c for c in walk.model.system.cables if c.name == "plantar_fascia")
    tension = fascia.tension(walk.solution.state.x)
    return np.array([100.0 * (1.0 - whole / cut), tension / weight])


def fit(start=(12.0, 1.5), listener=None) -> tuple[dict[str, float], np.ndarray]:
    """Return the fitted factors and the behaviour at the fit."""
    from scipy.optimize import least_squares

    goal = np.array([t.value for t in TARGETS])
    spread = np.array([t.spread for t in TARGETS])

    def misses(logs):
        factors = dict(zip(FACTORS, np.exp(logs).tolist(), strict=True))
        try:
            found = behaviour(factors)
        except ConvergenceError:
            return np.full(len(TARGETS), UNSOLVED_SPREADS)
        if listener:
            listener(f"{factors} -> {found}")
        return (found - goal) / spread

    result = least_squares(misses, np.log(start), diff_step=0.1, xtol=1e-2, ftol=1e-3,
                           bounds=(np.log(BOUNDS[0]), np.log(BOUNDS[1])), max_nfev=10)
    factors = dict(zip(FACTORS, (round(float(v), 3) for v in np.exp(result.x)), strict=True))
    return factors, behaviour(factors)


def table(factors: dict[str, float], found: np.ndarray) -> str:
    """Return the text of ``calibration.toml``."""
    lines = [
        "# Factors on the stiffnesses that nobody measured. Found by python -m fefoot.study.calibrate,",
        "# which rewrites this file; do not edit by hand.",
        "", "[factors]",
        *(f"{name} = {value}" for name, value in factors.items()), "",
        "# Residuals of the fit. A target here does not count as validated elsewhere.",
    ]
    for target, value in zip(TARGETS, found, strict=True):
        lines += ["[[target]]", f'name = "{target.name}"', f'unit = "{target.unit}"',
                  f"published = {target.value}", f"spread = {target.spread}",
                  f"model = {value:.4f}",
                  f"residual_spreads = {(value - target.value) / target.spread:.3f}",
                  f'source = "{target.source}"', ""]
    return "\n".join(lines)


def main() -> int:
    """Fit, print the table and rewrite the committed file."""
    factors, found = fit(listener=lambda text: sys.stderr.write(text + "\n"))
    text = table(factors, found)
    sys.stdout.write(text)
    resources.files("fefoot.foot").joinpath("calibration.toml").write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

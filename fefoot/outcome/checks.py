"""Checks that every solve has to pass before its numbers are shown."""

from __future__ import annotations

import numpy as np

from ..load.stance import pressure_centre_mm
from ..load.stance3d import pressure_centre3d_mm
from .checks3d import moment_error3d_Nm
from .forces import cable_moment_Nm, moment_Nm, sole_forces_N
from .values import Check

LEVER_MM = 100.0


def checks(solved) -> tuple[Check, ...]:
    """Return the checks of a solved model, each with its limit."""
    solution, demand = solved.solution, solved.demand
    evaluation = solution.evaluation
    at, ground_N = _pressure_centre(solved)
    sole = sole_forces_N(solved)
    weight = demand.vertical_N
    rows = [
        ("residual", solution.history[-1]["residual"], 1e-6, "",
         "largest out-of-balance force over the applied force"),
        ("force balance", abs(ground_N - weight) / weight, 1e-6, "",
         "ground reaction less the applied force, over the applied force"),
        ("moment balance", _moment_error(solved, sole), 1e-4, "",
         "moments about the ankle (sagittal) or out-of-balance moments (rearfoot), over the "
         "applied force times 100 mm"),
        ("foot against device", _handover(solved, sole), 1e-4, "",
         "vertical force on the sole less the ground reaction, over the applied force"),
        ("gap under load", max(
            [float(-s.gap_mm[s.pressure_MPa > 0].min()) for s in evaluation.status
             if (s.pressure_MPa > 0).any()], default=0.0), 0.05, "mm",
         "largest mean penetration at a vertex that carries pressure"),
        ("smallest volume ratio", -solved.model.system.least_volume_ratio(solution.state), -0.05, "",
         "minus the smallest ratio of current to unloaded volume of an element"),
    ]
    if demand.pressure_centre_mm is not None and solution.load.balance is not None:
        rows.append(("centre of pressure", abs(
            at - solution.load.balance.wanted_mm(solution.state.x)), 0.01, "mm",
            "distance from where the activity wants it"))
    return tuple(Check(name, float(value), limit, unit, bool(value <= limit), doc)
                 for name, value, limit, unit, doc in rows)


def _pressure_centre(solved) -> tuple[float, float]:
    """Return where along the ground and how large the ground reaction is, mm and N."""
    model, evaluation = solved.model, solved.solution.evaluation
    if model.system.coordinates.dim == 2:
        return pressure_centre_mm(model.system, evaluation, model.ground_y_mm(solved))
    at, force_N = pressure_centre3d_mm(model.system, evaluation, model.ground_y_mm(solved))
    return float(at[0]), force_N


def _moment_error(solved, sole) -> float:
    model, solution = solved.model, solved.solution
    scale = solved.demand.vertical_N * LEVER_MM * 1e-3
    if model.system.coordinates.dim == 3:
        return abs(moment_error3d_Nm(solved, sole)) / scale
    co = model.system.coordinates
    if model.question.model == "rearfoot":
        spins = [co.body_slice(b).start + 2 for b in range(co.bodies)
                 if co.body_slice(b).start + 2 not in solution.load.held]
        return 1e-3 * float(np.abs(solution.evaluation.residual[spins]).max(initial=0.0)) / scale
    spring, joint = (terms[i] for terms, i in zip(
        (model.system.springs, model.system.joints), model.links["ankle_joint"], strict=True))
    ankle = solution.state.x[spring.node_b]
    total = moment_Nm(solution.state.x, sole, ankle)
    total += cable_moment_Nm(solved, 0, ankle)
    total -= 1e-3 * float(joint.moments_Nmm(solution.state)[0])
    return abs(total) / scale


def _handover(solved, sole) -> float:
    vertical = sole[:, 1].sum()
    return abs(vertical - solved.demand.vertical_N) / solved.demand.vertical_N

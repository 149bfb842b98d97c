"""From a case to what is solved: one question per device, one demand per instant."""

from __future__ import annotations

import math

from ..case.values import Case
from ..device.device import Device
from ..foot.morph import Dimensions
from ..load.activity import Instant
from ..load.stance import Demand, GRAVITY_m_per_s2
from .model import GRIP_MM, Question

HEEL_CENTRE_SHARE, BALL_SHARE = 34.0 / 255.0, 181.2 / 255.0
"""Where heel and metatarsal heads take their load, as shares of foot length."""


def dimensions(case: Case) -> Dimensions:
    """Return the person's dimensions."""
    return case.person.dimensions()


def question(case: Case, device: Device | None, instant: Instant) -> Question:
    """Return the question of one condition at one instant."""
    names = {layer.material for layer in device.layers} if device else set()
    factor = case.person.fascia_stiffness_factor
    coefficient, grip_mm = friction(case)
    return Question(
        case.model, dimensions(case), case.material(case.person.plantar_tissue),
        {name: case.material(name) for name in names}, device,
        axis_shift_mm=case.person.subtalar_axis_shift_mm, axis_degrees=axis_degrees(case),
        shank_angle_degrees=instant.shank_angle_degrees,
        stiffness=(("plantar_fascia", factor),) if factor != 1.0 else (),
        mesh_size_mm=case.solver.mesh_size_mm, friction=coefficient, grip_mm=grip_mm,
        penalty_factor=case.solver.penalty_factor,
        fascia=case.solver.fascia)


def axis_degrees(case: Case) -> tuple[float, float] | None:
    """Return inclination and deviation of the subtalar axis; None where the model has no such axis."""
    if case.model != "foot3d":
        return None
    person = case.person
    return person.subtalar_axis_inclination_degrees, person.subtalar_axis_deviation_degrees


def demand(case: Case, instant: Instant) -> Demand:
    """Return the ground's demand on the section at one instant.

    The sagittal section and the whole foot carry the whole force, with its centre of pressure. The
    rearfoot section carries the heel's share, by the lever rule between heel and metatarsal heads,
    and finds its own centre of pressure.
    """
    weight = case.person.body_mass_kg * GRAVITY_m_per_s2
    force = instant.vertical_bodyweights * weight
    if case.model != "rearfoot":
        return Demand(force, instant.fore_aft_bodyweights * weight,
                      instant.pressure_centre_percent / 100.0 * case.person.length_mm)
    return Demand(force * heel_share(instant))


def heel_share(instant: Instant) -> float:
    """Return the share of the force that the heel carries, 0 to 1."""
    at = instant.pressure_centre_percent / 100.0
    share = (BALL_SHARE - at) / (BALL_SHARE - HEEL_CENTRE_SHARE)
    return min(max(share, 0.0), 1.0)


def friction(case: Case) -> tuple[float, float]:
    """Return the coefficient of friction (infinite: rough) and its build-up length, mm."""
    law = case.solver.contact
    grip_mm = GRIP_MM if law == "gripping" else 0.0
    return {"frictionless": 0.0, "rough": math.inf}.get(law, case.solver.friction), grip_mm

"""Bending of the metatarsal shafts of the whole foot, from the equilibrium of their far parts."""

from __future__ import annotations

import math

import numpy as np

from .measures import BONE_SOURCE, HOLLOW, SHAFT_RADII_MM, BONE_STRENGTH_MPa
from .regions import RAYS
from .values import Measure

REFERENCE_WIDTH_MM = 98.0
"""Forefoot width that the shafts' radii go with."""


def shafts3d(solved):
    """Yield the bending stress at the middle of each metatarsal.

    sigma = M r / I,  I = pi/4 r^4 (1 - h^4),  with the shaft's radius r and the hollow's share h.
    """
    width = solved.model.question.dimensions.forefoot_width_mm / REFERENCE_WIDTH_MM
    for ray, reference_mm in zip(RAYS, SHAFT_RADII_MM, strict=True):
        radius = reference_mm * width
        moment = shaft_moment3d_Nmm(solved, f"metatarsal_{ray}", f"metatarsophalangeal_joint_{ray}")
        inertia = math.pi / 4 * radius**4 * (1 - HOLLOW**4)
        yield Measure(f"metatarsal_shaft_{ray}", "bending_stress_MPa", moment * radius / inertia,
                      BONE_STRENGTH_MPa, BONE_SOURCE)


def shaft_moment3d_Nmm(solved, body: str, joint: str) -> float:
    """Return the bending moment (N mm) of a rigid bone at its centre.

    The bone is cut square to the line from its centre to its far joint. On the part beyond, tissue,
    cables and the joint's force act at nodes that ride on the bone, and the joint's moment.
    """
    model, solution = solved.model, solved.solution
    co, state, number = model.system.coordinates, solution.state, model.bodies[body]
    rest = co.centres[number]
    along = np.asarray(model.structure.link(joint).point_mm) - rest
    along /= np.linalg.norm(along)
    far = np.flatnonzero((co.body_of == number) & ((co.points - rest) @ along > 0.0))
    forces = -solution.evaluation.gradient[: co.node_dofs].reshape(-1, 3)
    couple = model.system.joints[model.links[joint][1]].evaluate(state)[1]
    return bending_moment_Nmm(state.x[far], forces[far], state.centre[number],
                              state.turn[number] @ along, couple)


def bending_moment_Nmm(points, forces, centre, along, couple=0.0) -> float:
    """Return the moment (N mm) about ``centre`` square to the unit vector ``along``.

    Of forces (n, 3) N at points (n, 3) mm and a couple (3,) N mm.
    """
    moment = np.cross(points - centre, forces).sum(axis=0) + couple
    return float(np.linalg.norm(moment - (moment @ along) * along))

"""The deformed section as a :class:`~fefoot.outcome.values.Picture`."""

from __future__ import annotations

import numpy as np

from ..foot.section import bone_outlines
from ..load.stance import pressure_centre_mm
from .measures import sole_of
from .values import Picture


def picture(solved) -> Picture:
    """Return what a picture of a solved model needs."""
    if solved.model.question.model == "foot3d":
        from .picture3d import picture3d

        return picture3d(solved)
    model, solution = solved.model, solved.solution
    x = solution.state.x
    bones = {}
    outlines = bone_outlines(model.question.model, model.question.dimensions)
    for body in model.structure.bodies:
        number = model.bodies[body.name]
        turn, centre = solution.state.turn[number], solution.state.centre[number]
        for bone in body.bones:
            rest = outlines[bone] - model.system.coordinates.centres[number]
            bones[bone] = centre + rest @ turn.T
    given = solution.load.tensions()
    cables = {c.name: (x[list(c.nodes)], c.tension(x) + given.get(c.name, 0.0))
              for c in model.system.cables}
    line = sole_of(solved)
    contacts = {"foot": (line.place, line.patch_pressure_kPa())}
    for contact, status in zip(model.system.contacts, solution.evaluation.status, strict=True):
        if contact.name == "device on ground":
            order = np.argsort(x[contact.vertices, 0])
            contacts["ground"] = (x[contact.vertices][order], 1e3 * status.pressure_MPa[order])
    at, _ = pressure_centre_mm(model.system, solution.evaluation, model.ground_y_mm(solved))
    cells = model.mesh.cells
    device = np.array([n.startswith("device:") for n in model.mesh.region_names])
    count = model.foot_nodes + model.device_nodes
    return Picture(
        x[:count], cells, device[model.mesh.region], nodal_stress_kPa(solved)[:count], bones,
        cables, contacts, float(solution.state.centre[model.ground, 1]), at,
        rest=model.system.coordinates.points[:count])


def nodal_stress_kPa(solved) -> np.ndarray:
    """Return the von Mises stress at the nodes (n,), kPa: volume-weighted mean of their cells.

    Foot and device share no nodes, so the means do not mix them.
    """
    x = solved.solution.state.x
    total, weight = np.zeros(len(x)), np.zeros(len(x))
    for solid in solved.model.system.solids:
        stress, _, _ = solid.stress(x)
        mean = np.trace(stress, axis1=-2, axis2=-1) / 3
        shape = stress - mean[..., None, None] * np.eye(3)
        equivalent = np.sqrt(1.5 * (shape**2).sum((-2, -1)))
        size = solid.volume.sum(1)
        cell = (equivalent * solid.volume).sum(1) / size
        for node in range(solid.cells.shape[1]):
            np.add.at(total, solid.cells[:, node], cell * size)
            np.add.at(weight, solid.cells[:, node], size)
    return 1e3 * total / np.maximum(weight, 1e-300)

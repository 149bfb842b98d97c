"""Forces on bodies and across sections, from the node forces of an equilibrium."""

from __future__ import annotations

import numpy as np


def moment_Nm(points: np.ndarray, forces: np.ndarray, centre) -> float:
    """Return the anticlockwise moment (N m) of forces (n, 2) N at points (n, 2) mm."""
    arm = points - np.asarray(centre)
    return 1e-3 * float((arm[:, 0] * forces[:, 1] - arm[:, 1] * forces[:, 0]).sum())


def sole_forces_N(solved) -> np.ndarray:
    """Return the force (n, 2) of everything underneath on each node of the foot, N."""
    system, solution = solved.model.system, solved.solution
    total = np.zeros_like(solution.state.x)
    for contact, ray, memory in zip(
            system.contacts, solution.rays, solution.memory, strict=True):
        if contact.name.startswith("foot"):
            _, gradient, _, _ = contact.evaluate(solution.state.x, ray, memory, tangent=False)
            own = np.unique(contact.facets)
            total[own] -= gradient.reshape(total.shape)[own]
    if solution.load.node_force_N is not None:
        total += solution.load.node_force_N
    return total


def cable_moment_Nm(solved, body: int, centre) -> float:
    """Return the moment (N m) about ``centre`` of the cable spans that leave ``body`` for others."""
    system, solution = solved.model.system, solved.solution
    x, total = solution.state.x, 0.0
    given = solution.load.tensions()
    for cable in system.cables:
        tension = cable.tension(x) + given.get(cable.name, 0.0)
        for a, b in zip(cable.nodes, cable.nodes[1:], strict=False):
            inside = system.coordinates.body_of[[a, b]] == body
            if inside.sum() == 1:
                near, far = (a, b) if inside[0] else (b, a)
                pull = (x[near] - x[far]) / np.linalg.norm(x[near] - x[far])
                total += moment_Nm(x[[far]], tension * pull[None], centre)
    return total


def shaft_moment_Nm(solved, body: str, joint: str, at) -> float:
    """Return the bending moment (N m) of a rigid bone at the rest point ``at`` (2,) mm.

    From the forces on the bone beyond that point (x larger) and the moment of its far joint.
    """
    model, solution = solved.model, solved.solution
    co = model.system.coordinates
    number = model.bodies[body]
    forces = -solution.evaluation.gradient[: co.node_dofs].reshape(-1, 2)
    nodes = np.flatnonzero((co.body_of == number) & (co.points[:, 0] > at[0]))
    state = solution.state
    centre = state.centre[number] + state.turn[number] @ (np.asarray(at) - co.centres[number])
    far = model.system.joints[model.links[joint][1]]
    return moment_Nm(state.x[nodes], forces[nodes], centre) + 1e-3 * float(
        far.moments_Nmm(state)[0])

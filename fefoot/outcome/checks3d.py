"""Moment balance of the whole foot about the ankle's axis."""

from __future__ import annotations

import numpy as np


def moment_error3d_Nm(solved, sole: np.ndarray) -> float:
    """Return the moment (N m) about the ankle axis that is out of balance.

    Of the forces on the sole (n, 3) N, of the cable spans that leave the shank, and of the joint.
    """
    model, solution = solved.model, solved.solution
    state, given = solution.state, solution.load.tensions()
    link = model.structure.link("ankle_joint")
    spring, joint = (terms[i] for terms, i in zip(
        (model.system.springs, model.system.joints), model.links["ankle_joint"], strict=True))
    centre = state.x[spring.node_b]
    total = np.cross(state.x - centre, sole).sum(axis=0)
    body_of = model.system.coordinates.body_of
    for cable in model.system.cables:
        tension = cable.tension(state.x) + given.get(cable.name, 0.0)
        for a, b in zip(cable.nodes, cable.nodes[1:], strict=False):
            inside = body_of[[a, b]] == model.bodies["shank"]
            if inside.sum() == 1:
                near, far = (a, b) if inside[0] else (b, a)
                pull = state.x[near] - state.x[far]
                total += np.cross(state.x[far] - centre,
                                  tension * pull / np.linalg.norm(pull))
    total -= joint.evaluate(state)[1]
    axis = state.turn[joint.body_a] @ np.asarray(link.axes[0])
    return 1e-3 * float(axis @ total)

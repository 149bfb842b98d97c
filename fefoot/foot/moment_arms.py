"""Moment arms of the tendons about the ankle and the subtalar axis, by tendon excursion.

Turning everything beyond a joint by theta about its axis (unit vector a through p) changes the length
L of a cable; the arm is -dL/dtheta (An, Takahashi, Harrigan & Chao 1984, J Biomech Eng 106:280-282,
recalled), positive where a pull turns the foot into dorsiflexion or inversion. With the points x_k,
t_k the direction of the segment from x_k to x_{k+1}, and v_k = a x (x_k - p) for points beyond the
joint, zero otherwise, dL/dtheta = sum t_k . (v_{k+1} - v_k).
"""

from __future__ import annotations

import numpy as np

from .structure import SHANK_LINE, Structure

BEFORE = {
    "ankle_joint": ("shank", SHANK_LINE),
    "subtalar_joint": ("shank", SHANK_LINE, "talus"),
}
"""Bodies that stay when the foot turns about a joint."""


def moment_arms_mm(frame: Structure) -> dict[str, dict[str, float]]:
    """Return, per muscle and joint, the moment arm at neutral.

    Parameters
    ----------
    frame : Structure
        From `fefoot.foot.structure3d.structure3d`, so that person and axis are its inputs.

    Returns
    -------
    dict of cable name -> dict of joint name -> float
        mm; + dorsiflexes (ankle) or inverts (subtalar).
    """
    return {cord.name: {name: _arm(cord.path, frame.link(name), stay)
                        for name, stay in BEFORE.items()}
            for cord in frame.cords if cord.muscle}


def _arm(path, joint, stay) -> float:
    x = np.array([point for _, point in path])
    beyond = np.array([body not in stay for body, _ in path])
    v = beyond[:, None] * np.cross(joint.axes[0], x - joint.point_mm)
    leg = np.diff(x, axis=0)
    t = leg / np.linalg.norm(leg, axis=1)[:, None]
    return -float(np.einsum("ki,ki->", t, np.diff(v, axis=0)))

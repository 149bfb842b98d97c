"""Rearfoot posts in the frontal section."""

from __future__ import annotations

import math

import numpy as np

from .feet import insole, solve, walking
from .record import SIGN, Finding, Study

TELFER = "Telfer, Abbott, Steultjens & Woodburn 2013, J Biomech 46:1489-1495"
ANGLES = tuple(range(-6, 11, 2))
CONDITION = ("rearfoot section, walking at 22 % of stance, 70 kg; soft EVA 3 mm on firm EVA 4 mm, heel "
             "cup 10 mm, length to the heads, posts of -6 (lateral) to 10 (medial) degrees")


def posted(angle: float):
    """Solve the shell with a post; eversion (degrees) and pronating moment (N m)."""
    features = [("heel_cup", {"depth_mm": 10.0})]
    if angle:
        features.append(("rearfoot_post", {"angle_degrees": float(angle)}))
    return solve("rearfoot", walking(22), insole(
        "eva_soft", 3.0, below=(("eva_firm", 4.0),), features=features,
        length="to_metatarsals"))


def posts() -> list[Finding]:
    """Nine posts in steps of two degrees."""
    found = [posted(angle) for angle in ANGLES]
    bare = solve("rearfoot", walking(22))("subtalar_joint", "rotation_degrees")
    rows = []
    for name, quantity, source in (
            ("eversion", "rotation_degrees", "peak rearfoot eversion falls linearly"),
            ("pronating moment", "moment_Nm", "peak eversion moment changes linearly (p 0.003)")):
        values = np.array([f("subtalar_joint", quantity) for f in found])
        rows += [
            Finding(f"largest change of {name} from one post to the next, two degrees more medial",
                    source, -math.inf, 0.0, float(np.diff(values).max()), TELFER, "read",
                    CONDITION, "falls at every step"),
            Finding(f"share of the variance of {name} that a line explains", source, 0.95, 1.0,
                    float(np.corrcoef(ANGLES, values)[0, 1] ** 2), TELFER, "read", CONDITION,
                    "what is called linear (common practice, no source)",
                    "the heel cup and the flat part of the post's ramp take up steep posts")]
    turn = {angle: f("subtalar_joint", "rotation_degrees") for angle, f in zip(
        ANGLES, found, strict=True)}
    stiff = ("the section stands inverted when barefoot, so that a cup without a post has no eversion "
             "to take away; the leg is held and the axis fixed, at one instant")
    rows += [
        Finding(f"eversion with {name} less barefoot [degrees]", f"about {value} degrees",
                value - 1.0, value + 1.0, turn[angle] - bare, TELFER, "read",
                CONDITION + "; the paper's baseline wore shoes",
                "half the step between the two published values (common practice, no source)", stiff)
        for name, angle, value in (("the neutral post", 0, -2.0), ("the 10 degree medial post", 10,
                                                                   -4.0))]
    return rows


def sign() -> list[Finding]:
    """Lateral against medial posting."""
    return [Finding(
        "eversion, 6 degree lateral post less 10 degree medial post [degrees]",
        "lateral posting everts, medial posting inverts", 0.0, math.inf,
        posted(-6)("subtalar_joint", "rotation_degrees")
        - posted(10)("subtalar_joint", "rotation_degrees"), TELFER, "read", CONDITION, SIGN)]


POSTING = {
    "posts": Study("Rearfoot posts", posts, slow=True),
    "post_sign": Study("Lateral against medial post", sign, slow=True),
}

"""Bodies, joints and cables of the whole foot: where they lie and what moves them."""

import math
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from fefoot.foot import REFERENCE, Dimensions, bone_distance, bone_names, morph
from fefoot.foot.anatomy import anatomy, skin_distance
from fefoot.foot.structure import SHANK_LINE
from fefoot.foot.structure3d import strands, structure3d, subtalar_axis, turn_about

ONE = {"arch_ligaments": 1.0, "arch_joints": 1.0}
PERSON = Dimensions(length_mm=280, heel_width_mm=58, forefoot_width_mm=110, heel_pad_mm=20,
                    metatarsal_pad_mm=9, navicular_height_mm=47)
FRAME = structure3d(factors=ONE)
BONES = {b.name: b.bones for b in FRAME.bodies} | {SHANK_LINE: ("tibia", "fibula")}
TOP_MM = 92.0


def to_body(body, points):
    return np.min([bone_distance(bone, points) for bone in BONES[body]], axis=0)


def points(frame):
    """All points of a structure, by what they belong to."""
    out = {("body", b.name): [b.centre_mm] for b in frame.bodies}
    out |= {("joint", j.name): [j.point_mm] for j in frame.links}
    return out | {("cable", c.name): [p for _, p in c.path] for c in frame.cords}


def length_mm(path):
    return float(np.linalg.norm(np.diff([p for _, p in path], axis=0), axis=1).sum())


def test_every_bone_belongs_to_one_body_and_the_shank_is_held():
    held = [bone for body in FRAME.bodies for bone in body.bones]
    assert sorted(held) == sorted(bone_names())
    assert len(FRAME.bodies) == 15
    assert [b.name for b in FRAME.bodies if b.held] == ["shank"]


def test_joints_link_all_bodies_and_have_a_note():
    reached = {"shank"}
    for _ in FRAME.links:
        for link in FRAME.links:
            if reached & set(link.bodies):
                reached |= set(link.bodies)
    assert reached == {b.name for b in FRAME.bodies}
    assert all(link.note for link in FRAME.links)
    assert len({link.name for link in FRAME.links}) == len(FRAME.links) == 15


@pytest.mark.parametrize("link", FRAME.links, ids=lambda link: link.name)
def test_joint_axes_are_orthonormal_and_right_handed(link):
    axes = np.array(link.axes)
    assert axes @ axes.T == pytest.approx(np.eye(3), abs=1e-12)
    assert np.linalg.det(axes) == pytest.approx(1.0)
    if link.name != "subtalar_joint":
        assert axes[0, 2] > 0.95  # positive is dorsiflexion


@pytest.mark.parametrize("link", [j for j in FRAME.links if not j.name.startswith(
    ("ankle", "metatarsophalangeal"))], ids=lambda link: link.name)
def test_joint_point_lies_between_its_bones(link):
    """Both bones are near, and no bone of a third body is as near as the farther of the two."""
    at = np.array([link.point_mm])
    mine = [float(to_body(body, at)[0]) for body in link.bodies]
    others = [to_body(b.name, at)[0] for b in FRAME.bodies if b.name not in link.bodies]
    assert max(mine) < min(*others, 8.0)


@pytest.mark.parametrize("ray", range(1, 6))
def test_toes_turn_about_the_centre_of_the_metatarsal_head(ray):
    joint = FRAME.link(f"metatarsophalangeal_joint_{ray}")
    head = anatomy().table["bones"][f"metatarsal_{ray}"]["chain"][0][-1]
    assert joint.point_mm == pytest.approx(head[:3])
    # the axis is square to the ray
    base = anatomy().table["bones"][f"metatarsal_{ray}"]["chain"][0][-2]
    along = np.subtract(head[:3], base[:3]) / np.linalg.norm(np.subtract(head[:3], base[:3]))
    assert abs(along @ joint.axes[0]) < math.sin(math.radians(2))


def test_ankle_axis_runs_through_the_tips_of_the_malleoli():
    ankle = FRAME.link("ankle_joint")
    line = np.array(ankle.point_mm) + np.linspace(-40, 40, 401)[:, None] * np.array(ankle.axes[0])
    medial, lateral = line[line[:, 2] < 0], line[line[:, 2] > 0]
    assert abs(bone_distance("tibia", medial).min()) < 2.0
    assert abs(bone_distance("fibula", lateral).min()) < 2.0
    # Isman & Inman 1969 (recalled): 80 deg to the tibia, 84 deg to the foot's mid-line
    x, y, z = ankle.axes[0]
    assert math.degrees(math.acos(-y)) == pytest.approx(80, abs=3)
    assert math.degrees(math.atan2(-x, z)) == pytest.approx(6, abs=3)


@pytest.mark.parametrize("cord", FRAME.cords, ids=lambda cord: cord.name)
def test_cable_lies_on_its_bones_inside_the_skin(cord):
    at = np.array([p for _, p in cord.path])
    inside = at[:, 1] < TOP_MM
    assert inside[1:].all()
    assert skin_distance(at[inside], cut=False).max() < -0.5
    own = np.array([to_body(body, at[k : k + 1])[0] for k, (body, _) in enumerate(cord.path)])
    ends = [k for k in (0, len(at) - 1) if inside[k]]
    assert own.min() > -0.3
    assert own[ends].max() < 2.0  # attached at the bone
    # pulleys lie at their bone or, for the Achilles tendon, tibialis posterior and the first slip
    # of the fascia, in the tissue
    assert own[1:-1].max(initial=0.0) < (36.0 if cord.name == "achilles" else 14.0)


@pytest.mark.parametrize("cord", FRAME.cords, ids=lambda cord: cord.name)
def test_cable_cuts_neither_bones_nor_skin(cord):
    at = np.array([p for _, p in cord.path])
    share = np.linspace(0, 1, 80)[:, None]
    line = np.vstack([a + share * (b - a) for a, b in pairwise(at)])
    line = line[line[:, 1] < TOP_MM]
    assert min(bone_distance(bone, line).min() for bone in bone_names()) > -0.5
    assert skin_distance(line, cut=False).max() < 0.0


def test_every_cable_has_a_source_and_stiffness_or_a_muscle():
    assert len({c.name for c in FRAME.cords}) == len(FRAME.cords)
    for cord in FRAME.cords:
        assert cord.source
        assert cord.stiffness_N_per_mm > 0 or cord.muscle
        assert {body for body, _ in cord.path} <= set(BONES)


def test_the_fascia_has_the_measured_stiffness_and_strength():
    slips = [FRAME.cord(name) for name in strands(FRAME, "plantar_fascia")]
    stiffness = [c.stiffness_N_per_mm for c in slips]
    # Kitaoka et al. 1994, Foot Ankle Int 15:557-560 (read): 203.7 N/mm, 1189 N
    assert sum(stiffness) == pytest.approx(203.7)
    assert sum(c.strength_N for c in slips) == pytest.approx(1189)
    assert stiffness == sorted(stiffness, reverse=True) and len(slips) == 5
    for slip in slips:
        assert slip.strength_N / 1189 == pytest.approx(slip.stiffness_N_per_mm / 203.7, rel=0.01)


@pytest.mark.parametrize("ray", range(1, 6))
def test_windlass_winds_each_slip_round_its_metatarsal_head(ray):
    """Dorsiflexing a toe pulls the slip by about the radius of the head and the pad below it."""
    slip = FRAME.cord(f"plantar_fascia_{ray}")
    joint = FRAME.link(f"metatarsophalangeal_joint_{ray}")
    assert slip.path[-1][0] == joint.bodies[1]
    assert slip.path[-2][0] == joint.bodies[0] == f"metatarsal_{ray}"
    centre = np.array(joint.point_mm)
    head = -bone_distance(joint.bodies[0], centre[None])[0]
    angle = math.radians(1.0)
    turn = turn_about(joint.axes[0], angle)
    bent = tuple((body, tuple(centre + turn @ np.subtract(p, centre)))
                 if body == joint.bodies[1] else (body, p) for body, p in slip.path)
    assert (length_mm(bent) - length_mm(slip.path)) / angle == pytest.approx(head + 2.0, rel=0.3)


def test_factors_scale_what_they_name():
    scaled = structure3d(factors={"arch_ligaments": 3.0, "arch_joints": 5.0})
    names = set()
    for a, b in zip(FRAME.cords, scaled.cords, strict=True):
        if b.stiffness_N_per_mm != a.stiffness_N_per_mm:
            names.add(a.name.rstrip("_2345"))
            assert b.stiffness_N_per_mm == pytest.approx(3.0 * a.stiffness_N_per_mm)
    assert names == {"spring_ligament", "long_plantar_ligament", "long_plantar_ligament_cuboid",
                     "short_plantar_ligament"}
    for a, b in zip(FRAME.links, scaled.links, strict=True):
        arch = a.name.startswith(("talonavicular", "calcaneocuboid", "tarsometatarsal"))
        assert b.stiffness_Nm_per_rad == pytest.approx(
            tuple((5.0 if arch else 1.0) * k for k in a.stiffness_Nm_per_rad))


def test_a_persons_factor_goes_to_every_strand_and_zero_removes_them():
    softer = structure3d(factors=ONE, stiffness={"plantar_fascia": 0.5, "plantar_fascia_2": 0.5})
    for a, b in zip(FRAME.cords, softer.cords, strict=True):
        fascia = a.name.startswith("plantar_fascia")
        factor = 0.25 if a.name == "plantar_fascia_2" else 0.5 if fascia else 1.0
        assert b.stiffness_N_per_mm == pytest.approx(factor * a.stiffness_N_per_mm)
    cut = structure3d(factors=ONE, stiffness={"plantar_fascia": 0.0, "spring_ligament": 0.0})
    gone = {c.name for c in FRAME.cords} - {c.name for c in cut.cords}
    assert gone == {*strands(FRAME, "plantar_fascia"), "spring_ligament"}


def test_subtalar_axis_takes_the_persons_angles_and_shift():
    # Isman & Inman 1969, Manter 1941 (recalled)
    assert FRAME.link("subtalar_joint").axes[0] == pytest.approx(tuple(subtalar_axis(42, 23)))
    own = structure3d(factors=ONE, inclination_degrees=35, deviation_degrees=10, axis_shift_mm=-6)
    axis = np.array(own.link("subtalar_joint").axes[0])
    assert math.degrees(math.asin(axis[1])) == pytest.approx(35)
    assert math.degrees(math.atan2(-axis[2], axis[0])) == pytest.approx(10)
    for key, there in points(FRAME).items():
        shift = (0, 0, -6) if key == ("joint", "subtalar_joint") else (0, 0, 0)
        assert np.subtract(points(own)[key], there) == pytest.approx(
            np.array([shift] * len(there)), abs=1e-12)


@pytest.mark.parametrize("angle", [-10.0, 15.0])
def test_the_shank_angle_turns_the_upper_points_about_the_ankle_axis(angle):
    leaning = structure3d(factors=ONE, shank_angle_degrees=angle)
    assert leaning.bodies == FRAME.bodies and leaning.links == FRAME.links
    ankle = FRAME.link("ankle_joint")
    axis = np.array(ankle.axes[0])
    turned = 0
    for a, b in zip(FRAME.cords, leaning.cords, strict=True):
        for (body, was), (_, now) in zip(a.path, b.path, strict=True):
            if body != SHANK_LINE:
                assert now == was
                continue
            turned += 1
            one, two = np.subtract(was, ankle.point_mm), np.subtract(now, ankle.point_mm)
            assert one @ axis == pytest.approx(two @ axis)
            # leaning forward carries a point above the ankle forward (to larger x)
            one, two = one - (one @ axis) * axis, two - (two @ axis) * axis
            sine = np.cross(two, one) @ axis / (np.linalg.norm(one) * np.linalg.norm(two))
            assert math.degrees(math.asin(sine)) == pytest.approx(angle)
            assert was[1] < 100 or (now[0] - was[0]) * angle > 0
    assert turned >= 9


def test_points_move_with_the_foot():
    person = points(structure3d(PERSON, factors=ONE))
    for key, there in points(FRAME).items():
        assert np.array(person[key]) == pytest.approx(morph(np.array(there), PERSON)), key
    # angles of the axes are the person's own, not the morph's
    for a, b in zip(FRAME.links, structure3d(PERSON, factors=ONE).links, strict=True):
        assert a.axes == b.axes


def test_muscles_are_named_with_their_shares():
    pull, counter = FRAME.muscles()
    assert pull["achilles"] == 1.0 and counter == {"tibialis_anterior": 1.0}
    assert set(pull) == {"achilles", "tibialis_posterior", "flexor_hallucis_longus",
                         "peroneus_longus", "peroneus_brevis",
                         *strands(FRAME, "flexor_digitorum_longus")}
    assert 0 < sum(v for k, v in pull.items() if k != "achilles") < 0.5


def test_committed_factors_are_used_by_default():
    from fefoot.foot.structure import calibrated_factors

    assert structure3d() == structure3d(factors=calibrated_factors())
    assert structure3d(replace(REFERENCE)) == structure3d()

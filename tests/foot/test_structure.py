"""Bodies, joints and cables of a section, and what moves them."""

import math
from dataclasses import replace

import numpy as np
import pytest

from fefoot.foot.morph import REFERENCE
from fefoot.foot.section import section_bones
from fefoot.foot.structure import SHANK_LINE, calibrated_factors, structure

SECTIONS = ("sagittal", "rearfoot")
ONE = {"arch_ligaments": 1.0, "arch_joints": 1.0}
LIGAMENTS = {"spring_ligament", "long_plantar_ligament", "short_plantar_ligament"}
JOINTS = {"midtarsal_joint", "tarsometatarsal_joint"}


def points(frame):
    """All points of a structure, by what they belong to."""
    out = {("body", b.name): [b.centre_mm] for b in frame.bodies}
    out |= {("joint", j.name): [j.point_mm] for j in frame.links}
    return out | {("cable", c.name): [p for _, p in c.path] for c in frame.cords}


@pytest.mark.parametrize("section", SECTIONS)
def test_every_bone_belongs_to_one_body(section):
    held = [bone for body in structure(section).bodies for bone in body.bones]
    assert sorted(held) == sorted(section_bones(section))


@pytest.mark.parametrize("section", SECTIONS)
def test_joints_and_cables_name_known_bodies(section):
    frame = structure(section)
    known = {b.name for b in frame.bodies}
    assert frame.bodies[0].held and not any(b.held for b in frame.bodies[1:])
    assert all(set(j.bodies) <= known for j in frame.links)
    assert all({b for b, _ in c.path} <= known | {SHANK_LINE} for c in frame.cords)
    # every body but the held one hangs on the chain of joints
    assert {j.bodies[1] for j in frame.links} == known - {frame.bodies[0].name}


@pytest.mark.parametrize("section", SECTIONS)
def test_every_cable_has_a_source_and_taut_stiffness_or_a_muscle(section):
    for cord in structure(section).cords:
        assert cord.source
        assert cord.stiffness_N_per_mm > 0 or cord.muscle


def test_factors_scale_what_they_name_and_nothing_else():
    plain = structure("sagittal", factors=ONE)
    scaled = structure("sagittal", factors={"arch_ligaments": 3.0, "arch_joints": 5.0})
    for a, b in zip(plain.cords, scaled.cords, strict=True):
        factor = 3.0 if a.name in LIGAMENTS else 1.0
        assert b.stiffness_N_per_mm == pytest.approx(factor * a.stiffness_N_per_mm)
        assert replace(a, stiffness_N_per_mm=0) == replace(b, stiffness_N_per_mm=0)
    for a, b in zip(plain.links, scaled.links, strict=True):
        factor = 5.0 if a.name in JOINTS else 1.0
        assert b.stiffness_Nm_per_rad == pytest.approx(factor * a.stiffness_Nm_per_rad)
        assert replace(a, stiffness_Nm_per_rad=0) == replace(b, stiffness_Nm_per_rad=0)


def test_the_committed_factors_are_used_by_default():
    assert set(calibrated_factors()) == set(ONE)
    assert structure("sagittal") == structure("sagittal", factors=calibrated_factors())


def test_the_fascia_has_the_measured_stiffness_and_strength():
    fascia = structure("sagittal").cord("plantar_fascia")
    # Kitaoka et al. 1994, Foot Ankle Int 15:557-560 (read): 203.7 N/mm, 1189 N
    assert (fascia.stiffness_N_per_mm, fascia.strength_N) == (203.7, 1189)


def test_a_persons_factor_scales_one_cable_and_zero_removes_it():
    plain = structure("sagittal")
    softer = structure("sagittal", stiffness={"plantar_fascia": 0.5})
    for a, b in zip(plain.cords, softer.cords, strict=True):
        factor = 0.5 if a.name == "plantar_fascia" else 1.0
        assert b.stiffness_N_per_mm == pytest.approx(factor * a.stiffness_N_per_mm)
    cut = structure("sagittal", stiffness={"plantar_fascia": 0.0})
    assert [c.name for c in cut.cords] == [
        c.name for c in plain.cords if c.name != "plantar_fascia"]
    assert cut.links == plain.links and cut.bodies == plain.bodies


def test_the_axis_shift_moves_only_the_subtalar_axis():
    plain, shifted = (points(structure("rearfoot", axis_shift_mm=s)) for s in (0.0, -6.0))
    for key, there in plain.items():
        moved = (-6.0, 0.0) if key == ("joint", "subtalar_joint") else (0.0, 0.0)
        assert np.subtract(shifted[key], there) == pytest.approx(np.array([moved] * len(there)))
    assert structure("sagittal", axis_shift_mm=-6.0) == structure("sagittal")


@pytest.mark.parametrize("angle", [-10.0, 15.0])
def test_the_shank_angle_turns_the_upper_points_about_the_ankle(angle):
    plain, leaning = (structure("sagittal", shank_angle_degrees=a) for a in (0.0, angle))
    assert plain.bodies == leaning.bodies and plain.links == leaning.links
    ankle = np.array(next(j.point_mm for j in plain.links if j.name == "ankle_joint"))
    turned = 0
    for a, b in zip(plain.cords, leaning.cords, strict=True):
        for (body, was), (_, now) in zip(a.path, b.path, strict=True):
            if body != SHANK_LINE:
                assert now == was
                continue
            turned += 1
            one, two = np.array(was) - ankle, np.array(now) - ankle
            assert np.hypot(*two) == pytest.approx(np.hypot(*one))
            # leaning forward carries a point above the ankle forward (to larger x)
            change = math.atan2(one[1], one[0]) - math.atan2(two[1], two[0])
            assert math.degrees(change) == pytest.approx(angle)
    assert turned >= 4


def test_the_structure_grows_with_the_foot():
    small, large = structure("sagittal"), structure(
        "sagittal", replace(REFERENCE, length_mm=1.1 * REFERENCE.length_mm))
    for key, there in points(small).items():
        x = np.array(there)[:, 0]
        assert np.array(points(large)[key])[:, 0] == pytest.approx(1.1 * x, abs=0.5), key


def test_muscles_are_named_with_their_shares():
    pull, counter = structure("sagittal").muscles()
    assert pull["achilles"] == 1.0 and counter == {"tibialis_anterior": 1.0}
    assert 0 < sum(v for k, v in pull.items() if k != "achilles") < 0.5
    assert structure("rearfoot").muscles() is None

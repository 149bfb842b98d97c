"""From a case to a question and a demand."""

import math
from dataclasses import replace

import pytest
from study_cases import ROOT

from fefoot import read_case
from fefoot.case import case_from_dict
from fefoot.case.schema import PERSON
from fefoot.foot.structure3d import structure3d
from fefoot.load.activity import activity
from fefoot.study.model3d import build3d
from fefoot.study.question import demand, heel_share, question


def asked(model, target="heel_pad", **person):
    case = case_from_dict({"model": model, "target": target,
                           "person": {"body_mass_kg": 70, **person}, "activity": {"name": "walking"},
                           "solver": {"mesh_size_mm": 7.0}})
    return question(case, None, case.activity.instants()[0])


def test_only_the_whole_foot_gets_the_angles_of_the_axis():
    assert asked("sagittal").axis_degrees is None and asked("rearfoot").axis_degrees is None
    assert asked("foot3d").axis_degrees == (42.0, 23.0)


def test_the_angles_of_a_case_are_those_of_the_structure_by_default():
    own = {key.name: key for key in PERSON}
    axis = structure3d().link("subtalar_joint").axes[0]
    assert own["subtalar_axis_inclination_degrees"].default == pytest.approx(
        math.degrees(math.asin(axis[1])))
    assert own["subtalar_axis_deviation_degrees"].default == pytest.approx(
        math.degrees(math.atan2(-axis[2], axis[0])))
    # Isman & Inman 1969 (recalled): 20.5 to 68.5 and 4 to 47 degrees among 46 legs
    for name, low, high in (("inclination", 20.5, 68.5), ("deviation", 4.0, 47.0)):
        key = own[f"subtalar_axis_{name}_degrees"]
        assert key.low <= low and key.high >= high


def test_the_persons_axis_reaches_the_joint_of_the_model():
    model = build3d(asked("foot3d", subtalar_axis_inclination_degrees=35,
                          subtalar_axis_deviation_degrees=10, subtalar_axis_shift_mm=-6))
    link, rest = model.structure.link("subtalar_joint"), structure3d().link("subtalar_joint")
    joint = model.system.joints[model.links["subtalar_joint"][1]]
    axis = joint.axes[0]
    assert math.degrees(math.asin(axis[1])) == pytest.approx(35.0)
    assert math.degrees(math.atan2(-axis[2], axis[0])) == pytest.approx(10.0)
    assert link.point_mm[2] - rest.point_mm[2] == pytest.approx(-6.0)


def test_the_demand_is_body_weight_times_the_table():
    case = read_case(ROOT / "cases" / "sore_fascia_walking.toml")
    case = replace(case, person=replace(
        case.person, body_mass_kg=80.0, length_mm=250.0))
    instant = activity("walking").at(77)
    found = demand(case, instant)
    # computed: 1.25 x 80 kg x 9.81 m/s2, 0.17 of it forward, 74 % of 250 mm (load/activities.toml)
    assert found.vertical_N == pytest.approx(981.0)
    assert found.fore_aft_N == pytest.approx(133.416)
    assert found.pressure_centre_mm == pytest.approx(185.0)


def test_the_heel_carries_what_the_lever_rule_gives():
    walking = activity("walking")
    # computed: heel at 34 and ball at 181.2 of 255 mm; centre of pressure at 26 %
    assert heel_share(walking.at(22)) == pytest.approx((181.2 - 66.3) / (181.2 - 34.0))
    assert heel_share(walking.at(5)) == 1.0
    assert heel_share(walking.at(92)) == 0.0

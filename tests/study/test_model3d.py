"""The whole foot as one system: what rides on what, what starts where, and standing."""

import math

import numpy as np
import pytest

from fefoot.device import Device, Layer
from fefoot.foot.morph import REFERENCE
from fefoot.foot.structure3d import structure3d, turn_about
from fefoot.load.stance import Demand
from fefoot.load.stance3d import Stance3d
from fefoot.material.table import material
from fefoot.mechanics.system import Load
from fefoot.study.model import CLEARANCE_MM, Question
from fefoot.study.model3d import build3d

INSOLE = Device("flat", "", "full", "flat", "flat", (Layer("eva_soft", 6.0),))


def question(device=None, **more):
    return Question("foot3d", REFERENCE, material("plantar_tissue_firm"),
                    {"eva_soft": material("eva_soft")}, device, mesh_size_mm=7.0, **more)


@pytest.fixture(scope="module")
def model():
    return build3d(question(INSOLE))


def test_bone_nodes_ride_on_their_bodies_and_the_rest_is_free(model):
    body_of = model.system.coordinates.body_of
    for body in model.structure.bodies:
        for bone in body.bones:
            expected = -1 if body.loose else model.bodies[body.name]
            assert set(body_of[model.mesh.nodes[f"bone:{bone}"]]) == {expected}
    assert (body_of[np.unique(model.mesh.facets["skin"])] == -1).all()
    assert (body_of[model.foot_nodes:len(model.mesh.points)] == -1).all()


def test_foot_and_device_start_clear_of_each_other(model):
    points = model.system.coordinates.points
    sole = points[np.unique(model.mesh.facets["plantar"])]
    under = np.unique(model.mesh.facets["device_top"])
    top, bottom = points[under, 1], points[np.unique(model.mesh.facets["device_bottom"]), 1]
    assert sole[:, 1].min() - top.max() == pytest.approx(CLEARANCE_MM, abs=1e-9)
    assert np.allclose(bottom, points[model.ground_node, 1])
    memory = model.system.memory(model.system.coordinates.start())
    state = model.system.coordinates.start()
    here = model.system.evaluate(state, Load(), model.system.rays(state, memory), memory,
                                 tangent=False)
    assert all(s.penetration_mm < 1e-9 for s in here.status)


def test_the_tissue_is_at_rest_at_the_start(model):
    system = model.system
    interior = system.interior(system.coordinates.start(), Load(), tangent=False)
    assert np.abs((interior.reduction.T @ interior.gradient)[: system.coordinates.first_body]
                  ).max() < 1e-9


@pytest.mark.parametrize("name", ["ankle_joint", "subtalar_joint", "metatarsophalangeal_joint_1"])
def test_a_joint_turns_about_its_own_axis(model, name):
    """Turning a joint's second body by 5 degrees shows as 5 degrees about the first axis alone."""
    co = model.system.coordinates
    link = model.structure.link(name)
    joint = model.system.joints[model.links[name][1]]
    spin = np.zeros(co.size)
    spin[co.body_slice(model.bodies[link.bodies[1]])][3:] = math.radians(5) * np.array(link.axes[0])
    state = co.moved(co.start(), spin)
    assert np.allclose(np.degrees(joint.relative_rad(state)), [5.0, 0.0, 0.0], atol=1e-9)
    assert joint.moments_Nmm(state)[0] > 0


def test_energy_does_not_change_when_everything_turns(model, rng):
    co, system = model.system.coordinates, model.system
    state = co.moved(co.start(), 0.02 * rng.standard_normal(co.size) * (
        np.arange(co.size) >= co.first_body))
    turn = turn_about([0.6, 0.0, 0.8], 0.7)
    turned = type(state)(state.x @ turn.T, state.centre @ turn.T, turn @ state.turn, state.angle)
    held = {s.name for s in system.springs if s.name.startswith("hold")}
    parts = [sum(term.evaluate(s.x)[0] for term in (*system.cables, *system.springs)
                 if term.name not in held) + sum(j.evaluate(s)[0] for j in system.joints)
             for s in (state, turned)]
    assert parts[0] > 1.0
    assert parts[1] == pytest.approx(parts[0], rel=1e-9)


def test_the_plate_takes_the_demand_and_slides(model):
    co = model.system.coordinates
    stance = Stance3d(model.system, model.ground, Demand(300.0, 20.0, 90.0),
                      structure3d().muscles(), 1, model.scale_nodes, model.ground_node)
    state = co.start()
    memory = model.system.memory(state)
    rays = model.system.rays(state, memory)
    touch = stance.touch(0.5)
    assert touch.held[co.body_slice(model.ground).start + 1] == pytest.approx(1.5)
    here = model.system.evaluate(state, Load(held=touch.held), rays, memory, tangent=False)
    load = stance.carry(state, here)(1.0)
    assert np.allclose(load.body_force[model.ground], [20.0, 300.0, 0.0, 0.0, 0.0, 0.0])
    plate = co.body_slice(model.ground)
    assert [k for k in range(plate.start, plate.stop) if k in load.held] == list(
        range(plate.start + 3, plate.stop))
    assert load.balance.share == pytest.approx((90.0 - 34.0) / (190.0 - 34.0))
    assert load.balance.support == plate.stop - 1

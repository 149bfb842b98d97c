"""Bending of metatarsal shafts against hand calculations, and the regions under the heads."""

import math
from types import SimpleNamespace

import numpy as np
import pytest

from fefoot.case.tissues import TISSUES, tissues_of
from fefoot.foot.landmarks import landmarks
from fefoot.foot.morph import REFERENCE, Dimensions
from fefoot.foot.structure3d import turn_about
from fefoot.material.table import material
from fefoot.outcome.comparison import compare_outcomes
from fefoot.outcome.regions import HEADS, SAGITTAL, masks3d
from fefoot.outcome.shafts3d import bending_moment_Nmm, shaft_moment3d_Nmm, shafts3d
from fefoot.outcome.values import Outcome
from fefoot.study.model import Question
from fefoot.study.model3d import build3d


def test_a_force_on_the_end_of_a_cantilever_bends_it():
    """M = F L for a force square to the axis; what pulls along or twists bends nothing."""
    end, centre, along = np.array([[130.0, 20.0, 5.0]]), np.array([100.0, 20.0, 5.0]), np.eye(3)[0]
    for force, moment in (((0, 40, 0), 1200.0), ((0, 0, -40), 1200.0), ((90, 0, 0), 0.0),
                          ((7, 30, 40), 1500.0)):
        assert bending_moment_Nmm(end, np.array([force], float), centre, along) == (
            pytest.approx(moment))
    twist, bend = np.array([500.0, 0, 0]), np.array([0, 0, -700.0])
    up = np.array([[0.0, 40.0, 0.0]])
    assert bending_moment_Nmm(end, up, centre, along, twist) == pytest.approx(1200.0)
    assert bending_moment_Nmm(end, up, centre, along, bend) == pytest.approx(500.0)
    beside = end + np.array([0.0, 0.0, 12.0])
    assert bending_moment_Nmm(beside, up, centre, along) == pytest.approx(1200.0)


@pytest.fixture(scope="module")
def model():
    return build3d(Question("foot3d", REFERENCE, material("plantar_tissue_firm"), {},
                            mesh_size_mm=7.0))


def solved(model, loads, state=None):
    """A model with given forces (node -> N) and nothing else on its bones."""
    co = model.system.coordinates
    force = np.zeros((len(co.points), 3))
    for node, value in loads.items():
        force[node] = value
    gradient = np.concatenate([-force.ravel(), np.zeros(co.full_size - co.node_dofs)])
    return SimpleNamespace(model=model, solution=SimpleNamespace(
        state=state or co.start(), evaluation=SimpleNamespace(gradient=gradient)))


def parts(model, ray):
    """Bone nodes of a metatarsal, their places along its axis from the centre, the axis."""
    co, body = model.system.coordinates, f"metatarsal_{ray}"
    nodes = model.mesh.nodes[f"bone:{body}"]
    along = np.subtract(model.structure.link(f"metatarsophalangeal_joint_{ray}").point_mm,
                        co.centres[model.bodies[body]])
    along /= np.linalg.norm(along)
    return nodes, (co.points[nodes] - co.centres[model.bodies[body]]) @ along, along


@pytest.mark.parametrize("ray", range(1, 6))
def test_a_force_under_the_head_gives_the_stress_of_a_hollow_shaft(model, ray):
    nodes, place, along = parts(model, ray)
    lever_mm, node = float(place.max()), int(nodes[np.argmax(place)])
    side = np.cross(along, [0.0, 0.0, 1.0])
    side /= np.linalg.norm(side)
    # square to the shaft, so that its lever is the distance along the axis
    found = {m.tissue: m for m in shafts3d(solved(model, {node: 100.0 * side}))}
    assert set(found) == {f"metatarsal_shaft_{k}" for k in range(1, 6)}
    radius = (6.3, 4.3, 4.1, 4.1, 4.5)[ray - 1]
    offset = model.system.coordinates.points[node] - model.system.coordinates.centres[
        model.bodies[f"metatarsal_{ray}"]]
    moment = np.cross(offset, 100.0 * side)
    bending = math.sqrt(moment @ moment - (moment @ along) ** 2)
    assert bending == pytest.approx(100.0 * lever_mm, rel=0.05)
    modulus = math.pi / 4 * radius**3 * (1 - 0.6**4)
    for name, measure in found.items():
        expected = bending / modulus if name.endswith(str(ray)) else 0.0
        assert measure.value == pytest.approx(expected, abs=1e-9)
        # Reilly & Burstein 1975, J Biomech 8:393-405 (recalled): 133 MPa in tension
        assert measure.strength == 133.0 and "Reilly" in measure.strength_source


def test_a_force_behind_the_section_does_not_bend_it(model):
    nodes, place, _ = parts(model, 2)
    behind = {int(n): np.array([0.0, 100.0, 0.0]) for n in nodes[place < 0]}
    assert shaft_moment3d_Nmm(solved(model, behind), "metatarsal_2",
                              "metatarsophalangeal_joint_2") == 0.0


def test_a_bone_in_balance_has_one_moment_from_both_sides(model):
    """Two couples and a force on the far part, held by what the near part needs."""
    co, body = model.system.coordinates, model.bodies["metatarsal_3"]
    nodes, place, along = parts(model, 3)
    far, near = nodes[np.argsort(place)[-3:]], nodes[np.argsort(place)[:3]]
    loads = dict(zip(map(int, far), np.array([[5.0, 60, 10], [0, 30, -40], [8, -20, 15]]),
                     strict=True))
    force = sum(loads.values())
    moment = sum(np.cross(co.points[n] - co.centres[body], f) for n, f in loads.items())
    # forces at three near nodes that balance force and moment (least squares, exact)
    rows = np.vstack([np.hstack([np.eye(3)] * 3), np.hstack([
        np.array([[0, -r[2], r[1]], [r[2], 0, -r[0]], [-r[1], r[0], 0]])
        for r in co.points[near] - co.centres[body]])])
    held = np.linalg.lstsq(rows, -np.concatenate([force, moment]), rcond=None)[0].reshape(3, 3)
    assert rows @ held.ravel() == pytest.approx(-np.concatenate([force, moment]), abs=1e-6)
    one = shaft_moment3d_Nmm(solved(model, loads | dict(zip(map(int, near), held, strict=True))),
                             "metatarsal_3", "metatarsophalangeal_joint_3")
    other = bending_moment_Nmm(co.points[near], held, co.centres[body], along)
    assert one == pytest.approx(other) and one > 100.0


def test_the_toes_joint_moment_bends_the_shaft_and_all_turns_with_the_foot(model):
    co, link = model.system.coordinates, model.structure.link("metatarsophalangeal_joint_2")
    toe = model.bodies["toe_2"]
    spin = np.zeros(co.size)
    spin[co.body_slice(toe)][3:] = math.radians(20.0) * np.array(link.axes[0])
    state = co.moved(co.start(), spin)
    # computed: 0.18 N m/rad, doubled at 30 degrees: k a (1 + (a/30)^2), nearly square to the ray
    expected = 180.0 * math.radians(20.0) * (1 + (20 / 30) ** 2)
    found = shaft_moment3d_Nmm(solved(model, {}, state), "metatarsal_2", link.name)
    assert found == pytest.approx(expected, rel=0.01)
    # a raised toe lifts the head that carries it, as a force from below does: the two add up
    nodes, place, along = parts(model, 2)
    node = int(nodes[np.argmax(place)])
    up = np.cross(link.axes[0], along)
    push = {node: 20.0 * up / np.linalg.norm(up)}
    alone, both = (shaft_moment3d_Nmm(solved(model, push, at), "metatarsal_2", link.name)
                   for at in (None, state))
    assert both == pytest.approx(alone + found, rel=0.02) and alone > 300.0
    turn = turn_about([0.6, 0.0, 0.8], 0.7)
    turned = type(state)(state.x @ turn.T, state.centre @ turn.T, turn @ state.turn, state.angle)
    assert shaft_moment3d_Nmm(solved(model, {}, turned), "metatarsal_2", link.name) == (
        pytest.approx(found))


PERSON = Dimensions(length_mm=280, heel_width_mm=58, forefoot_width_mm=110)


@pytest.mark.parametrize("dimensions", [REFERENCE, PERSON])
def test_regions_part_the_sole_and_each_head_has_its_own(dimensions):
    marks = landmarks(dimensions)
    x, z = np.meshgrid(np.linspace(-2, 1.02 * marks.length_mm, 300), np.linspace(-60, 60, 121))
    points = np.column_stack([x.ravel(), np.zeros(x.size), z.ravel()])
    regions = masks3d(points, marks)
    assert list(regions) == [*SAGITTAL, *HEADS]
    whole, heads = (sum(regions[n].astype(int) for n in names) for names in (SAGITTAL, HEADS))
    assert np.array_equal(whole, np.ones(x.size, int))
    assert np.array_equal(heads, regions["forefoot"].astype(int))
    places = np.column_stack([marks.metatarsal_head_x_mm, np.zeros(5), marks.metatarsal_head_z_mm])
    for forward in (-3.0, 0.0, 8.0):
        at = masks3d(places + np.array([forward, 0.0, 0.0]), marks)
        for number, name in enumerate(HEADS):
            assert at[name].tolist() == [k == number for k in range(5)], (forward, name)
    # along the second ray the bounds are those of the slices
    line = np.column_stack([np.linspace(0, marks.length_mm, 200), np.zeros(200),
                            np.full(200, marks.metatarsal_head_z_mm[1])])
    share = line[:, 0] / marks.length_mm
    for name, (low, high) in SAGITTAL.items():
        assert np.array_equal(masks3d(line, marks)[name], (share >= low) & (share < high)), name


def test_every_head_has_sole_and_tissue_in_both_meshes(model):
    marks = model.landmarks
    from fefoot.foot.mesh3d import reference_mesh

    for size in ("coarse", "default"):
        mesh = reference_mesh(size)
        sole = masks3d(mesh.points[np.unique(mesh.facets["plantar"])], marks)
        assert min(sole[name].sum() for name in HEADS) >= 12, size


def test_shafts_take_part_in_the_ranking(model):
    nodes, place, _ = parts(model, 2)
    loads = {int(nodes[np.argmax(place)]): np.array([0.0, 100.0, 0.0])}
    bare = Outcome("barefoot", "no device", 77.0, None, tuple(shafts3d(solved(model, loads))))
    assert compare_outcomes((bare,), "metatarsal_pad_2").ranking[0] == "metatarsal_shaft_2"


def test_tissues_of_each_ray_can_be_asked_about():
    for ray in range(1, 6):
        assert TISSUES[f"metatarsal_pad_{ray}"].quantities[0] == "peak_pressure_kPa"
        for name in (f"metatarsal_pad_{ray}", f"metatarsal_shaft_{ray}"):
            assert TISSUES[name].models == ("foot3d",) and name in tissues_of("foot3d")

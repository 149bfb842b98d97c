"""Section meshes: validity, named sets, determinism, and quality over many persons."""

from dataclasses import astuple

import numpy as np
import pytest

from fefoot.errors import InputError, MeshError
from fefoot.foot import (
    REFERENCE,
    Dimensions,
    bone_distance,
    bone_outlines,
    cell_quality,
    fascia_centre,
    fascia_direction,
    lift,
    mesh2d,
    morphed,
    section_bones,
    section_mesh,
    skin_distance,
    skin_outline,
)
from fefoot.foot.anatomy import anatomy
from fefoot.foot.fascia import fascia_edges
from fefoot.mechanics.mesh import boundary_facets

CASES = [("sagittal", False), ("sagittal", True), ("rearfoot", False)]


@pytest.fixture(scope="module")
def meshes():
    return {case: section_mesh(case[0], fascia=case[1]) for case in CASES}


def ring_area(points):
    x, y = points.T
    return 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def corner_area(mesh):
    a, b, c = (mesh.points[mesh.cells[:, k]] for k in range(3))
    return 0.5 * ((b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0])


@pytest.mark.parametrize("case", CASES)
def test_cells_are_sound_and_of_the_expected_number(meshes, case):
    mesh = meshes[case]
    assert (corner_area(mesh) > 0).all()
    assert cell_quality(mesh.points, mesh.cells).min() > 0.3
    assert 1500 < len(mesh.cells) < 4500
    assert np.array_equal(np.unique(mesh.cells), np.arange(len(mesh.points)))


@pytest.mark.parametrize("case", CASES)
def test_boundary_is_closed_and_encloses_the_area_of_the_cells(meshes, case):
    mesh = meshes[case]
    facets, _ = boundary_facets(mesh.cells)
    starts, ends = np.sort(facets[:, 0]), np.sort(facets[:, 1])
    assert np.array_equal(starts, ends) and len(np.unique(starts)) == len(starts)
    after, loops = dict(facets[:, :2].tolist()), 0
    while after:
        loops, node = loops + 1, next(iter(after))
        while node in after:
            node = after.pop(node)
    assert loops == 2  # the skin with the shank cut, and one hole for all bones and joint spaces
    a, b = mesh.points[facets[:, 0]], mesh.points[facets[:, 1]]
    green = 0.5 * (a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]).sum()
    assert green == pytest.approx(corner_area(mesh).sum(), rel=1e-12)


@pytest.mark.parametrize("case", CASES)
def test_bone_sets_lie_on_their_bone_and_are_disjoint(meshes, case):
    mesh, (name, _) = meshes[case], case
    bones = section_bones(name)
    assert set(mesh.nodes) == {f"bone:{bone}" for bone in bones} | {"shank_cut"}
    space = lift(name, mesh.points)
    distances = {bone: bone_distance(bone, space) for bone in bones}
    for bone in bones:
        ids = mesh.nodes[f"bone:{bone}"]
        assert len(ids) >= 5 and np.abs(distances[bone][ids]).max() < 0.05
        others = [np.abs(d[ids]).min() for other, d in distances.items() if other != bone]
        assert min(others) > 1.0
    every = np.concatenate(list(mesh.nodes.values()))
    assert len(np.unique(every)) == len(every)
    assert min(d.min() for d in distances.values()) > -0.05  # no tissue inside a bone
    assert mesh.points[mesh.nodes["shank_cut"], 1] == pytest.approx(92.0, abs=1e-9)


@pytest.mark.parametrize("case", CASES)
def test_skin_and_plantar_facets(meshes, case):
    mesh, (name, _) = meshes[case], case
    skin, plantar = mesh.facets["skin"], mesh.facets["plantar"]
    space = lift(name, mesh.points)
    assert np.abs(skin_distance(space[np.unique(skin)])).max() < 1e-6
    assert np.array_equal(skin[1:, 0], skin[:-1, 1])
    assert np.array_equal(plantar[1:, 0], plantar[:-1, 1])
    edge = mesh.points[plantar[:, 1]] - mesh.points[plantar[:, 0]]
    assert (edge[:, 0] > 0).all()  # outward normal (dy, -dx) points down
    outward = mesh.points[skin[:, 2]] + 0.2 * np.column_stack([
        mesh.points[skin[:, 1], 1] - mesh.points[skin[:, 0], 1],
        mesh.points[skin[:, 0], 0] - mesh.points[skin[:, 1], 0]])
    assert (skin_distance(lift(name, outward), cut=False) > 0).all()
    ends = mesh.points[[plantar[0, 0], plantar[-1, 1]]]
    if name == "sagittal":
        assert ends[0, 0] < 1.0 and ends[1, 0] > 245 and ends[:, 1].max() < 35
        assert np.linalg.norm(edge, axis=1).mean() == pytest.approx(2.4, abs=0.4)
    else:
        assert ends[0, 0] < -30 and ends[1, 0] > 30


def test_pads_have_the_reference_thickness(meshes):
    """Heel pad 17, metatarsal pad 11 mm of the reference foot, read off the mesh."""
    for case, bone, pad in ((CASES[0], "calcaneus", 17.0), (CASES[0], "metatarsal_2", 11.0),
                            (CASES[2], "calcaneus", 17.0)):
        mesh = meshes[case]
        lowest = mesh.points[mesh.nodes[f"bone:{bone}"], 1].min()
        sole = mesh.points[mesh.facets["plantar"], 1].min()
        assert lowest - sole == pytest.approx(pad, abs=0.6)


def test_the_same_mesh_twice_to_the_last_bit(meshes):
    for case, mesh in meshes.items():
        again = section_mesh(case[0], fascia=case[1])
        assert np.array_equal(again.points, mesh.points)
        assert np.array_equal(again.cells, mesh.cells)
        for store in ("nodes", "facets"):
            for key, ids in getattr(mesh, store).items():
                assert np.array_equal(getattr(again, store)[key], ids)


def test_fascia_is_a_strip_from_calcaneus_to_toe(meshes):
    mesh = meshes["sagittal", True]
    cells = mesh.cells[mesh.cells_of("fascia")]
    line, tangent = fascia_centre()
    inside = np.unique(cells)
    assert len(np.intersect1d(inside, mesh.nodes["bone:calcaneus"])) >= 3
    assert len(np.intersect1d(inside, mesh.nodes["bone:toe_2"])) >= 3
    boundary = np.unique(boundary_facets(mesh.cells)[0])
    held = np.concatenate([mesh.nodes["bone:calcaneus"], mesh.nodes["bone:toe_2"]])
    assert set(np.intersect1d(inside, boundary)) <= set(held)
    area = corner_area(mesh)[mesh.cells_of("fascia")].sum()
    middle = mesh.points[cells[:, :3]].mean(axis=1)
    free = (line[:, 0] > middle[:, 0].min()) & (line[:, 0] < middle[:, 0].max())
    length = np.linalg.norm(np.diff(line[free], axis=0), axis=1).sum()
    assert area / length == pytest.approx(anatomy().table["fascia"]["thickness_mm"], rel=0.02)
    direction = fascia_direction(middle)
    assert np.linalg.norm(direction, axis=1) == pytest.approx(1.0)
    assert (direction[:, 0] > 0.6).all() and np.abs(tangent[:, 0]).min() > 0.5
    under = np.abs(line[:, 0] - 190).argmin()
    assert 11.0 - (line[under, 1] + 1.2) == pytest.approx(1.6, abs=0.3)
    assert meshes["sagittal", False].region_names == ("tissue",)


def test_only_the_sagittal_section_has_a_fascia():
    with pytest.raises(ValueError, match="sagittal"):
        section_mesh("rearfoot", fascia=True)
    with pytest.raises(InputError, match="'sagittal'"):
        section_mesh("sagital")


@pytest.mark.parametrize("case", CASES)
def test_morphed_meshes_keep_their_quality(meshes, case):
    """40 random persons at +-20 % in every dimension, a quarter of them at the corners."""
    mesh, rng = meshes[case], np.random.default_rng(7)
    reference = np.array(astuple(REFERENCE))
    for k in range(40):
        share = rng.choice([-1.0, 1.0], 6) if k % 4 == 0 else rng.uniform(-1, 1, 6)
        person = morphed(mesh, case[0], Dimensions(*(reference * (1 + 0.2 * share))))
        assert person.cells is mesh.cells
        assert cell_quality(person.points, person.cells).min() > 0.25
    same = morphed(mesh, case[0], REFERENCE)
    assert same.points == pytest.approx(mesh.points, abs=1e-12)


def test_the_fascia_direction_follows_the_person(meshes):
    person = Dimensions(length_mm=290, navicular_height_mm=48)
    mesh = morphed(meshes["sagittal", True], "sagittal", person)
    cells = mesh.cells[mesh.cells_of("fascia")]
    inner = ~np.isin(cells, np.unique(boundary_facets(mesh.cells)[0])).any(axis=1)
    middle = mesh.points[cells[inner, :3]].mean(axis=1)
    line, _ = fascia_centre(person)
    nearest = np.sqrt(((middle[:, None] - line[None]) ** 2).sum(axis=2).min(axis=1))
    assert nearest.max() < 2.0
    assert np.abs(fascia_direction(middle, person)[:, 1]).max() < 0.75


@pytest.mark.parametrize("name", ["sagittal", "rearfoot"])
def test_outlines(name):
    outlines = bone_outlines(name)
    assert tuple(outlines) == section_bones(name)
    for bone, line in outlines.items():
        assert np.array_equal(line[0], line[-1])
        assert np.abs(bone_distance(bone, lift(name, line))).max() < 1e-6
        spacing = np.linalg.norm(np.diff(line, axis=0), axis=1)
        assert spacing.max() < 1.2
    skin = skin_outline(name)
    assert np.array_equal(skin[0], skin[-1]) and skin[:, 1].max() == pytest.approx(92.0)
    assert ring_area(skin[:-1]) > sum(abs(ring_area(line[:-1])) for line in outlines.values())


@pytest.mark.parametrize("size_mm", [2.5, 3.0, 5.0, 6.0])
def test_other_sizes(size_mm):
    for name, fascia in CASES:
        mesh = section_mesh(name, size_mm, fascia)
        assert cell_quality(mesh.points, mesh.cells).min() > 0.3


def test_outlines_that_cross_are_refused(monkeypatch):
    lower, upper = fascia_edges()
    drop = np.array([0.0, 12.0]) * np.sin(np.linspace(0.0, np.pi, len(lower)))[:, None]
    bend = np.array([0.0, 12.0]) * np.sin(np.linspace(0.0, np.pi, len(upper)))[:, None]
    monkeypatch.setattr(mesh2d, "fascia_edges", lambda: (lower - drop, upper - bend))
    with pytest.raises(MeshError, match="cross near"):
        section_mesh("sagittal", fascia=True)

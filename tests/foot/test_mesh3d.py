"""The committed meshes of the whole foot, their tags, and the morph to persons."""

from dataclasses import asdict
from itertools import combinations

import numpy as np
import pytest

from fefoot.errors import InputError, MeshError
from fefoot.foot import (
    REFERENCE,
    Dimensions,
    bone_distance,
    bone_names,
    dimension_range_mm,
    mesh3d,
    reference,
)
from fefoot.foot.anatomy import skin_distance
from fefoot.foot.mesh3d import (
    hole_distance,
    mesh_file,
    mirrored,
    morphed3d,
    reference_mesh,
    surface_error_mm,
    tetra_quality,
)
from fefoot.mechanics.element import quadrature, shape
from fefoot.mechanics.mesh import FACETS, boundary_facets

SIZES = ("coarse", "middle", "default")
FINER = {"coarse": 1.2, "middle": 1.25, "default": 1.3}
# share of bone nodes farther than 0.2 and than 1 mm from the bone's surface
OFF_BONE = {"coarse": (0.16, 0.02), "middle": (0.08, 0.008), "default": (0.03, 0.002)}
CELLS = {"coarse": (10_000, 13_000), "middle": (17_000, 22_000), "default": (30_000, 37_000)}


def volume_mm3(mesh):
    points, weights = quadrature(4, 4)
    jacobian = np.einsum("skd,mki->smid", shape(4, points)[1], mesh.points[mesh.cells])
    return float(weights @ np.linalg.det(jacobian).sum(axis=1))


def random_person(rng, spread):
    limits = {name: dimension_range_mm(name) for name in asdict(REFERENCE)}
    return Dimensions(**{
        name: float(np.clip(value * (1 + rng.uniform(-spread, spread)), *limits[name]))
        for name, value in asdict(REFERENCE).items()})


def check_persons(size, rng, count, spread):
    mesh = reference_mesh(size)
    worst = min(tetra_quality(morphed3d(mesh, random_person(rng, spread)).points, mesh.cells).min()
                for _ in range(count))
    assert worst > 0.05


@pytest.mark.parametrize("size", SIZES)
def test_size_and_quality(size):
    mesh = reference_mesh(size)
    quality = tetra_quality(mesh.points, mesh.cells)
    assert CELLS[size][0] <= len(mesh.cells) <= CELLS[size][1]
    assert quality.min() >= 0.15
    assert np.median(quality) >= 0.5


def test_quality_measure():
    """Regular 1, halved height as computed by hand, inverted negative, a mid-side node too far < 0."""
    corners = np.array([[1, 1, 1], [1, -1, -1], [-1, 1, -1], [-1, -1, 1.0]])
    pairs = [[0, 1], [1, 2], [2, 0], [0, 3], [1, 3], [2, 3]]
    cell = np.arange(10)[None]

    def quality(corners, shift=0.0):
        points = np.vstack([corners, corners[pairs].mean(axis=1)])
        points[4] += shift * (points[1] - points[0])
        return tetra_quality(points, cell)[0]

    sign = np.sign(np.linalg.det(corners[1:] - corners[0]))
    good = corners if sign > 0 else corners[[0, 2, 1, 3]]
    assert quality(good) == pytest.approx(1.0)
    assert quality(good[[0, 2, 1, 3]]) == pytest.approx(-1.0)
    unit = np.vstack([np.zeros(3), np.eye(3)])
    # det 1; the largest corner product is 1 x sqrt2 x sqrt2
    assert quality(unit) == pytest.approx(np.sqrt(2) / 2)
    assert quality(good, 0.1) < 1.0 and quality(good, 0.3) < 0.0


@pytest.mark.parametrize("spread, count", [(0.15, 100), (0.25, 30)])
def test_coarse_mesh_of_random_persons(spread, count, rng):
    check_persons("coarse", rng, count, spread)


@pytest.mark.slow
@pytest.mark.parametrize("spread, count", [(0.15, 100), (0.25, 30)])
def test_default_mesh_of_random_persons(spread, count, rng):
    check_persons("default", rng, count, spread)


def test_persons_share_numbering_and_the_reference_is_itself():
    mesh = reference_mesh("coarse")
    person = morphed3d(mesh, Dimensions(length_mm=280.0))
    assert person.cells is mesh.cells and person.nodes is mesh.nodes
    assert np.ptp(person.points[:, 0]) == pytest.approx(280 / 255 * np.ptp(mesh.points[:, 0]))
    assert morphed3d(mesh, REFERENCE).points == pytest.approx(mesh.points, abs=1e-10)


@pytest.mark.parametrize("size", SIZES)
def test_bone_nodes(size):
    """Every bone has nodes, they are disjoint, and their corners lie on that bone's surface."""
    mesh = reference_mesh(size)
    corner = np.zeros(len(mesh.points), bool)
    corner[mesh.cells[:, :4]] = True
    sets = [mesh.nodes[f"bone:{bone}"] for bone in bone_names()]
    assert set(mesh.nodes) == {f"bone:{bone}" for bone in bone_names()} | {"shank_cut"}
    skin, far = np.unique(mesh.facets["skin"]), []
    for bone, nodes in zip(bone_names(), sets, strict=True):
        assert len(nodes) >= 50
        assert not np.isin(nodes, skin).any()
        distance = np.abs(bone_distance(bone, mesh.points[nodes]))
        assert distance[corner[nodes]].max() < 0.2
        far.append(distance)
    # some mid-side nodes stay near the chord, for the shape of their element
    far = np.concatenate(far)
    assert (far > 0.2).mean() < OFF_BONE[size][0]
    assert (far > 1.0).mean() < OFF_BONE[size][1]
    assert all(len(np.intersect1d(a, b)) == 0 for a, b in combinations(sets, 2))
    assert len(np.intersect1d(np.concatenate(sets), mesh.nodes["shank_cut"])) == 0


@pytest.mark.parametrize("size", SIZES)
def test_skin_plantar_and_cut(size):
    mesh = reference_mesh(size)
    skin, plantar = mesh.facets["skin"], mesh.facets["plantar"]
    assert set(map(tuple, plantar)) < set(map(tuple, skin))
    assert np.abs(skin_distance(mesh.points[np.unique(skin[:, :3])], cut=False)).max() < 1e-6
    assert (mesh.points[mesh.nodes["shank_cut"], 1] == 92.0).all()
    corners = mesh.points[plantar[:, :3]]
    assert corners[..., 1].max() < 42.0
    # everything that could touch flat ground from below is plantar
    normal = np.cross(*(mesh.points[skin[:, k]] - mesh.points[skin[:, 0]] for k in (1, 2)))
    low = (mesh.points[skin[:, :3], 1].max(axis=1) < 10.0) & (normal[:, 1] < 0)
    assert set(map(tuple, skin[low])) <= set(map(tuple, plantar))
    # the sides of the heel that a cup would hold
    heel = corners.mean(axis=1)
    heel = heel[(heel[:, 0] < 60) & (heel[:, 1] > 20)]
    assert heel[:, 2].min() < -25 and heel[:, 2].max() > 25 and heel[:, 0].min() < 5
    # finer below than above
    side = np.linalg.norm(mesh.points[skin[:, 1]] - mesh.points[skin[:, 0]], axis=1)
    height = mesh.points[skin[:, :3], 1].mean(axis=1)
    assert np.median(side[height > 45]) > FINER[size] * np.median(side[height < 5])


@pytest.mark.parametrize("size", SIZES)
def test_boundary_is_closed_and_cells_meet_face_to_face(size):
    mesh = reference_mesh(size)
    faces = np.sort(mesh.cells[:, FACETS[10][:, :3]].reshape(-1, 3), axis=1)
    assert np.unique(faces, axis=0, return_counts=True)[1].max() == 2
    facets, _ = boundary_facets(mesh.cells)
    edges = facets[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    forward = set(map(tuple, edges.tolist()))
    assert len(forward) == len(edges)
    assert forward == {(b, a) for a, b in forward}
    # outward: the divergence theorem gives the volume of the straight-sided boundary
    a, b, c = np.moveaxis(mesh.points[facets[:, :3]], 1, 0)
    enclosed = np.einsum("ni,ni->", a, np.cross(b, c)) / 6
    assert enclosed == pytest.approx(volume_mm3(mesh), rel=0.02)


@pytest.fixture(scope="module")
def tissue_mm3():
    """Volume of tissue, from the signed distances on a grid of 2 mm."""
    axes = [np.arange(low + 1, high, 2.0) for low, high in ((-6, 262), (-4, 92), (-52, 56))]
    grid = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)
    inside = grid[skin_distance(grid) < 0]
    return 8.0 * (hole_distance(inside) > 0).sum()


@pytest.mark.parametrize("size, bound", [("coarse", 0.015), ("default", 0.01)])
def test_volume_is_that_of_the_signed_distances(size, bound, tissue_mm3):
    assert volume_mm3(reference_mesh(size)) == pytest.approx(tissue_mm3, rel=bound)


@pytest.mark.parametrize("size", SIZES)
def test_committed_mesh_is_that_of_the_present_anatomy(size):
    error = surface_error_mm(reference_mesh(size))
    assert error < 0.01, "the anatomy has changed: run python -m meshes.build and commit the files"


def test_a_changed_anatomy_is_noticed():
    mesh = reference_mesh("coarse")
    inner = np.setdiff1d(np.unique(boundary_facets(mesh.cells)[0]), mesh.facets["skin"])
    for nodes in (mesh.nodes["bone:cuboid"], np.unique(mesh.facets["plantar"]), inner):
        points = mesh.points.copy()
        points[nodes] += [0.0, 0.1, 0.0]
        assert surface_error_mm(mesh.moved(points)) > 0.05


def test_mirror_image():
    mesh = reference_mesh("coarse")
    left = mirrored(mesh)
    assert tetra_quality(left.points, left.cells).min() > 0.1
    assert volume_mm3(left) == pytest.approx(volume_mm3(mesh), rel=1e-12)
    for name, facets in left.facets.items():
        right = mesh.facets[name]
        normals = [np.cross(*(m.points[f[:, k]] - m.points[f[:, 0]] for k in (1, 2)))
                   for m, f in ((mesh, right), (left, facets))]
        assert normals[1] == pytest.approx(normals[0] * [1, 1, -1])
        middle = left.points[facets[:, [0, 1, 2]]] + left.points[facets[:, [1, 2, 0]]]
        assert np.abs(left.points[facets[:, 3:]] - middle / 2).max() < 3.0
    outer = {tuple(sorted(f)) for f in boundary_facets(left.cells)[0].tolist()}
    assert {tuple(sorted(f)) for f in left.facets["skin"].tolist()} <= outer
    back = mirrored(left)
    assert (back.points == mesh.points).all() and (back.cells == mesh.cells).all()


@pytest.mark.parametrize("content", [b"", b"PK\x03\x04 cut off", b"not a mesh"])
def test_a_damaged_file_is_named(monkeypatch, tmp_path, content):
    monkeypatch.setattr(mesh3d, "mesh_folder", lambda: tmp_path)
    (tmp_path / "foot3d_coarse.npz").write_bytes(content)
    mesh3d._read.cache_clear()
    with pytest.raises(MeshError, match=r"foot3d_coarse\.npz is damaged"):
        mesh3d.reference_mesh("coarse")
    mesh3d._read.cache_clear()


def test_unknown_size_and_missing_file(monkeypatch, tmp_path):
    with pytest.raises(InputError, match="coarse, default"):
        reference_mesh("fine")
    monkeypatch.setattr(reference, "PACKAGE", tmp_path / "fefoot")
    mesh3d._read.cache_clear()
    with pytest.raises(MeshError, match=r"meshes\.build"):
        reference_mesh("coarse")
    mesh3d._read.cache_clear()


def test_file_is_found_beside_or_inside_the_package(monkeypatch, tmp_path):
    assert mesh_file("default").is_file()
    monkeypatch.setattr(reference, "PACKAGE", tmp_path / "fefoot")
    assert mesh_file("default") == tmp_path / "meshes" / "foot3d_default.npz"
    (tmp_path / "fefoot" / "meshes").mkdir(parents=True)
    assert mesh_file("default") == tmp_path / "fefoot" / "meshes" / "foot3d_default.npz"

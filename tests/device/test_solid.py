"""The device as a solid and as an STL file: watertight, with the volume and surface of its fields."""

import numpy as np
import pytest

from fefoot.device import FEATURES, Device, Feature, Layer, feature
from fefoot.device.facets import Facets, faults
from fefoot.device.mesh3d import plan_mesh
from fefoot.device.solid import solids
from fefoot.device.stl import from_bench, to_bench, write_stl, written
from fefoot.device.surface import heights, interfaces_mm
from fefoot.errors import MeshError

COARSE_MM = 4.0
LAYERS = (Layer("eva_soft", 3.0), Layer("polypropylene", 4.0))


def device_with(*features, **parts):
    return Device("d", layers=LAYERS, features=features, **parts)


ALL = [
    device_with(feature(kind), base="foot" if FEATURES[kind].needs_base is None else "flat",
                length=length, underside=underside)
    for kind in FEATURES for length, underside in (("full", "flat"), ("to_metatarsals", "follow"))
    if FEATURES[kind].needs_length in (None, length)
]


@pytest.mark.parametrize("device", ALL, ids=lambda d: f"{d.features[0].kind}-{d.length}")
def test_every_feature_gives_watertight_solids(device, foot):
    whole, *layers = solids(device, foot, COARSE_MM)
    assert faults(whole) == []
    assert len(layers) == len(LAYERS) and all(faults(layer) == [] for layer in layers)
    assert sum(layer.volume_mm3() for layer in layers) == pytest.approx(whole.volume_mm3(), rel=1e-9)
    assert faults(whole.mirrored()) == []


def test_the_volume_is_the_integral_of_the_thickness(foot):
    device = device_with(feature("arch_fill"), feature("rearfoot_post"))
    whole, *_ = solids(device, foot, 1.5)
    plan, triangles = plan_mesh(device, foot, 3.0)
    corner = plan[triangles[:, :3]]
    a, b = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
    area = 0.5 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])
    # the rule with the three middles of the sides is exact for quadratic thickness
    middle = heights(device, foot, *np.moveaxis(plan[triangles[:, 3:]], -1, 0))
    thickness = (middle.top_mm - middle.bottom_mm).mean(axis=1)
    assert whole.volume_mm3() == pytest.approx((area * thickness).sum(), rel=2e-3)


@pytest.mark.parametrize("features", [
    (feature("heel_cup"), feature("medial_heel_skive", depth_mm=6.0)),
    (feature("relief"), feature("fascia_groove", width_mm=10.0)),
    (feature("metatarsal_pad", height_mm=8.0, length_mm=30.0),),
], ids=["rim", "hollows", "pad"])
def test_rims_bevels_and_hollows_are_resolved(features, foot):
    """Between its points the solid stays within 0.15 mm of the height field, measured upwards."""
    device = device_with(*features, length="to_metatarsals")
    whole, *_ = solids(device, foot)
    count = len(whole.points_mm) // 2
    top = whole.triangles[(whole.triangles >= count).all(axis=1)]
    centre = whole.points_mm[top].mean(axis=1)
    field = heights(device, foot, centre[:, 0], centre[:, 2])
    assert np.abs(interfaces_mm(device, field)[0] - centre[:, 1]).max() < 0.15


def test_a_solid_without_thickness_is_refused(foot, monkeypatch):
    import fefoot.device.solid as solid

    monkeypatch.setattr(solid, "interfaces_mm", lambda device, field: np.zeros(
        (3, *field.top_mm.shape)))
    with pytest.raises(MeshError, match=r"the device of .d. is no solid: .* volume of 0 mm3"):
        solids(device_with(), foot, COARSE_MM)


def test_bench_axes_are_a_rotation(rng):
    points = rng.normal(size=(5, 3))
    assert np.array_equal(from_bench(to_bench(points)), points)
    assert np.linalg.det(to_bench(np.eye(3))) == pytest.approx(1.0)
    assert to_bench(np.array([[0.0, 1.0, 0.0]])).tolist() == [[0.0, 0.0, 1.0]]


def test_the_file_is_what_other_libraries_read(tmp_path, foot):
    import meshio
    import trimesh

    whole, *_ = solids(device_with(feature("heel_cup")), foot, COARSE_MM)
    file = tmp_path / "a.stl"
    write_stl(file, whole, "a device \N{GREEK SMALL LETTER ALPHA}" + 90 * "x")
    assert file.stat().st_size == 84 + 50 * len(whole.triangles)
    other = trimesh.load(file)
    assert other.is_watertight and other.is_winding_consistent
    assert other.volume == pytest.approx(whole.volume_mm3(), rel=1e-5)
    assert len(meshio.read(file).points) == len(whole.points_mm)
    low, high = other.bounds
    assert low[2] == pytest.approx(0.0, abs=1e-6) and high[2] < 25.0 and high[0] > 250.0


def test_a_file_that_is_not_watertight_is_refused(tmp_path, foot):
    whole, *_ = solids(device_with(), foot, COARSE_MM)
    with pytest.raises(MeshError, match=r"a\.stl is not watertight: 3 open edges"):
        write_stl(tmp_path / "a.stl", Facets(whole.points_mm, whole.triangles[1:]), "")


def test_points_that_single_precision_merges_are_noticed(tmp_path, foot):
    whole, *_ = solids(device_with(), foot, COARSE_MM)
    far = Facets(whole.points_mm + np.array([3e9, 0.0, 0.0]), whole.triangles)
    with pytest.raises(MeshError, match="not watertight"):
        write_stl(tmp_path / "a.stl", far, "")


def test_reading_back_keeps_the_surface(tmp_path, foot):
    whole, *_ = solids(device_with(feature("arch_fill")), foot, COARSE_MM)
    write_stl(tmp_path / "a.stl", whole, "")
    back = written(tmp_path / "a.stl")
    assert back.volume_mm3() == pytest.approx(whole.volume_mm3(), rel=1e-5)
    assert back.area_mm2() == pytest.approx(whole.area_mm2(), rel=1e-5)


def test_a_feature_of_no_size_changes_nothing(foot):
    plain, *_ = solids(device_with(), foot, COARSE_MM)
    level, *_ = solids(device_with(Feature("rearfoot_post", {"angle_degrees": 0.0})), foot, COARSE_MM)
    assert level.volume_mm3() == pytest.approx(plain.volume_mm3(), rel=1e-6)

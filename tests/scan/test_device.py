"""Round trip: a device made as STL and read back as a scan has the same surface within 0.3 mm."""

from dataclasses import replace

import numpy as np
import pytest
from scan_shapes import turned

from fefoot.case import case_from_dict, read_case
from fefoot.device import Device, Layer, feature, section, section_mesh
from fefoot.device.mesh3d import device_mesh
from fefoot.device.outline import ends_x_mm, margin_mm
from fefoot.device.section import sagittal_plane
from fefoot.device.solid import solids
from fefoot.device.stl import write_stl
from fefoot.device.surface import heights
from fefoot.errors import InputError
from fefoot.foot.landmarks import landmarks
from fefoot.foot.morph import REFERENCE
from fefoot.making import make
from fefoot.scan.scan import scanned
from fefoot.scan.values import ScanChoice

FOOT = landmarks(REFERENCE)
LAYERS = (Layer("eva_soft", 3.0), Layer("polypropylene", 3.0))
SAME_MM = 0.3
DEVICES = {
    "arch shell": Device("d", "", "to_metatarsals", "flat", "follow", LAYERS, (
        feature("arch_fill"),)),
    "cup, skive, post": Device("d", "", "to_metatarsals", "flat", "flat", LAYERS, (
        feature("heel_cup", depth_mm=14.0), feature("medial_heel_skive"),
        feature("rearfoot_post", angle_degrees=4.0))),
    "full, pad, groove": Device("d", "", "full", "flat", "flat", LAYERS, (
        feature("arch_fill"), feature("metatarsal_pad"), feature("fascia_groove"),
        feature("relief", place="metatarsal_head_2"))),
    "flat": Device("d", "", "full", "flat", "flat", LAYERS),
}


def points_on_top(device):
    whole, *_ = solids(device, FOOT, 2.0)
    plan = whole.points_mm[len(whole.points_mm) // 2:]
    return plan[:, 0], plan[:, 2]


def distance_mm(device, again):
    """Largest distance along the normal between two tops, over the first one's plan points."""
    x, z = points_on_top(device)
    step = 0.25
    up = heights(device, FOOT, x, z).top_mm
    slope_x = (heights(device, FOOT, x + step, z).top_mm - heights(device, FOOT, x - step, z).top_mm)
    slope_z = (heights(device, FOOT, x, z + step).top_mm - heights(device, FOOT, x, z - step).top_mm)
    steep = np.hypot(np.nan_to_num(slope_x), np.nan_to_num(slope_z)) / (2.0 * step)
    away = np.abs(heights(again, FOOT, x, z).top_mm - up)
    return float((away / np.sqrt(1.0 + steep**2)).max())


def read_back(device, path, rotation=None, shift=(0.0, 0.0, 0.0), spacing_mm=1.5, **choice):
    """Make a device, move the file, read it as a scan, and start a device from it."""
    whole, *_ = solids(device, FOOT, spacing_mm)
    write_stl(path, whole, "round trip")
    if rotation is not None:
        import trimesh

        mesh = trimesh.load(path)
        mesh.vertices = mesh.vertices @ rotation.T + shift
        mesh.export(path)
    scan = scanned(path, ScanChoice(path.name, "device", **choice), "right", FOOT)
    return scan, replace(device, base="scan", features=(), surface=scan.grid)


@pytest.mark.parametrize("name", [pytest.param(name, marks=[pytest.mark.slow] if name == "flat" else [])
                                  for name in DEVICES])
def test_round_trip_from_any_place(name, tmp_path, rng):
    device = DEVICES[name]
    scan, again = read_back(device, tmp_path / "a.stl", turned(rng), rng.normal(size=3) * 100.0)
    assert distance_mm(device, again) < SAME_MM
    assert margin_mm(again) == pytest.approx(margin_mm(device), abs=0.05)
    assert ends_x_mm(again, FOOT, np.zeros_like) == pytest.approx(
        ends_x_mm(device, FOOT, np.zeros_like), abs=0.1)
    assert ("cannot be told" in scan.facts[2]) == (name in ("flat", "cup, skive, post"))


def test_round_trip_with_the_files_own_axes(tmp_path):
    """A shell moulded to the foot rolls on a table, so that only its axes say how it stands."""
    device = Device("d", "", "to_metatarsals", "foot", "follow", LAYERS)
    _, again = read_back(device, tmp_path / "a.stl", align="as_made")
    assert distance_mm(device, again) < SAME_MM


@pytest.mark.parametrize("device", [
    DEVICES["full, pad, groove"], DEVICES["cup, skive, post"],
    Device("d", "", "to_metatarsals", "foot", "follow", LAYERS)], ids=["full", "short", "rolling"])
def test_round_trip_by_landmarks(device, tmp_path, rng):
    """A short device has the landmarks where its front edge would go on level."""
    rotation, shift = turned(rng), rng.normal(size=3) * 50.0
    x = np.array([FOOT.heel_centre_x_mm, *(FOOT.metatarsal_head_x_mm[k] for k in (0, 4))])
    z = np.array([0.0, *(FOOT.metatarsal_head_z_mm[k] for k in (0, 4))])
    top = heights(device, FOOT, x, z).top_mm if device.length == "full" else \
        heights(device, FOOT, x[0], 0.0).top_mm + FOOT.plantar(x, z)
    marks = np.column_stack([x, -z, top])
    given = tuple(map(tuple, marks @ rotation.T + shift))
    _, again = read_back(device, tmp_path / "a.stl", rotation, shift, align="landmarks",
                         landmarks=given)
    assert distance_mm(device, again) < SAME_MM


def test_the_other_side_is_noticed(tmp_path):
    whole, *_ = solids(DEVICES["arch shell"], FOOT, 1.5)
    write_stl(tmp_path / "a.stl", whole.mirrored(), "")
    choice = ScanChoice("a.stl", "device")
    with pytest.raises(InputError, match="looks like a left one"):
        scanned(tmp_path / "a.stl", choice, "right", FOOT)
    left = scanned(tmp_path / "a.stl", choice, "left", FOOT)
    again = replace(DEVICES["arch shell"], base="scan", features=(), surface=left.grid)
    assert distance_mm(DEVICES["arch shell"], again) < SAME_MM


def test_a_scanned_device_meshes_like_its_original(tmp_path, rng):
    device = DEVICES["cup, skive, post"]
    _, again = read_back(device, tmp_path / "a.stl")
    for one in (device, again):
        cut = section(one, FOOT, sagittal_plane(np.zeros_like))
        assert len(section_mesh(cut).cells) > 50 and len(device_mesh(one, FOOT, 9.0).cells) > 100
    volumes = [solids(one, FOOT, 2.0)[0].volume_mm3() for one in (device, again)]
    assert volumes[1] == pytest.approx(volumes[0], rel=2e-3)


def test_features_go_on_top_of_a_scan(tmp_path):
    _, again = read_back(DEVICES["arch shell"], tmp_path / "a.stl")
    lifted = replace(again, features=(feature("heel_lift", height_mm=6.0),))
    x, z = np.array([30.0]), np.array([0.0])
    assert heights(lifted, FOOT, x, z).top_mm - heights(again, FOOT, x, z).top_mm == pytest.approx(6.0)


def test_the_whole_way_of_a_left_device(tmp_path):
    """Case, make, the same file as the scan of a second case, make again: the same solid."""
    first = {
        "model": "foot3d", "target": "plantar_fascia", "person": {"body_mass_kg": 70, "side": "left"},
        "device": [{"name": "cup", "layer": [{"material": "eva_firm", "thickness_mm": 6}],
                    "feature": [{"kind": "heel_cup"}, {"kind": "arch_fill"}]}]}
    make(case_from_dict(first), None, tmp_path / "one")
    (tmp_path / "case.toml").write_text(
        'model = "foot3d"\ntarget = "plantar_fascia"\n[person]\nbody_mass_kg = 70\nside = "left"\n'
        '[scan]\nfile = "one/cup.stl"\nkind = "device"\n[[device]]\nname = "again"\nbase = "scan"\n'
        '[[device.layer]]\nmaterial = "eva_firm"\nthickness_mm = 6\n')
    case = read_case(tmp_path / "case.toml")
    assert case.scan.measured == {} and case.person.length_mm == 255.0
    make(case, None, tmp_path / "two")
    import trimesh

    one, two = (trimesh.load(tmp_path / folder) for folder in ("one/cup.stl", "two/again.stl"))
    assert two.volume == pytest.approx(one.volume, rel=2e-3)
    assert np.allclose(two.bounds, one.bounds, atol=SAME_MM)
    page = (tmp_path / "two" / "build_sheet.html").read_text(encoding="utf-8")
    assert "Scan of a device: cup.stl" in page

"""A scanned foot or cast: placed, checked, measured, and the dimensions given to the person."""

from dataclasses import replace

import numpy as np
import pytest
import trimesh
from scan_shapes import PERSON, foot, turned, without, write, write_as_made

from fefoot.case import read_case, resolved_toml
from fefoot.cli import main
from fefoot.device import Device, Layer, heights
from fefoot.device.facets import Facets
from fefoot.device.outline import front_x_mm
from fefoot.errors import InputError
from fefoot.foot.landmarks import landmarks
from fefoot.foot.morph import REFERENCE, plantar_height_mm
from fefoot.scan.foot_pose import landmark_places
from fefoot.scan.measure import reference_sole_mm
from fefoot.scan.scan import scanned
from fefoot.scan.values import ScanChoice

MARKS = landmarks(REFERENCE)
CASE = """model = "sagittal"
target = "plantar_fascia"
[person]
body_mass_kg = 70
{person}
[scan]
file = "{file}"
kind = "foot"
{scan}
[[device]]
name = "shell"
base = "scan"
underside = "follow"
[[device.layer]]
material = "polypropylene"
thickness_mm = 3
"""


def scan_of(path, side="right", kind="foot", **choice):
    return scanned(path, ScanChoice(path.name, kind, **choice), side, MARKS)


@pytest.fixture(scope="module", name="rotation")
def a_rotation():
    return turned(np.random.default_rng(4))


@pytest.fixture(scope="module", name="automatic")
def an_automatic_scan(tmp_path_factory, rotation):
    place = tmp_path_factory.mktemp("scan")
    return scan_of(write(foot(), place / "foot.ply", rotation=rotation, shift=(90, -300, 40), mm=10.0))


def test_any_place_and_unit_are_found(automatic):
    """The points come back to where the model has them, within half a millimetre."""
    from scipy.spatial import cKDTree

    distance, _ = cKDTree(foot().points_mm).query(automatic.facets.points_mm)
    assert distance.max() < 0.5
    assert automatic.facets.volume_mm3() > 0.0
    assert automatic.facets.points_mm[:, 1].min() == pytest.approx(0.0, abs=1e-9)


def test_what_was_found_is_stated(automatic):
    words = " ".join(automatic.facts)
    for needed in ("triangles, closed", "Unit cm (guessed from its size)", "Placed automatically",
                   "Measured: length", "cannot be measured on the skin"):
        assert needed in words, needed


def test_the_person_is_measured(automatic):
    measured = automatic.measured
    assert measured["length_mm"] == pytest.approx(PERSON.length_mm, abs=1.0)
    assert measured["heel_width_mm"] == pytest.approx(PERSON.heel_width_mm, abs=1.0)
    assert measured["forefoot_width_mm"] == pytest.approx(PERSON.forefoot_width_mm, abs=1.0)
    assert measured["navicular_height_mm"] == pytest.approx(PERSON.navicular_height_mm, abs=1.5)
    assert set(measured) == {"length_mm", "heel_width_mm", "forefoot_width_mm", "navicular_height_mm"}


def test_the_sole_is_the_skins(tmp_path):
    """On the reference foot: the grid against the signed distance, where the skin faces down."""
    scan = scan_of(write_as_made(foot(REFERENCE), tmp_path / "foot.stl"), align="as_made")
    x, z = (a.ravel() for a in np.meshgrid(np.linspace(20.0, 190.0, 35), np.linspace(-16.0, 16.0, 9)))
    away = scan.grid.at(x, z) - reference_sole_mm(x, z)
    assert np.abs(away - np.median(away)).max() < 0.7 and abs(np.median(away)) < 0.5


def test_a_shell_on_a_scanned_sole_stands_on_heel_and_front_edge(automatic):
    """Its top is the sole from the heel to the arch; a round heel or a hanging front would roll."""
    marks = landmarks(PERSON)
    shell = Device("d", "", "to_metatarsals", "scan", "follow", (Layer("polypropylene", 3.0),),
                   surface=automatic.grid)
    z = np.linspace(-12.0, 12.0, 9)
    heel = heights(shell, marks, np.full_like(z, marks.heel_centre_x_mm), z)
    assert np.abs(heel.bottom_mm).max() == 0.0
    back = heights(shell, marks, np.linspace(15.0, 90.0, 40), 0.0)
    sole = automatic.grid.at(np.linspace(15.0, 90.0, 40), 0.0)
    assert back.top_mm == pytest.approx(sole + 3.0)
    edge = heights(shell, marks, front_x_mm(shell, marks, z), z)
    assert np.abs(edge.bottom_mm).max() < 1e-9
    full = replace(shell, length="full")
    x = np.linspace(150.0, 200.0, 20)
    assert heights(full, marks, x, 0.0).top_mm == pytest.approx(
        np.maximum(automatic.grid.at(x, 0.0), 0.0) + 3.0)


def test_a_left_scan_is_the_mirror_image(tmp_path, automatic, rotation):
    left = write(foot().mirrored(), tmp_path / "left.obj", rotation=rotation)
    scan = scan_of(left, side="left")
    for name, value in automatic.measured.items():
        assert scan.measured[name] == pytest.approx(value, abs=0.3), name
    with pytest.raises(InputError, match="looks like a left one, and the person's side is right"):
        scan_of(left, side="right")


def test_landmarks_place_a_foot(tmp_path, rotation):
    marks = landmarks(PERSON)
    x = np.array([marks.heel_centre_x_mm, *(marks.metatarsal_head_x_mm[k] for k in (0, 4))])
    z = np.array([0.0, *(marks.metatarsal_head_z_mm[k] for k in (0, 4))])
    points = np.column_stack([x, plantar_height_mm(x, z, PERSON), z])
    file = write(foot(), tmp_path / "foot.ply", rotation=rotation, shift=(5, 6, 7))
    given = tuple(map(tuple, points @ rotation.T + [5, 6, 7]))
    scan = scan_of(file, align="landmarks", landmarks=given)
    assert np.allclose(scan.landmarks_mm[1:] - scan.landmarks_mm[0], points[1:] - points[0], atol=0.5)
    assert "Placed by three landmarks" in " ".join(scan.facts)
    assert scan.measured["length_mm"] == pytest.approx(PERSON.length_mm, abs=1.0)
    swapped = (given[0], given[2], given[1])
    with pytest.raises(InputError, match="the foot lies under the ground"):
        scan_of(file, align="landmarks", landmarks=swapped)


def test_landmark_places_have_the_landmarks_distances(rng):
    points = rng.normal(size=(3, 3)) * 5.0 + [[0, 0, 0], [150, 0, -30], [130, 0, 40]]
    places = landmark_places(points)
    assert np.linalg.norm(places[2] - places[1]) == pytest.approx(
        np.linalg.norm(points[2] - points[1]), rel=1e-3)
    assert np.linalg.norm(places[1:].mean(0) - places[0]) == pytest.approx(
        np.linalg.norm(points[1:].mean(0) - points[0]), rel=1e-3)


def test_the_ankle_and_a_single_sheet_may_be_open(tmp_path):
    ankle = scan_of(write_as_made(without(foot(), lambda x, y, z: y > 70.0), tmp_path / "a.ply"),
                    kind="cast", align="as_made")
    assert "open at the ankle" in ankle.facts[0]
    sole = scan_of(write(without(foot(), lambda x, y, z: y > 28.0), tmp_path / "b.ply"))
    assert "a sheet with a border" in sole.facts[0]
    assert sole.measured["length_mm"] == pytest.approx(PERSON.length_mm, abs=1.5)


def test_holes_are_filled_up_to_a_limit(tmp_path):
    def hole(radius):
        return without(foot(), lambda x, y, z: (np.hypot(x - 150.0, z) < radius) & (y < 20.0))

    small = scan_of(write_as_made(hole(4.0), tmp_path / "a.ply"), align="as_made")
    assert "1 small hole filled" in small.facts[0]
    assert np.isfinite(small.grid.heights_mm).all() and float(small.grid.at(150.0, 0.0)) < 6.0
    with pytest.raises(InputError, match="the scan is open: it has a hole") as caught:
        scan_of(write_as_made(hole(20.0), tmp_path / "b.ply"), align="as_made")
    assert "from the back of the heel" in str(caught.value) and "do: " in str(caught.value)


def test_triangles_turned_over_and_specks_are_mended(tmp_path, rng):
    facets = foot()
    flip = rng.random(len(facets.triangles)) < 0.1
    mixed = facets.triangles.copy()
    mixed[flip] = mixed[flip, ::-1]
    speck = np.array([[0.0, 300.0, 0.0], [1.0, 300.0, 0.0], [0.0, 300.0, 1.0]])
    both = Facets(np.vstack([facets.points_mm, speck]), np.vstack(
        [mixed, len(facets.points_mm) + np.arange(3)]))
    scan = scan_of(write_as_made(both, tmp_path / "a.ply"), align="as_made")
    assert "1 loose piece left out" in scan.facts[0] and "turned to look outwards" in scan.facts[0]
    assert scan.measured["length_mm"] == pytest.approx(PERSON.length_mm, abs=1.0)


def test_what_is_no_foot_is_refused(tmp_path):
    trimesh.creation.icosphere(subdivisions=4, radius=120.0).export(tmp_path / "a.stl")
    with pytest.raises(InputError, match="not have the shape of a foot"):
        scan_of(tmp_path / "a.stl")


def test_an_insole_is_no_foot(tmp_path):
    """A closed slab with the outline of a foot."""
    slab = trimesh.creation.box((240.0, 90.0, 21.0)).subdivide_to_size(15.0)
    slab.export(tmp_path / "insole.stl")
    with pytest.raises(InputError, match="as flat as an insole") as found:
        scan_of(tmp_path / "insole.stl")
    assert "kind = 'device'" in found.value.hint


def test_the_person_takes_what_the_case_file_does_not_give(tmp_path, capsys):
    write_as_made(foot(), tmp_path / "foot.stl")
    file = tmp_path / "case.toml"
    file.write_text(CASE.format(file="foot.stl", person="forefoot_width_mm = 101",
                                scan='align = "as_made"'))
    case = read_case(file)
    assert case.person.length_mm == pytest.approx(PERSON.length_mm, abs=1.0)
    assert case.person.forefoot_width_mm == 101.0 and case.person.heel_pad_mm == 17.0
    assert case.scan.used == ("length_mm", "heel_width_mm", "navicular_height_mm")
    assert "forefoot width 101 mm from the case file, against" in case.scan.facts[-1]
    assert case.devices[0].surface is case.scan.grid
    assert main(["check", str(file), "--picture", str(tmp_path / "scan.png")]) == 0
    out = capsys.readouterr().out
    assert "scan of a foot, foot.stl" in out and "length, heel width and navicular height from" in out
    assert (tmp_path / "scan.png").read_bytes()[:4] == b"\x89PNG"
    (tmp_path / "resolved.toml").write_text(resolved_toml(case), encoding="utf-8")
    assert read_case(tmp_path / "resolved.toml") == case


@pytest.mark.parametrize(("scan", "words"), [
    ('heel = [1, 2, 3]', "three landmarks are needed"),
    ('heel = [1, 2]', "this is not a point"),
    ('align = "landmarks"', "no landmarks to place the scan by"),
    ('heel = [1, 2, 3]\nfirst_head = [1, 2, 3]\nfifth_head = [1, 2, 3]\nalign = "automatic"',
     "not to be placed by them"),
    ('unit = "feet"', "unknown unit"), ('colour = "red"', "unknown key"),
])
def test_wrong_keys_are_refused_before_the_file_is_read(scan, words, tmp_path):
    file = tmp_path / "case.toml"
    file.write_text(CASE.format(file="none.stl", person="", scan=scan))
    with pytest.raises(InputError, match=words):
        read_case(file)


def test_a_base_needs_a_scan(tmp_path):
    text = CASE.format(file="x", person="", scan="")
    start, end = text.index("[scan]"), text.index("[[device]]")
    file = tmp_path / "case.toml"
    file.write_text(text[:start] + text[end:])
    with pytest.raises(InputError, match="no scan to start from"):
        read_case(file)

"""Scan files: what can be read, and one clear error for everything else."""

import struct

import numpy as np
import pytest
import trimesh
from scan_shapes import foot, write

import fefoot.scan.read as reading
from fefoot.cli import main
from fefoot.errors import InputError
from fefoot.scan.read import read_facets
from fefoot.scan.units import unit_of


@pytest.fixture(scope="module", name="sphere")
def a_sphere():
    return trimesh.creation.icosphere(subdivisions=3, radius=100.0)


@pytest.mark.parametrize(("name", "options"), [
    ("a.stl", {}), ("b.STL", {}), ("c.stl", {"file_type": "stl_ascii"}), ("a.ply", {}),
    ("b.ply", {"encoding": "ascii"}), ("a.obj", {})])
def test_formats(sphere, tmp_path, name, options):
    file = tmp_path / name
    data = sphere.export(file_type=options.pop("file_type", name[2:].lower()), **options)
    file.write_bytes(data if isinstance(data, bytes) else data.encode())
    facets = read_facets(file)
    assert len(facets.triangles) == len(sphere.faces) and len(facets.points_mm) == len(sphere.vertices)
    assert facets.volume_mm3() == pytest.approx(sphere.volume, rel=1e-5)


def test_quads_are_cut(tmp_path):
    lines = [f"v {x} {y} {0.01 * x * y}" for x in range(13) for y in range(13)]
    lines += [f"f {13 * i + j + 1} {13 * i + j + 14} {13 * i + j + 15} {13 * i + j + 2}"
              for i in range(12) for j in range(12)]
    (tmp_path / "a.obj").write_text("\n".join(lines))
    assert len(read_facets(tmp_path / "a.obj").triangles) == 288


def _binary(sphere):
    return sphere.export(file_type="stl")


BAD = {
    "empty.stl": (lambda s: b"", "empty"),
    "cut.stl": (lambda s: _binary(s)[:-700], "cut off.*1266 triangles of the 1280"),
    "short.stl": (lambda s: _binary(s)[:60], "cut off"),
    "half.stl": (lambda s: s.export(file_type="stl_ascii")[:9000].encode(), "endsolid"),
    "picture.stl": (lambda s: b"\xff\xd8\xff\xe0" + bytes(range(256)) * 30, "cut off, or it is no STL"),
    "prose.obj": (lambda s: b"the quick brown fox\n" * 40, "empty or hardly|OBJ mesh"),
    "wrong.obj": (lambda s: b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", "no OBJ mesh, or it is damaged"),
    "few.obj": (lambda s: b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "empty or hardly a surface"),
    "cut.ply": (lambda s: s.export(file_type="ply")[:-900], "no PLY mesh, or it is damaged"),
    "text.ply": (lambda s: b"ply\nformat ascii 1.0\nend_header\n", "PLY mesh|empty or hardly"),
    "points.ply": (lambda s: trimesh.PointCloud(s.vertices).export(file_type="ply"),
                   "empty or hardly a surface"),
    "nan.stl": (lambda s: _binary(s)[:96] + struct.pack("<f", np.nan) + _binary(s)[100:],
                "1 triangles of the scan have points that are no numbers"),
    "inf.ply": (lambda s: trimesh.Trimesh(np.where(np.arange(len(s.vertices))[:, None] == 5, np.inf,
                s.vertices), s.faces, process=False).export(file_type="ply"), "that are no numbers"),
    "scan.step": (lambda s: b"ISO-10303-21;", "this is no scan file"),
}


@pytest.mark.parametrize("name", BAD)
def test_a_bad_file_is_one_clear_error(name, sphere, tmp_path, capfd):
    content, words = BAD[name]
    (tmp_path / name).write_bytes(content(sphere))
    with pytest.raises(InputError, match=words) as caught:
        read_facets(tmp_path / name)
    assert name in str(caught.value) and caught.value.key == "scan.file"
    assert caught.value.hint
    assert capfd.readouterr() == ("", "")


def test_missing_folder_and_huge(tmp_path, sphere, monkeypatch):
    with pytest.raises(InputError, match="no such scan file"):
        read_facets(tmp_path / "none.stl")
    (tmp_path / "folder.stl").mkdir()
    with pytest.raises(InputError, match="not a plain file"):
        read_facets(tmp_path / "folder.stl")
    sphere.export(tmp_path / "a.stl")
    monkeypatch.setattr(reading, "MOST_TRIANGLES", 1000)
    with pytest.raises(InputError, match="too many triangles") as caught:
        read_facets(tmp_path / "a.stl")
    assert "decimate" in str(caught.value)
    monkeypatch.setattr(reading, "LARGEST_BYTES", 1000)
    with pytest.raises(InputError, match="too large"):
        read_facets(tmp_path / "a.stl")


@pytest.mark.parametrize(("unit", "mm"), [("mm", 1.0), ("cm", 10.0), ("m", 1000.0), ("inch", 25.4)])
def test_the_unit_is_guessed(unit, mm, rng):
    points = rng.uniform(-0.5, 0.5, (500, 3)) * [255.0, 90.0, 95.0] / mm
    found, words = unit_of(points, "foot", "guess", "a.stl")
    assert found == unit and f"Unit {unit} (guessed" in words
    assert unit_of(points, "foot", unit, "a.stl")[1].startswith(f"Unit {unit} (as given)")


@pytest.mark.parametrize("size_mm", [60.0, 900.0])
def test_a_wrong_scale_is_refused(size_mm, rng):
    points = rng.uniform(-0.5, 0.5, (500, 3)) * [size_mm, 0.3 * size_mm, 0.4 * size_mm]
    with pytest.raises(InputError, match="wrong scale: its size fits no unit"):
        unit_of(points, "foot", "guess", "a.stl")


def test_a_wrong_unit_is_corrected(rng):
    points = rng.uniform(-0.5, 0.5, (500, 3)) * [25.5, 9.0, 9.5]
    with pytest.raises(InputError, match="write unit = 'cm'"):
        unit_of(points, "foot", "mm", "a.stl")


def test_the_command_line_shows_no_traceback(tmp_path, capsys):
    write(foot(), tmp_path / "whole.stl")
    (tmp_path / "scan.stl").write_bytes((tmp_path / "whole.stl").read_bytes()[:-200])
    (tmp_path / "case.toml").write_text(
        'model = "rearfoot"\ntarget = "heel_pad"\n[person]\nbody_mass_kg = 70\n[scan]\n'
        'file = "scan.stl"\nkind = "foot"\n')
    assert main(["check", str(tmp_path / "case.toml")]) == 2
    out, err = capsys.readouterr()
    assert out == "" and "Traceback" not in err and "scan.stl" in err and "cut off" in err

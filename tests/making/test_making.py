"""The workshop's folder: files, mirror image, the page's text, and refusals that leave no trace."""

import re
import shutil
import subprocess

import numpy as np
import pytest

import fefoot.making.folder as folder_module
from fefoot.case import case_from_dict
from fefoot.cli import main
from fefoot.device import feature
from fefoot.device.stl import written
from fefoot.errors import InputError
from fefoot.making import make
from fefoot.making.trade import feature_rows

HOSTILE = "<script>alert(1)</script> & \"shell\""
LAYERS = [{"material": "eva_soft", "thickness_mm": 3}, {"material": "polypropylene", "thickness_mm": 3}]
FEATURES = [{"kind": "heel_cup", "depth_mm": 12}, {"kind": "rearfoot_post", "angle_degrees": 4},
            {"kind": "arch_fill", "fill_percent": 80}]


def a_case(side="right", **device):
    first = {"name": "shell", "title": HOSTILE, "length": "to_metatarsals", "layer": LAYERS,
             "feature": FEATURES, **device}
    return case_from_dict({
        "title": "Heel <b>pain</b>", "model": "foot3d", "target": "plantar_fascia",
        "person": {"body_mass_kg": 72, "side": side},
        "device": [first, {"name": "flat", "layer": LAYERS[:1]}]})


@pytest.fixture(scope="module", name="made")
def made_once(tmp_path_factory):
    place = tmp_path_factory.mktemp("made")
    return {side: make(a_case(side), "shell", place / side) for side in ("right", "left")}


def test_the_folder_is_complete(made):
    names = {"shell.stl", "shell_layer_1.stl", "shell_layer_2.stl", "build_sheet.html"}
    for folder in made.values():
        assert {file.name for file in folder.iterdir()} == names
        assert [p.name for p in folder.parent.iterdir() if p.name.startswith(".")] == []


def test_a_left_device_is_the_mirror_image(made):
    right, left = (written(made[side] / "shell.stl") for side in ("right", "left"))
    assert left.volume_mm3() == pytest.approx(right.volume_mm3(), rel=1e-6)
    flipped = right.points_mm * [1.0, -1.0, 1.0]
    order = [p[np.lexsort(p.T)] for p in (np.round(flipped, 4), np.round(left.points_mm, 4))]
    assert np.allclose(*order, atol=2e-4)
    # the arch is on the big toe's side: to the left (Y positive) of a right foot's middle line
    for solid, sign in ((right, 1.0), (left, -1.0)):
        arch = np.abs(solid.points_mm[:, 0] - 110.0) < 2.0
        highest = solid.points_mm[arch][solid.points_mm[arch, 2].argmax()]
        assert sign * highest[1] > 15.0


def test_the_page_says_what_to_make(made):
    page = (made["left"] / "build_sheet.html").read_text(encoding="utf-8")
    words = re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page).replace("&nbsp;", " "))
    for needed in ("left foot", "heel cup", "12 mm", "4° varus", "the medial side is raised", "80 %",
                   "EVA foam, Shore A 25", "polypropylene", "255 mm long", "72 kg", "shell.stl",
                   "medial side on the right", "Z up", "not a prescription", "licensed practice",
                   "length on the midline", "cm³"):
        assert needed in words, needed
    assert "<script" not in page and "&lt;script&gt;" in page and "<b>pain" not in page
    assert not re.search(r"https?://(?!www\.w3\.org)", re.sub(r'src="data:[^"]+"', "", page))
    assert page.count("<img") == 1 + 3  # plan, along, heel, arch; the shell ends behind the heads


def test_angles_are_in_trade_terms():
    def words(kind, degrees):
        (_, value, doc), *_ = feature_rows(type(a_case().devices[0])(
            "d", features=(feature(kind, angle_degrees=degrees),)))
        return value, doc.split(";")[0]

    assert words("rearfoot_post", 4.0) == ("4° varus", "the medial side is raised")
    assert words("forefoot_wedge", -2.5) == ("2.5° valgus", "the lateral side is raised")
    assert words("rearfoot_post", 0.0) == ("0°", "no tilt")


@pytest.mark.parametrize(("case", "name", "problem"), [
    (a_case(), "shel", "unknown device"), (a_case(), None, "several devices"),
    (case_from_dict({"model": "rearfoot", "target": "heel_pad", "person": {"body_mass_kg": 70}}),
     None, "no device to make"),
])
def test_a_device_must_be_named(case, name, problem, tmp_path):
    with pytest.raises(InputError, match=problem):
        make(case, name, tmp_path / "x")
    assert list(tmp_path.iterdir()) == []


def test_an_existing_folder_is_left_alone(tmp_path):
    (tmp_path / "note.txt").write_text("keep me")
    with pytest.raises(InputError, match="exists already"):
        make(a_case(), "flat", tmp_path)
    assert [p.name for p in tmp_path.iterdir()] == ["note.txt"]


def test_an_interrupted_writer_leaves_nothing(tmp_path, monkeypatch):
    def stop(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(folder_module.os, "rename", stop)
    with pytest.raises(KeyboardInterrupt):
        make(a_case(), "flat", tmp_path / "x")
    assert list(tmp_path.iterdir()) == []


def test_the_command(tmp_path, capsys):
    file = tmp_path / "case.toml"
    file.write_text('model = "sagittal"\ntarget = "plantar_fascia"\n[person]\nbody_mass_kg = 70\n'
                    '[[device]]\nname = "flat"\n[[device.layer]]\nmaterial = "eva_soft"\n'
                    "thickness_mm = 4\n")
    assert main(["make", str(file), "--out", str(tmp_path / "made")]) == 0
    assert str(tmp_path / "made") in capsys.readouterr().out
    assert {p.name for p in (tmp_path / "made").iterdir()} == {"flat.stl", "build_sheet.html"}
    assert main(["make", str(file), "--out", str(tmp_path / "made")]) == 2
    assert "exists already" in capsys.readouterr().err


@pytest.mark.slow
def test_the_page_prints_on_one_sheet(tmp_path):
    """Full length, three layers and eight features: as much as a sheet has to hold."""
    browser = shutil.which("chromium") or shutil.which("google-chrome")
    if browser is None:
        pytest.skip("needs Chromium")
    many = [*FEATURES, *({"kind": kind} for kind in (
        "medial_heel_skive", "metatarsal_pad", "forefoot_wedge", "fascia_groove", "relief"))]
    make(a_case(length="full", feature=many, layer=[LAYERS[0], *LAYERS]), "shell", tmp_path / "x")
    subprocess.run([browser, "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
                    f"--print-to-pdf={tmp_path / 'a.pdf'}", (tmp_path / "x/build_sheet.html").as_uri()],
                   check=True, capture_output=True, timeout=120)
    assert len(re.findall(rb"/Type\s*/Page\b", (tmp_path / "a.pdf").read_bytes())) == 1

"""A run folder holds all that its case names and its page needs: read again, built again."""

import json
import re
import shutil

import numpy as np
import pytest
from study_cases import FLAT, rearfoot_text

import fefoot.study.rebuild as rebuilding
from fefoot import compare, read_case
from fefoot.cli import main
from fefoot.device import Device, Layer, feature
from fefoot.device.solid import solids
from fefoot.device.stl import write_stl
from fefoot.errors import InputError
from fefoot.foot.landmarks import landmarks
from fefoot.foot.morph import REFERENCE
from fefoot.outcome.values import Check, Comparison, Measure, Outcome, Picture
from fefoot.study.kept import keep, kept
from fefoot.study.rebuild import rebuild
from fefoot.study.sources import copied, named_files, with_places
from fefoot.study.store import FILES

SCANNED = """
[[device]]
name = "scanned"
base = "scan"
[[device.layer]]
material = "eva_medium"
thickness_mm = 4
[scan]
file = "scans/old insole.stl"
kind = "device"
align = "as_made"
"""


def step_csv():
    share = np.linspace(0.0, 1.0, 61)
    rows = np.column_stack([0.6 * share, 700 * np.sin(np.pi * share), 0 * share, 12 + 70 * share])
    return "time_s,vertical_N,fore_aft_N,pressure_centre_percent\n" + "".join(
        ",".join(f"{v:.5g}" for v in row) + "\n" for row in rows)


@pytest.fixture(scope="module", name="run")
def a_run(tmp_path_factory):
    """A run of a case that names a force plate outside its folder and a scan inside it."""
    place = tmp_path_factory.mktemp("run")
    home = place / "home"
    (home / "scans").mkdir(parents=True)
    (place / "plates").mkdir()
    (place / "plates" / "step.csv").write_text(step_csv())
    device = Device("old", layers=(Layer("eva_firm", 6.0),), features=(feature("heel_cup"),))
    write_stl(home / "scans" / "old insole.stl", solids(device, landmarks(REFERENCE), 3.0)[0], "")
    text = rearfoot_text(rest=FLAT + SCANNED).replace(
        'name = "walking"\nat = 22', 'at = 25\nforce_plate = "../plates/step.csv"')
    (home / "case.toml").write_text(text)
    compare(read_case(home / "case.toml"), place / "run")
    return place / "run", read_case(home / "case.toml")


@pytest.fixture(name="folder")
def a_copy(run, tmp_path):
    shutil.copytree(run[0], tmp_path / "copy")
    return tmp_path / "copy"


def test_the_case_in_the_folder_still_reads(folder, run):
    assert {p.name for p in folder.iterdir()} == FILES | {"inputs", "scans"}
    assert (folder / "inputs" / "step.csv").read_text() == step_csv()
    assert read_case(folder / "case.toml") == run[1]
    assert read_case(folder / "resolved.toml") == run[1]
    assert 'force_plate = "inputs/step.csv"' in (folder / "case.toml").read_text()
    assert 'file = "scans/old insole.stl"' in (folder / "case.toml").read_text()


def test_the_rebuilt_page_is_the_first_one(folder, capsys):
    first = (folder / "report.html").read_bytes()
    (folder / "report.html").unlink()
    assert main(["report", str(folder)]) == 0
    assert capsys.readouterr().out == f"the page is {folder / 'report.html'}\n"
    assert (folder / "report.html").read_bytes() == first
    assert b"The scan" in first and b"old insole.stl" in first and b"data:image/png" in first
    assert {p.name for p in folder.iterdir()} == FILES | {"inputs", "scans"}


def test_what_is_kept_is_exact(tmp_path, rng, run):
    """Every value comes back to the last digit, with its type; only the history does not."""
    picture = Picture(
        rng.normal(size=(7, 2)), np.array([[0, 1, 2, 3, 4, 5]]), np.array([True]), rng.random(7),
        {"talus": rng.normal(size=(4, 2)), "cuboid": rng.normal(size=(3, 2))},
        {"plantar_fascia": (rng.normal(size=(2, 2)), np.float64(0.1 + 0.2))},
        {"foot": (rng.normal(size=(5, 2)), rng.random(5))}, -1.25, float("nan"))
    good = Outcome("barefoot", "no device", 22.0, None, (
        Measure("heel_pad", "peak_pressure_kPa", np.float64(1 / 3), 900.0, "a source"),),
        (Check("gap", np.float64(1e-17), 0.1, "mm", np.bool_(True), "words"),),
        {"seconds": 1.5, "factorisations": np.int64(12), "solvers": {"cholesky": 3}}, (), picture)
    bad = Outcome("flat", "flat insole", 22.0, "not converged: \N{GREEK SMALL LETTER ALPHA}")
    keep(tmp_path, run[1], [Comparison(22.0, (good, bad), (), (), None, ())])
    (back,), scan = kept(tmp_path, "heel_pad")
    one, two = back.outcomes
    assert one.measures == good.measures and one.checks == good.checks and one.cost == good.cost
    assert type(one.cost["factorisations"]) is int and two == bad
    for name in ("points", "cells", "is_device", "stress_kPa"):
        mine, theirs = getattr(picture, name), getattr(one.picture, name)
        assert np.array_equal(mine, theirs) and mine.dtype == theirs.dtype
    assert list(one.picture.bones) == ["talus", "cuboid"]
    assert one.picture.cables["plantar_fascia"][1] == 0.1 + 0.2
    assert np.array_equal(one.picture.contacts["foot"][1], picture.contacts["foot"][1])
    assert np.isnan(one.picture.centre_of_pressure_mm) and one.picture.ground_y_mm == -1.25
    assert scan["facts"] == list(run[1].scan.facts)


def _cut(name, share=0.5):
    def damage(folder):
        data = (folder / name).read_bytes()
        (folder / name).write_bytes(data[:int(share * len(data))])
    return damage


def _edit(key, value):
    def damage(folder):
        record = json.loads((folder / "outcomes.json").read_text())
        record[key] = value
        (folder / "outcomes.json").write_text(json.dumps(record))
    return damage


DAMAGES = {
    "foreign": (lambda f: [p.unlink() for p in f.glob("*.*")], "not a finished run folder"),
    "an older one": (lambda f: (f / "outcomes.json").unlink(), "without outcomes.json"),
    "cut outcomes": (_cut("outcomes.json"), "damaged"),
    "cut pictures": (_cut("pictures.npz"), "damaged"),
    "no pictures": (_cut("pictures.npz", 0.0), "damaged"),
    "cut provenance": (_cut("provenance.json"), "damaged"),
    "no table": (lambda f: (f / "provenance.json").write_text("[1]"), "damaged"),
    "cut case": (_cut("resolved.toml"), "not TOML|missing|needs a layer"),
    "scan gone": (lambda f: (f / "scans" / "old insole.stl").unlink(), "no such scan file"),
    "newer": (_edit("format", 99), "another format"),
    "a list": (lambda f: (f / "outcomes.json").write_text("[]"), "another format"),
    "no instants": (_edit("instants", []), "outcomes are not those of its case"),
    "other instants": (_edit("instants", [[{"name": "x"}]]), "damaged"),
    "no scan record": (_edit("scan", {}), "damaged"),
}


@pytest.mark.parametrize("name", DAMAGES)
def test_a_damaged_folder_is_one_clear_error(name, folder, capsys):
    damage, words = DAMAGES[name]
    page = folder / "report.html"
    before = page.read_bytes()
    damage(folder)
    assert main(["report", str(folder)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and err.startswith("fefoot: ") and "Traceback" not in err
    assert re.search(words, err), err
    assert not page.exists() or page.read_bytes() == before
    assert not list(folder.glob(".report*"))


@pytest.mark.parametrize("table", ["designs.csv", "certainty.csv"])
def test_the_folder_of_a_study_is_told_apart(table, tmp_path, capsys):
    for name in (table, "resolved.toml", "provenance.json", "report.html"):
        (tmp_path / name).write_text("x")
    assert main(["report", str(tmp_path)]) == 2
    err = capsys.readouterr().err
    assert "only folders of fefoot compare can be built again" in err and "certainty or search" in err
    assert (tmp_path / "report.html").read_text() == "x"


def test_a_folder_that_cannot_be_written_names_an_action(folder, monkeypatch):
    def refuse(**_):
        raise OSError(30, "Read-only file system")

    monkeypatch.setattr(rebuilding.tempfile, "mkstemp", refuse)
    with pytest.raises(InputError, match="cannot be written \\(Read-only file system\\)") as caught:
        rebuild(folder)
    assert "Read-only" not in caught.value.hint and "folder" in caught.value.hint


def test_no_folder(tmp_path):
    with pytest.raises(InputError, match="no such run folder"):
        rebuild(tmp_path / "none")


def test_an_interrupted_writer_leaves_the_old_page(folder, monkeypatch):
    def stop(*_):
        raise KeyboardInterrupt

    before = (folder / "report.html").read_bytes()
    monkeypatch.setattr(rebuilding.os, "replace", stop)
    with pytest.raises(KeyboardInterrupt):
        rebuild(folder)
    assert (folder / "report.html").read_bytes() == before and not list(folder.glob(".report*"))


def test_a_file_that_has_gone_is_left_out(tmp_path):
    (tmp_path / "step.csv").write_text(step_csv())
    (tmp_path / "case.toml").write_text(rearfoot_text().replace(
        'name = "walking"\nat = 22', 'at = 25\nforce_plate = "step.csv"'))
    case = read_case(tmp_path / "case.toml")
    assert named_files(case) == ["step.csv"]
    assert copied(case, tmp_path / "x", FILES) == {"step.csv": "step.csv"}
    assert copied(case, tmp_path / "y", {"step.csv"}) == {"step.csv": "inputs/step.csv"}
    (tmp_path / "step.csv").unlink()
    assert copied(case, tmp_path / "z", FILES) == {}


def test_only_the_named_paths_are_replaced():
    text = ('title = "file = 1"\nfile = "a/b.stl" # file\n[activity]\nforce_plate = \'C:\\x.csv\'\n'
            'profile = "a/b.stl"\n')
    found = with_places(text, {"a/b.stl": "a/b.stl", "C:\\x.csv": "inputs/x.csv"})
    assert found == text.replace("'C:\\x.csv'", '"inputs/x.csv"')

"""``[measured_pressure]`` in a case: read, written back, and each mistake one clear message."""

from __future__ import annotations

import numpy as np
import pytest

from fefoot.case import read_case
from fefoot.case.emit import resolved_toml
from fefoot.case.pressure_file import read_grid
from fefoot.errors import InputError
from fefoot.foot.morph import REFERENCE
from fefoot.outcome.measured_place import LOW_MM, sole_dots
from fefoot.study.sources import copied, named_files, with_places

CASE = """title = "measured"
model = "sagittal"
target = "heel_pad"
[person]
body_mass_kg = 70
side = "{side}"
[activity]
name = "walking"
at = {at}
[[device]]
name = "flat"
[[device.layer]]
material = "eva_soft"
thickness_mm = 4
[measured_pressure]
file = "{file}"
{more}
"""
SPACING = 5.0


@pytest.fixture(scope="module", name="grid")
def a_print():
    """The low part of a right sole from above, toes at the top, pressed evenly to 700 N."""
    dots = sole_dots(REFERENCE)
    dots = dots[dots[:, 1] < LOW_MM]
    grid = np.zeros((60, 30))
    grid[np.rint((275.0 - dots[:, 0]) / SPACING).astype(int),
         np.rint((dots[:, 2] + 72.0) / SPACING).astype(int)] = 1.0
    return grid * 700.0 / (1e-3 * SPACING**2 * grid.sum())


def put(grid, path, mark=","):
    path.write_text("# kPa\n" + "\n".join(
        mark.join("" if np.isnan(v) else f"{v:.3f}" for v in row) for row in grid) + "\n\n")


@pytest.fixture(name="write")
def writer(tmp_path, grid):
    def write(text="spacing_mm = 5", values=None, side="right", at=50, file="plate.csv"):
        put(grid if values is None else values, tmp_path / "plate.csv")
        (tmp_path / "case.toml").write_text(CASE.format(side=side, at=at, file=file, more=text))
        return tmp_path / "case.toml"

    return write


def test_a_case_with_a_map_reads_and_comes_back(write, grid, tmp_path):
    case = read_case(write("spacing_mm = 5\ncondition = 'flat'"))
    found = case.measured_pressure
    assert found.choice.condition == "flat" and found.stance_percent == 50.0
    assert found.pressure_kPa == pytest.approx(grid, abs=1e-3)
    assert found.force_N == pytest.approx(700.0, rel=1e-4)
    x, z = found.place.cells_mm(grid.shape)
    row, column = np.nonzero(grid)
    assert (275.0 - SPACING * row) == pytest.approx(x[grid > 0], abs=4.0)
    assert (SPACING * column - 72.0) == pytest.approx(z[grid > 0], abs=4.0)
    (tmp_path / "again.toml").write_text(resolved_toml(case))
    assert read_case(tmp_path / "again.toml") == case


def test_a_left_foot_and_a_view_from_below_are_mirror_images(write, grid):
    for text, values, side in (("spacing_mm = 5", grid[:, ::-1], "left"),
                               ("spacing_mm = 5\nseen_from = 'below'", grid[:, ::-1], "right"),
                               ("spacing_mm = 5\nseen_from = 'below'", grid, "left")):
        place = read_case(write(text, values, side)).measured_pressure.place
        _, z = place.cells_mm(grid.shape)
        medial = z[values > 0][:40].mean()  # the hallux lies at the top of the grid
        assert medial < 0.0


def test_the_files_go_into_the_run_folder(write, grid, tmp_path):
    put((grid > 0).astype(float), tmp_path / "mask.csv")
    file = write("spacing_mm = 5\nmask_file = 'mask.csv'")
    case = read_case(file)
    assert np.isnan(case.measured_pressure.pressure_kPa).sum() == (grid == 0).sum()
    assert named_files(case) == ["plate.csv", "mask.csv"]
    places = copied(case, tmp_path / "run", {"plate.csv"})
    assert places == {"plate.csv": "inputs/plate.csv", "mask.csv": "mask.csv"}
    (tmp_path / "run" / "case.toml").write_text(with_places(file.read_text(), places))
    (tmp_path / "run" / "resolved.toml").write_text(resolved_toml(case, places))
    assert read_case(tmp_path / "run" / "case.toml") == case == read_case(
        tmp_path / "run" / "resolved.toml")


def scaled(factor):
    return lambda grid: factor * grid


MISTAKES = {
    "gone": ({"file": "none.csv"}, None, "measured_pressure.file", "no such file"),
    "no spacing": ({"text": ""}, None, "measured_pressure.spacing_mm", "missing"),
    "condition": ({"text": "spacing_mm = 5\ncondition = 'arch'"}, None, "measured_pressure.condition",
                  "no condition"),
    "instant": ({"text": "spacing_mm = 5\nstance_percent = 20"}, None,
                "measured_pressure.stance_percent", "not solved"),
    "which instant": ({"at": '"all"'}, None, "measured_pressure.stance_percent", "several instants"),
    "in MPa": ({}, scaled(1e-3), "measured_pressure.file", "do not add up"),
    "in N/cm2": ({}, scaled(0.1), "measured_pressure.file", "do not add up"),
    "in Pa": ({}, scaled(1e3), "measured_pressure.file", "do not add up"),
    "zeros": ({}, scaled(0.0), "measured_pressure.file", "no pressure"),
    "spacing": ({"text": "spacing_mm = 6.6"}, scaled(0.57), "measured_pressure.spacing_mm",
                "not the size"),
    "side": ({"side": "left"}, None, "measured_pressure.seen_from", "mirror image"),
    "landmarks": ({"text": "spacing_mm = 5\nheel = [70, 240]"}, None, "measured_pressure.first_head",
                  "three landmarks"),
    "a point": ({"text": "spacing_mm = 5\nheel = [70, 240, 0]"}, None, "measured_pressure.heel",
                "not a point"),
    "mask": ({"text": "spacing_mm = 5\nmask_file = 'small.csv'"}, None,
             "measured_pressure.mask_file", "different sizes"),
    "fine": ({"text": "spacing_mm = 0.5"}, None, "measured_pressure.spacing_mm", "out of range"),
    "late": ({"text": "spacing_mm = 5\nstance_percent = 101"}, None,
             "measured_pressure.stance_percent", "out of range"),
    "key": ({"text": "spacing_mm = 5\nspacing = 5"}, None, "measured_pressure.spacing", "unknown key"),
}


@pytest.mark.parametrize("name", MISTAKES)
def test_each_mistake_is_one_clear_message(name, write, grid, tmp_path):
    how, change, key, words = MISTAKES[name]
    put(np.ones((8, 8)), tmp_path / "small.csv")
    file = write(values=None if change is None else change(grid), **how)
    with pytest.raises(InputError) as found:
        read_case(file)
    error = found.value
    assert error.key == key and words in error.problem, str(error)
    assert error.file and error.allowed and error.hint, str(error)
    assert "Traceback" not in str(error) and len(str(error).splitlines()) <= 5


FILES = {
    "empty": ("", "no numbers"), "only a comment": ("# kPa\n\n", "no numbers"),
    "a heading": ("x,y,z\n" + "1,2,3\n" * 8, "not a number"),
    "text in a cell": ("1,2,3\n" * 7 + "1,2,3 kPa\n", "not a number"),
    "infinite": ("1,2,3\n" * 7 + "1,2,inf\n", "not a number"),
    "negative": ("1,2,3\n" * 7 + "1,-2,3\n", "negative"),
    "ragged": ("1,2,3\n" * 7 + "1,2,3,4\n", "different lengths"),
    "small": ("1,2,3\n" * 2, "no pressure map"), "narrow": ("1,2\n" * 9, "no pressure map"),
    "not text": (b"\xff\xfe1,2,3", "not text"),
}


@pytest.mark.parametrize("name", FILES)
def test_a_bad_file_is_one_clear_message(name, tmp_path):
    content, words = FILES[name]
    path = tmp_path / "plate.csv"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    with pytest.raises(InputError) as found:
        read_grid(path)
    error = found.value
    assert words in error.problem and error.file == str(path), str(error)
    assert error.key == "measured_pressure.file" and error.value and error.allowed and error.hint


@pytest.mark.parametrize(("mark", "comma"), [(";", ","), ("\t", "."), (" ", "."), (",", ".")])
def test_marks_and_decimal_commas(mark, comma, tmp_path):
    grid = np.arange(24.0).reshape(6, 4) / 2
    text = "\n".join(mark.join(str(v).replace(".", comma) for v in row) for row in grid)
    hole = "-" if mark == " " else ""
    (tmp_path / "a.csv").write_text("\ufeff" + text.replace("5" + comma + "5", hole))
    found = read_grid(tmp_path / "a.csv")
    assert found[np.isfinite(found)] == pytest.approx(grid[np.isfinite(found)])
    assert found.shape == (6, 4) and np.isnan(found[2, 3])

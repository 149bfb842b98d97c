"""Each solved condition is a file for a viewer, with pressures where they are known."""

from dataclasses import replace

import meshio
import numpy as np
import pytest

from fefoot.outcome.values import Comparison, Outcome, Picture
from fefoot.study.fields import contact_pressure_kPa, outline, point_data, write_fields

# two triangles make a square of the foot (0 to 2) on a square of the device (-2 to 0)
CORNERS = {"foot": [(0, 0), (2, 0), (2, 2), (0, 2)], "device": [(0, -2), (2, -2), (2, 0), (0, 0)]}


def square(corners, first):
    a, b, c, d = np.array(corners, float)
    points = [a, b, c, d, (a + b) / 2, (b + c) / 2, (c + a) / 2, (c + d) / 2, (d + a) / 2]
    return points, [[first + n for n in (0, 1, 2, 4, 5, 6)], [first + n for n in (0, 2, 3, 6, 7, 8)]]


def a_picture():
    foot, cells = square(CORNERS["foot"], 0)
    device, more = square(CORNERS["device"], 9)
    points = np.array(foot + device)
    contacts = {"foot": (np.array([[0.0, 0.0], [2.0, 0.0]]), np.array([100.0, 300.0])),
                "ground": (np.array([[0.0, -2.0], [2.0, -2.0]]), np.array([50.0, 70.0]))}
    return Picture(points, np.array(cells + more), np.array([False, False, True, True]),
                   np.arange(18.0), {}, {}, contacts, -2.0, 1.0)


def comparison(percent, *outcomes):
    return Comparison(percent, outcomes, (), (), None, ())


def test_the_outline_is_the_edges_of_one_cell():
    found = {tuple(sorted(edge[:2])): edge[2] for edge in outline(a_picture().cells[:2]).tolist()}
    assert found == {(0, 1): 4, (1, 2): 5, (2, 3): 7, (0, 3): 8}  # not the diagonal 0-2


def test_pressures_stand_at_their_points_and_halfway_between():
    pressure = contact_pressure_kPa(a_picture())
    expected = np.zeros(18)
    expected[[0, 1, 4]] = 100.0, 300.0, 200.0  # the sole, though the device's top lies there too
    expected[[9, 10, 13]] = 50.0, 70.0, 60.0  # the device's underside
    assert np.array_equal(pressure, expected)


def test_a_contact_that_is_not_of_the_mesh_is_left_out():
    shown = replace(a_picture(), contacts={"foot": (np.array([[0.5, 0.1]]), np.array([9.0]))})
    assert not contact_pressure_kPa(shown).any()
    assert not contact_pressure_kPa(replace(shown, contacts={})).any()


def test_each_condition_is_a_file_of_its_name(tmp_path):
    shown = a_picture()
    bare = Outcome("barefoot", "no device", 62.0, None, picture=shown)
    flat = Outcome("flat", "flat", 62.0, None, picture=replace(shown, points=shown.points + 1.0))
    failed = Outcome("soft", "soft", 62.0, "not converged: x")
    write_fields(tmp_path / "fields", [comparison(62.0, bare, flat, failed)])
    assert {p.name for p in (tmp_path / "fields").iterdir()} == {"barefoot.vtu", "flat.vtu"}
    back = meshio.read(tmp_path / "fields" / "flat.vtu")
    assert np.allclose(back.points[:, :2], shown.points + 1.0) and set(back.point_data) == {
        "equivalent_stress_kPa", "contact_pressure_kPa"}
    assert back.cell_data["is_device"][0].tolist() == [0, 0, 1, 1]
    assert set(back.cell_data["stance_percent"][0]) == {62.0}
    write_fields(tmp_path / "many", [comparison(22.0, bare), comparison(62.5, bare, failed)])
    assert {p.name for p in (tmp_path / "many").iterdir()} == {
        "barefoot_at_22.vtu", "barefoot_at_62.5.vtu"}
    write_fields(tmp_path / "none", [comparison(62.0, failed)])
    assert not (tmp_path / "none").exists()


def test_displacements_are_there_where_the_unloaded_places_are():
    shown = a_picture()
    moved = point_data(replace(shown, rest=shown.points - (0.5, -0.25)))["displacement_mm"]
    assert moved.shape == (18, 3) and np.allclose(moved, [0.5, -0.25, 0.0])
    assert "displacement_mm" not in point_data(replace(shown, rest=None))


def test_the_print_of_the_whole_foot_has_its_pressure_once():
    data = point_data(replace(a_picture(), view="print"))
    assert set(data) == {"contact_pressure_kPa"}
    assert data["contact_pressure_kPa"] == pytest.approx(np.arange(18.0))

"""A measured pressure map: put in place, and compared with the model on its own cells."""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "report"))

from plate import plate_map
from whole_foot import whole_foot

from fefoot.case.pressure import MeasuredPressure, PressureChoice
from fefoot.errors import InputError
from fefoot.foot.landmarks import landmarks
from fefoot.outcome.measured import cell_pressure_kPa, compared_pressure, pressure_rows
from fefoot.outcome.measured_place import Placement, placed, shares
from fefoot.outcome.values import Outcome, Picture

PLACES = ("heel_centre", "head_1", "head_5", "hallux")


@pytest.fixture(scope="module", name="foot")
def a_foot():
    case, comparison = whole_foot()
    dimensions = case.person.dimensions()
    marks = landmarks(dimensions)
    points = np.array([
        (marks.heel_centre_x_mm, 0.0), (marks.metatarsal_head_x_mm[0], marks.metatarsal_head_z_mm[0]),
        (marks.metatarsal_head_x_mm[4], marks.metatarsal_head_z_mm[4]), (240.0, -28.0)])
    return case, comparison, comparison.outcomes[0].picture.scene, marks, dimensions, points


def where(place, at, spacing):
    """Places (x, z) of points given as (right, down) in mm from the first cell."""
    row, column = at[:, 1] / spacing, at[:, 0] / spacing
    return np.column_stack([place.corner[k] + row * place.down[k] + column * place.right[k]
                            for k in (0, 1)])


@pytest.mark.parametrize("turn", [0.0, 37.0, 90.0, 200.0])
@pytest.mark.parametrize("spacing", [5.0, 8.5])
def test_a_turned_print_is_put_back(foot, turn, spacing):
    *_, scene, marks, dimensions, points = foot
    grid, at = plate_map(scene, spacing, turn)
    place = placed(grid, spacing, marks, dimensions, mirror=False)
    assert np.abs(where(place, at(points), spacing) - points).max() < 6.0
    assert place.fit > 0.6
    assert np.hypot(*place.right) == pytest.approx(spacing) == np.hypot(*place.down)


@pytest.mark.parametrize("mirror", [False, True])
def test_the_other_side_s_print_is_refused(foot, mirror):
    *_, scene, marks, dimensions, points = foot
    grid, at = plate_map(scene, 5.0, 25.0, mirror)
    place = placed(grid, 5.0, marks, dimensions, mirror=mirror)
    assert np.abs(where(place, at(points), 5.0) - points).max() < 6.0
    with pytest.raises(InputError, match="mirror image") as found:
        placed(grid, 5.0, marks, dimensions, mirror=not mirror, file="plate.csv")
    assert found.value.key == "measured_pressure.seen_from" and "person.side" in found.value.hint


def test_what_looks_like_no_foot_is_refused(foot):
    """A bar from heel to toes has the size of a print and covers little of it."""
    *_, marks, dimensions, _ = foot
    grid = np.zeros((48, 24))
    grid[2:46, 3:6] = 120.0
    grid[2:5, 3:20] = grid[43:46, 3:20] = 120.0
    with pytest.raises(InputError, match="does not look like the print") as found:
        placed(grid, 5.0, marks, dimensions, mirror=False)
    assert "first_head" in found.value.hint


def test_landmarks_place_exactly(foot):
    *_, scene, marks, dimensions, points = foot
    grid, at = plate_map(scene, 5.0, 123.0)
    place = placed(grid, 5.0, marks, dimensions, mirror=False, points_mm=at(points[:3]))
    assert where(place, at(points), 5.0) == pytest.approx(points, abs=1e-9)
    x, z = place.cells_mm(grid.shape)
    row, column = place.cells_of(x, z)
    for mine, theirs in zip((row, column), np.indices(grid.shape), strict=True):
        assert np.allclose(mine, theirs)


def test_landmarks_of_another_foot_are_refused(foot):
    *_, scene, marks, dimensions, points = foot
    grid, at = plate_map(scene, 5.0)
    own = at(points[:3])
    with pytest.raises(InputError, match="mirror image"):
        placed(grid, 5.0, marks, dimensions, mirror=False, points_mm=own * [-1.0, 1.0])
    with pytest.raises(InputError, match="do not lie like"):
        placed(grid, 5.0, marks, dimensions, mirror=False, points_mm=1.5 * own)


@pytest.mark.parametrize(("change", "spacing"), [
    (lambda g: g, 8.0), (lambda g: g, 3.0), (lambda g: g[: len(g) // 2], 5.0),
    (lambda g: np.hstack([g, g]), 5.0)])
def test_a_print_of_another_size_is_refused(foot, change, spacing):
    *_, scene, marks, dimensions, _ = foot
    grid, _ = plate_map(scene, 5.0)
    with pytest.raises(InputError, match="not the size of this foot") as found:
        placed(change(grid), spacing, marks, dimensions, mirror=False)
    assert found.value.key == "measured_pressure.spacing_mm"


def test_cells_get_the_force_that_lies_in_them(foot):
    """The forces of all cells add up to that of the sole, whatever the grid."""
    _, _, scene, *_ = foot
    corners = scene.rest_sole_mm[scene.sole_triangles].astype(float)
    legs = corners[:, 1:] - corners[:, :1]
    area = 0.5 * np.abs(legs[:, 0, 0] * legs[:, 1, 1] - legs[:, 0, 1] * legs[:, 1, 0])
    whole = (area * scene.pressure_kPa[scene.sole_triangles].mean(axis=1)).sum()
    place = Placement((-20.0, -70.0), (0.6 * 6, 0.8 * 6), (0.8 * 6, -0.6 * 6), 1.0, ())
    wide = Placement((-120.0, -150.0), (0.0, 6.0), (6.0, 0.0), 1.0, ())
    for at, shape in ((wide, (80, 60)), (replace(place, corner=(-250.0, -60.0)), (120, 120))):
        assert cell_pressure_kPa(scene, at, 6.0, shape).sum() * 36.0 == pytest.approx(whole, rel=1e-6)
    assert shares(4).sum(axis=1) == pytest.approx(np.ones(16))
    assert shares(4).mean(axis=0) == pytest.approx([1 / 3] * 3)


def given(grid, place, **choice):
    return MeasuredPressure(PressureChoice("plate.csv", 5.0, **choice), grid, 77.0, place, "")


def test_the_model_s_own_print_agrees_with_it(foot):
    case, comparison, scene, marks, dimensions, points = foot
    grid, at = plate_map(scene, 5.0, 37.0)
    place = placed(grid, 5.0, marks, dimensions, mirror=False, points_mm=at(points[:3]))
    found = compared_pressure(replace(case, measured_pressure=given(grid, place)), [comparison])
    assert found.correlation > 0.98 and found.difference_kPa < 0.06 * np.nanmax(grid)
    assert found.force_N[0] == pytest.approx(found.force_N[1], rel=1e-3)
    assert sum(r.share_percent[0] for r in found.regions if not r.region.startswith("head")) == \
        pytest.approx(100.0)
    for region in found.regions:
        assert region.peak_kPa[0] == pytest.approx(region.peak_kPa[1], rel=0.12), region.region
    doubled = given(2.0 * grid, place)
    other = compared_pressure(replace(case, measured_pressure=doubled), [comparison])
    assert other.correlation == pytest.approx(found.correlation, abs=0.005)
    assert other.regions[0].peak_kPa[0] == pytest.approx(2.0 * found.regions[0].peak_kPa[0])
    rows = list(pressure_rows(found))
    table = {(row[2], row[3]): row[5:] for row in rows[1:]}
    assert table["heel", "peak_pressure_kPa"] == tuple(map(repr, found.regions[0].peak_kPa))
    assert table["sole", "correlation"] == ("", repr(found.correlation))


def test_masked_cells_do_not_count(foot):
    case, comparison, scene, marks, dimensions, points = foot
    grid, at = plate_map(scene, 5.0)
    place = placed(grid, 5.0, marks, dimensions, mirror=False, points_mm=at(points[:3]))
    wild = grid.copy()
    wild[: len(grid) // 2] = np.nan  # the toes lie at the top
    found = compared_pressure(replace(case, measured_pressure=given(wild, place)), [comparison])
    assert found.correlation > 0.98
    assert {r.region for r in found.regions} == {"heel", "midfoot"}
    assert np.isnan(found.modelled_kPa[: len(grid) // 2]).all()


def test_a_failed_condition_is_said_and_has_no_number(foot):
    case, comparison, scene, marks, dimensions, _ = foot
    grid, _ = plate_map(scene, 5.0)
    place = placed(grid, 5.0, marks, dimensions, mirror=False)
    failed = replace(comparison, outcomes=(
        Outcome("barefoot", "no device", 77.0, "not converged: slid off"), *comparison.outcomes[1:]))
    found = compared_pressure(replace(case, measured_pressure=given(grid, place)), [failed])
    assert found.failure == "not converged: slid off" and found.regions == ()
    assert list(pressure_rows(found))[1][3] == "failed: not converged: slid off"


@dataclass(frozen=True)
class Slice:
    """A section's case, as far as the comparison looks at it."""

    model: str
    person: object
    measured_pressure: MeasuredPressure


@pytest.mark.parametrize("model", ["sagittal", "rearfoot"])
def test_in_a_section_only_the_slice_is_compared(foot, model):
    """A map that rises evenly along and across the foot is met exactly on the slice."""
    case, comparison, _, _, dimensions, _ = foot
    place = Placement((-20.0, -70.0), (0.0, 5.0), (5.0, 0.0), 1.0, ())
    x, z = place.cells_mm((60, 29))
    measured = given(50.0 + 0.5 * x + 2.0 * z, place)
    along = np.linspace(20.0, 230.0, 106) if model == "sagittal" else np.linspace(-30.0, 30.0, 61)
    from fefoot.foot.landmarks import slice_x_mm, slice_z_of_x

    pressure = (50.0 + 0.5 * along + 2.0 * slice_z_of_x(dimensions)(along) if model == "sagittal"
                else 50.0 + 0.5 * slice_x_mm(dimensions) + 2.0 * along)
    points = np.column_stack([along, np.zeros_like(along)])
    picture = Picture(points, np.zeros((0, 6), int), np.zeros(0, bool), np.zeros(len(along)), {}, {},
                      {"foot": (points, pressure)}, 0.0, 50.0)
    outcome = Outcome("barefoot", "no device", 77.0, None, picture=picture)
    found = compared_pressure(Slice(model, case.person, measured),
                              [replace(comparison, outcomes=(outcome,))])
    inner = slice(0, -1)  # the last step reaches over the end of the slice
    assert found.measured_kPa[inner] == pytest.approx(found.modelled_kPa[inner], abs=0.2)
    assert found.force_N is None and all(r.share_percent is None for r in found.regions)
    assert {r.region for r in found.regions} == (
        {"heel"} if model == "rearfoot" else {"heel", "midfoot", "shafts", "forefoot", "toes"})

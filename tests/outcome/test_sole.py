"""Pressure averaged over a patch, for profiles whose average is known by hand."""

import numpy as np
import pytest

from fefoot.outcome.quantities import PATCH_MM
from fefoot.outcome.regions import SAGITTAL, TISSUE_OF, masks
from fefoot.outcome.sole import Sole

HALF = PATCH_MM / 2


def line(arc_mm, pressure_kPa):
    s, p = np.asarray(arc_mm, float), np.asarray(pressure_kPa, float)
    at = np.column_stack([s, np.zeros_like(s)])
    return Sole(at, at, s, p, p, np.ones_like(s))


@pytest.fixture
def uneven(rng):
    """Vertices at uneven distances from 0 to 100 mm."""
    return np.concatenate([[0.0], np.sort(rng.uniform(0, 100, 60)), [100.0]])


def test_a_constant_pressure_is_kept_inside_and_halved_at_the_ends(uneven):
    patch = line(uneven, np.full(len(uneven), 130.0)).patch_pressure_kPa()
    inside = (uneven >= HALF) & (uneven <= 100 - HALF)
    assert patch[inside] == pytest.approx(130.0, rel=1e-12)
    # half of the patch lies beyond the end, where nothing presses
    assert patch[[0, -1]] == pytest.approx([65.0, 65.0], rel=1e-12)


def test_a_linear_pressure_is_kept_inside(uneven):
    patch = line(uneven, 3.0 * uneven + 20.0).patch_pressure_kPa()
    inside = (uneven >= HALF) & (uneven <= 100 - HALF)
    assert patch[inside] == pytest.approx(3.0 * uneven[inside] + 20.0, rel=1e-12)


def test_a_spike_narrower_than_the_patch_is_spread_over_it():
    s = np.arange(0.0, 101.0, 1.0)
    p = np.where(s == 50.0, 600.0, 0.0)
    patch = line(s, p).patch_pressure_kPa()
    # computed: a triangle of height 600 kPa and base 2 mm has the area 600 kPa mm
    assert patch[50] == pytest.approx(600.0 / PATCH_MM, rel=1e-12)
    assert patch.max() == pytest.approx(600.0 / PATCH_MM, rel=1e-12)
    assert np.all(patch[(s < 50 - HALF - 1) | (s > 50 + HALF + 1)] == 0.0)


def test_the_peak_hardly_depends_on_where_the_vertices_lie(rng):
    # computed: the mean of 400 (1 - (s/30)^2) over -4..4 mm is 400 (1 - 16/3/900)
    expected = 400.0 * (1 - HALF**2 / 3 / 30**2)
    for _ in range(5):
        s = np.concatenate([[0.0], np.sort(rng.uniform(1, 99, 120)), [50.0], [100.0]])
        s = np.sort(s)
        patch = line(s, 400 * np.maximum(1 - ((s - 50) / 30) ** 2, 0)).patch_pressure_kPa()
        assert patch.max() == pytest.approx(expected, rel=0.01)


def test_regions_part_the_sole():
    points = np.column_stack([np.linspace(-3.0, 258.0, 500), np.zeros(500)])
    regions = masks("sagittal", points, 255.0)
    assert list(regions) == list(SAGITTAL) == list(TISSUE_OF)
    assert np.array_equal(sum(m.astype(int) for m in regions.values()), np.ones(500, int))
    assert masks("rearfoot", points, 255.0)["heel"].all()

"""Pressure over the sole of the whole foot."""

import numpy as np
import pytest

from fefoot.outcome.sole3d import Sole3d, sole3d

SIDE_MM, COUNT = 40.0, 10


def plate(pressure_of, stretch=1.0):
    """A flat square of quadratic triangles in the ground plane, stretched along x when loaded."""
    line = np.linspace(0.0, SIDE_MM, 2 * COUNT + 1)
    x, z = np.meshgrid(line, line, indexing="ij")
    rest = np.stack([x.ravel(), np.zeros(x.size), z.ravel()], 1)
    number = np.arange(x.size).reshape(x.shape)
    facets = []
    for i in range(0, 2 * COUNT, 2):
        for k in range(0, 2 * COUNT, 2):
            for p in (((0, 0), (0, 2), (2, 0)), ((2, 2), (2, 0), (0, 2))):
                corner = np.array(p)
                middle = (corner + np.roll(corner, -1, 0)) // 2
                facets.append(number[tuple((np.concatenate([corner, middle]) + np.array([i, k])).T)])
    facets = np.array(facets)
    pressure = pressure_of(rest[:, 0], rest[:, 2], facets)
    return Sole3d(rest, rest * [stretch, 1.0, 1.0], pressure, np.zeros(len(rest)), facets)


def inside(sole, margin=6.0):
    return ((sole.rest[:, [0, 2]] > margin) & (sole.rest[:, [0, 2]] < SIDE_MM - margin)).all(axis=1)


def test_areas_add_up():
    sole = plate(lambda x, z, f: 0.0 * x, stretch=1.25)
    assert sole.area_mm2.sum() == pytest.approx(1.25 * SIDE_MM**2, rel=1e-12)


@pytest.mark.parametrize("stretch", [1.0, 1.25])
def test_an_even_pressure_is_kept_and_a_stretch_lowers_it(stretch):
    sole = plate(lambda x, z, f: np.full_like(x, 0.2), stretch)
    assert sole.patch_pressure_kPa() == pytest.approx(np.full(len(sole.rest), 200.0 / stretch))


def test_a_slope_is_kept_inside():
    sole = plate(lambda x, z, f: 0.01 * x)
    at = inside(sole)
    assert sole.patch_pressure_kPa()[at] == pytest.approx(10.0 * sole.rest[at, 0], rel=0.06)


def test_scatter_between_corners_and_middles_is_averaged():
    def scattered(x, z, facets):
        out = np.full_like(x, 0.15)
        out[np.unique(facets[:, :3])] = 0.0
        return out

    sole = plate(scattered)
    found = sole.patch_pressure_kPa()[inside(sole)]
    assert np.ptp(found) < 1e-6 * found.mean()
    assert 75.0 < found.mean() < 150.0


def test_the_force_of_a_vertex_at_an_edge_spreads_over_its_whole_area():
    """Half of a vertex beyond a device's edge: a large pressure on a small part is a small force."""
    known = plate(lambda x, z, f: np.zeros_like(x))
    count = len(known.rest)

    class Rim:
        points, vertices, vertex = known.rest, np.arange(count), known.facets

    class Pressed:
        pressure_MPa = np.full(count, 0.2)
        area_mm2 = known.area_mm2.copy()

    whole = sole3d([Rim], [Pressed], known.rest)
    assert whole.patch_pressure_kPa() == pytest.approx(np.full(count, 200.0))
    at = int(np.argmin(np.linalg.norm(known.rest - [20.0, 0.0, 20.0], axis=1)))
    Pressed.area_mm2[at] *= 1e-4
    Pressed.pressure_MPa[at] *= 1e4
    rim = sole3d([Rim], [Pressed], known.rest)
    assert rim.patch_pressure_kPa() == pytest.approx(np.full(count, 200.0))

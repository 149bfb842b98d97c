"""Signed distances against points whose distance is known."""

import numpy as np
import pytest

from fefoot.errors import InputError
from fefoot.foot import bone_distance, bone_names, skin_distance
from fefoot.foot.shape import (
    ellipsoid,
    round_cone,
    smooth_maximum,
    smooth_minimum,
    smoothstep,
)

RNG = np.random.default_rng(4)


def test_round_cone_is_the_hull_of_its_spheres():
    """Brute force: the hull is the union of the spheres along the axis, radius linear."""
    a, b, ra, rb = np.array([1.0, 2.0, -1.0]), np.array([9.0, -1.0, 3.0]), 3.0, 1.2
    points = RNG.uniform(-8, 14, (300, 3))
    s = np.linspace(0, 1, 4001)[:, None, None]
    brute = np.linalg.norm(points - (a + s * (b - a)), axis=2) - (ra + s[..., 0] * (rb - ra))
    brute = brute.min(axis=0)
    assert round_cone(points, a, b, ra, rb) == pytest.approx(brute, abs=1e-5)


def test_round_cone_of_equal_radii_is_a_capsule():
    points = np.array([[5.0, 3.0, 0.0], [-4.0, 0.0, 0.0], [12.0, 0.0, 0.0], [5.0, 0.0, 0.0]])
    got = round_cone(points, [0, 0, 0], [10, 0, 0], 1.0, 1.0)
    assert got == pytest.approx([2.0, 3.0, 1.0, -1.0], abs=1e-14)


def test_ellipsoid_vanishes_on_its_surface_with_unit_slope_and_is_exact_for_a_sphere():
    radii, centre = np.array([19.0, 15.5, 17.0]), np.array([1.0, -2.0, 3.0])
    u = RNG.normal(size=(200, 3))
    u /= np.linalg.norm(u, axis=1)[:, None]
    surface = centre + radii * u
    assert ellipsoid(surface, centre, radii) == pytest.approx(0.0, abs=1e-12)
    normal = u / radii
    normal /= np.linalg.norm(normal, axis=1)[:, None]
    assert ellipsoid(surface + 1e-4 * normal, centre, radii) == pytest.approx(1e-4, rel=1e-3)
    points = RNG.uniform(-9, 9, (100, 3))
    sphere = np.linalg.norm(points - centre, axis=1) - 4.0
    assert ellipsoid(points, centre, [4.0] * 3) == pytest.approx(sphere, abs=1e-12)
    assert ellipsoid(centre[None], centre, radii) == pytest.approx(-15.5)


def test_smooth_union_keeps_the_minimum_away_from_the_blend():
    a, b = RNG.uniform(-9, 9, (2, 500))
    union = smooth_minimum(a, b, 3.0)
    far = np.abs(a - b) >= 3.0
    assert np.array_equal(union[far], np.minimum(a, b)[far])
    assert (union <= np.minimum(a, b)).all() and (union >= np.minimum(a, b) - 0.75).all()
    assert smooth_minimum(np.ones(1), np.ones(1), 3.0) == pytest.approx(1 - 0.75)
    assert np.array_equal(smooth_maximum(a, b, 3.0), -smooth_minimum(-a, -b, 3.0))


def test_smoothstep_has_flat_ends():
    assert smoothstep(np.array([-1, 0, 0.5, 1, 2])).tolist() == [0, 0, 0.5, 1, 1]
    assert abs(smoothstep(1e-3)) < 1.1e-8 and abs(1 - smoothstep(1 - 1e-3)) < 1.1e-8


def test_bones_at_points_read_off_the_anatomy_page():
    """The reference foot: lowest point of the calcaneus 17 mm, of metatarsal heads 1 and 2 11 mm up."""
    for bone, point in (("metatarsal_1", [185, 11, -27]), ("metatarsal_2", [190, 11, -7])):
        assert bone_distance(bone, np.array([point], float)) == pytest.approx(0.0, abs=1e-12)
    x, y, z = np.meshgrid(np.arange(20, 42, 0.5), np.arange(16.6, 18, 0.02), np.arange(-10, 11))
    under = np.column_stack([x.ravel(), y.ravel(), z.ravel()])
    inside = under[bone_distance("calcaneus", under) < 0.0]
    assert inside[:, 1].min() == pytest.approx(17.0, abs=0.03)
    assert bone_distance("calcaneus", np.array([[29.0, 17.0, 0.0]])) == pytest.approx(0.0, abs=0.01)
    with pytest.raises(InputError, match="calcaneus"):
        bone_distance("calcaneous", np.zeros((1, 3)))


def test_bones_are_disjoint_and_covered_by_skin():
    points = RNG.uniform([-2, 0, -48], [252, 88, 52], (150_000, 3))
    inside = np.array([bone_distance(bone, points) < 0 for bone in bone_names()])
    assert inside.sum(axis=0).max() == 1 and inside.any(axis=1).all()
    covered = points[inside.any(axis=0)]
    assert skin_distance(covered).max() < -2.5


def test_skin_measures_like_the_reference_foot():
    """Length 255, heel width 65, forefoot width 98 mm of the reference foot, on a 0.5 mm grid."""
    z = np.arange(-56, 56, 0.5)

    def reach(x, y):
        grid = np.array(np.meshgrid(x, y, z, indexing="ij")).reshape(3, -1).T
        inside = grid[skin_distance(grid) < 0.0]
        return np.ptp(inside[:, 2]), np.ptp(inside[:, 0])

    assert reach(np.arange(20, 40, 4.0), np.arange(20, 34, 2.0))[0] == pytest.approx(65, abs=1)
    assert reach(np.arange(164, 180, 3.0), np.arange(6, 24, 3.0))[0] == pytest.approx(98, abs=1)
    x = np.concatenate([np.arange(-2, 3, 0.25), np.arange(250, 258, 0.25)])
    assert reach(x, np.arange(9, 31, 2.0))[1] == pytest.approx(255, abs=1)

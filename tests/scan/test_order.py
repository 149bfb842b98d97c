"""Pieces, orientation, holes, rigid placements and heights: against surfaces known exactly."""

import numpy as np
import pytest
import trimesh
from scan_shapes import turned, without

from fefoot.device.facets import Facets, faults
from fefoot.scan.order import holes, largest_piece, oriented, subdivided
from fefoot.scan.pose import THINNEST_UP, closest, matched, principal_rotations, sampled
from fefoot.scan.raster import height_grid


@pytest.fixture(scope="module", name="ball")
def a_ball():
    mesh = trimesh.creation.icosphere(subdivisions=4, radius=50.0)
    return Facets(np.asarray(mesh.vertices, float), np.asarray(mesh.faces))


def test_turned_triangles_are_turned_back(ball, rng):
    flip = rng.random(len(ball.triangles)) < 0.2
    mixed = ball.triangles.copy()
    mixed[flip] = mixed[flip, ::-1]
    back, count = oriented(Facets(ball.points_mm, mixed))
    assert count == flip.sum() and faults(back) == []
    assert oriented(ball) == (ball, 0)


def test_loose_pieces_are_left_out(ball):
    speck = Facets(0.02 * ball.points_mm + 90.0, ball.triangles + len(ball.points_mm))
    both = Facets(np.vstack([ball.points_mm, speck.points_mm]), np.vstack(
        [speck.triangles, ball.triangles]))
    piece, others, share = largest_piece(both)
    assert others == 1 and share == pytest.approx(0.02**2 / (1 + 0.02**2))
    assert piece.volume_mm3() == pytest.approx(ball.volume_mm3()) and faults(piece) == []


def test_holes_are_found_widest_first(ball):
    assert holes(ball) == []
    cut = without(ball, lambda x, y, z: (y > 40.0) | (x > 48.0))
    one, two = holes(cut)
    assert one.across_mm == pytest.approx(2 * np.sqrt(50**2 - 40**2), rel=0.06)
    assert two.points_mm[:, 0].mean() == pytest.approx(48.0, abs=1.0)


def test_subdivision_keeps_the_area(ball):
    corners = subdivided(ball, 2.0)
    legs = np.linalg.norm(corners - np.roll(corners, -1, axis=1), axis=-1)
    assert legs.max() <= 2.0
    area = 0.5 * np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]),
                                axis=1).sum()
    assert area == pytest.approx(ball.area_mm2(), rel=1e-10)


def test_matched_points_recover_a_motion(rng):
    rotation, shift, points = turned(rng), rng.normal(size=3), rng.normal(size=(3, 3))
    pose = matched(points, points @ rotation.T + shift)
    assert np.allclose(pose.rotation, rotation, atol=1e-12) and np.allclose(pose.shift_mm, shift)


def test_principal_rotations_are_proper_and_all_there(rng):
    points = rng.normal(size=(400, 3)) * [9.0, 1.0, 4.0]
    found = principal_rotations(points)
    assert len(found) == 24
    assert all(np.allclose(r @ r.T, np.eye(3)) and np.linalg.det(r) > 0 for r in found)
    assert len({tuple(np.round(r, 6).ravel()) for r in found}) == 24
    for rotation in found[THINNEST_UP]:
        size = np.ptp(points @ rotation.T, axis=0)
        assert size[0] > size[2] > size[1]


def test_closest_points_recover_a_small_motion(rng):
    from scipy.spatial import cKDTree

    body = trimesh.creation.box(extents=(200.0, 60.0, 90.0))
    surface = Facets(np.asarray(body.vertices, float), np.asarray(body.faces))
    corners = subdivided(surface, 2.0)
    a, b, c = np.moveaxis(corners, 1, 0)
    normal = np.cross(b - a, c - a)
    target, normals = corners.mean(axis=1), normal / np.linalg.norm(normal, axis=1, keepdims=True)
    points = sampled(corners, 1500)
    start = matched(points, points)
    angle = np.radians(3.0)
    small = np.array([[np.cos(angle), -np.sin(angle), 0], [np.sin(angle), np.cos(angle), 0], [0, 0, 1]])
    pose, distance = closest(points @ small.T + [1.0, -2.0, 1.5], start, cKDTree(target), target,
                             normals, 40)
    assert np.allclose(pose.rotation @ small, np.eye(3), atol=1e-3) and distance < 1e-2


def test_heights_of_a_ball(ball):
    """Seen from below -sqrt(r^2 - s^2), from above +; within the chords of its triangles."""
    reach = np.linspace(-30.0, 30.0, 41)
    x, z = (a[np.hypot(*np.meshgrid(reach, reach)) < 30.0] for a in np.meshgrid(reach, reach))
    exact = np.sqrt(50.0**2 - x**2 - z**2)
    top = height_grid(ball, True)
    assert np.abs(top.at(x, z) - exact).max() < 0.12
    sole = height_grid(ball, False)
    # smoothing by 1.5 mm raises the bottom of a ball of 50 mm by about 1.5^2 / 50
    assert np.abs(sole.at(x, z) - (exact.max() - exact)).max() < 0.2
    assert sole.heights_mm.min() == pytest.approx(0.0, abs=0.1) and not sole.is_top


def test_a_tilted_plane_is_exact_up_to_and_beyond_its_edge():
    points = np.array([[0.0, 3.0, 0.0], [40.0, 7.0, 0.0], [40.0, 9.0, 20.0], [0.0, 5.0, 20.0]])
    grid = height_grid(Facets(points, np.array([[0, 2, 1], [0, 3, 2]])), True)
    x, z = np.meshgrid(np.linspace(-0.5, 40.5, 83), np.linspace(-0.5, 20.5, 43))
    assert np.abs(grid.at(x, z) - (3.0 + 0.1 * x + 0.1 * z)).max() < 1e-9

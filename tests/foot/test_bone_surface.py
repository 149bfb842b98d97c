"""Bone surfaces for pictures: closed, outward, on the bones."""

import numpy as np
import pytest

from fefoot.foot.anatomy import bone_distance, bone_names
from fefoot.foot.bone_surface import bone_surfaces, surface_net


def volume_mm3(points, triangles):
    a, b, c = (points[triangles[:, k]] for k in range(3))
    return np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6


def edges_meet(triangles):
    """Whether each edge is passed as often one way as the other."""
    edges = triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    one, count = np.unique(edges, axis=0, return_counts=True)
    other, back = np.unique(edges[:, ::-1], axis=0, return_counts=True)
    return np.array_equal(one, other) and np.array_equal(count, back)


def test_a_ball_has_its_volume_with_second_order():
    found = []
    for step in (2.0, 1.0):
        axis = np.arange(-12.0, 12.1, step)
        grid = np.stack(np.meshgrid(axis, axis, axis, indexing="ij"), axis=-1)
        points, triangles = surface_net(np.linalg.norm(grid, axis=-1) - 9.3, (-12.0,) * 3, step)
        assert edges_meet(triangles) and len(np.unique(triangles)) == len(points)
        found.append(abs(volume_mm3(points, triangles) / (4 / 3 * np.pi * 9.3**3) - 1))
    assert found[1] < 0.02 and found[0] / found[1] > 3.0


def test_every_bone_is_closed_outward_and_on_its_distance():
    surfaces = bone_surfaces()
    assert set(surfaces) == set(bone_names())
    assert sum(len(points) for points, _ in surfaces.values()) < 15_000
    for bone, (points, triangles) in surfaces.items():
        assert edges_meet(triangles), bone
        # where two faces of a cut bone meet, a step along the gradient does not end on the surface
        assert np.quantile(np.abs(bone_distance(bone, points)), 0.98) < 0.05, bone
        assert 1500 < volume_mm3(points, triangles) < 60_000, bone
    assert volume_mm3(*surfaces["calcaneus"]) == pytest.approx(52_500, rel=0.05)

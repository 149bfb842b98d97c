"""The scene of the whole foot: surfaces whole, bones moved as bodies, cables cut above the skin."""

from __future__ import annotations

import math

import numpy as np
import pytest

from fefoot.device import Device, Layer
from fefoot.device.mesh3d import device_mesh
from fefoot.foot.bone_surface import bone_surfaces
from fefoot.foot.landmarks import landmarks
from fefoot.foot.mesh3d import morphed3d, reference_mesh
from fefoot.foot.morph import REFERENCE, morph
from fefoot.foot.structure3d import structure3d, turn_about
from fefoot.mechanics.mesh import joined
from fefoot.outcome.scene import cut_above, parted
from fefoot.outcome.scene3d import scene

TURN = turn_about((0.0, 0.0, 1.0), math.radians(9.0))
SHIFT = np.array([3.0, -2.0, 1.0])


@pytest.fixture(scope="module", name="made")
def a_scene():
    foot = morphed3d(reference_mesh("coarse"), REFERENCE)
    pad = device_mesh(Device("flat", layers=(Layer("eva_firm", 6.0),)), landmarks(REFERENCE), 9.0)
    mesh, _ = joined(foot, pad)
    frame = structure3d(REFERENCE)
    places = {b.name: (np.array(b.centre_mm) + SHIFT, TURN, np.array(b.centre_mm))
              for b in frame.bodies}
    pressure = np.arange(len(mesh.points), dtype=float)
    x = mesh.points + np.array([0.0, 4.0, 0.0])
    line = np.array([[0.0, 200.0, 0.0], [0.0, 10.0, 0.0]])
    return foot, mesh, frame, scene(mesh, x, mesh.points, pressure, frame.bodies, places,
                                    {"achilles": (line, 700.0)}, REFERENCE, -1.5)


def test_the_skin_is_the_mesh_s_and_parted_into_sole_and_rest(made):
    foot, mesh, _, found = made
    assert len(found.sole_triangles) == 4 * len(foot.facets["plantar"])
    assert len(found.sole_triangles) + len(found.upper_triangles) == 4 * len(foot.facets["skin"])
    nodes = np.unique(foot.facets["skin"])
    assert found.skin == pytest.approx(mesh.points[nodes] + [0.0, 4.0, 0.0], abs=1e-4)
    assert found.pressure_kPa == pytest.approx(nodes)
    assert found.rest_sole_mm == pytest.approx(mesh.points[nodes][:, [0, 2]], abs=1e-4)
    corners = found.skin[found.sole_triangles].astype(float)
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    assert (normal[:, 1] < 0).mean() > 0.8  # outward: down


def test_bones_ride_on_their_bodies(made):
    _, _, frame, found = made
    names = [bone for body in frame.bodies for bone in body.bones]
    assert len(found.bones) == sum(len(bone_surfaces()[bone][0]) for bone in names)
    first = next(body for body in frame.bodies if body.name == "talus")
    start = sum(len(bone_surfaces()[b][0]) for b in names[:names.index("talus")])
    own = morph(bone_surfaces()["talus"][0], REFERENCE)
    centre = np.array(first.centre_mm)
    expected = centre + SHIFT + (own - centre) @ TURN.T
    assert found.bones[start:start + len(own)] == pytest.approx(expected, abs=1e-4)
    assert found.bone_triangles.max() == len(found.bones) - 1


def test_the_device_is_a_closed_surface(made):
    _, mesh, _, found = made
    edges = found.device_triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2)
    _, count = np.unique(np.sort(edges, axis=1), axis=0, return_counts=True)
    assert set(count) == {2}
    low = mesh.points[mesh.facets["device_bottom"]][..., 1].min()
    assert found.device[:, 1].min() == pytest.approx(low + 4.0, abs=1e-4)


@pytest.mark.parametrize(("path", "expected"), [
    ([(0, 20, 0), (0, 5, 0), (9, 5, 0)], [(0, 10, 0), (0, 5, 0), (9, 5, 0)]),
    ([(9, 5, 0), (0, 5, 0), (0, 20, 0), (0, 40, 0)], [(9, 5, 0), (0, 5, 0), (0, 10, 0)]),
    ([(0, 5, 0), (1, 6, 0)], [(0, 5, 0), (1, 6, 0)]),
    ([(0, 30, 0), (0, 0, 0), (0, 20, 0)], [(0, 10, 0), (0, 0, 0), (0, 10, 0)]),
    ([(0, 20, 0), (1, 30, 0)], [(0, 20, 0), (1, 30, 0)])])
def test_paths_are_cut_above_a_height(path, expected):
    assert cut_above(np.array(path, float), 10.0) == pytest.approx(np.array(expected, float))


def test_triangles_are_parted_along_a_level(rng):
    """Areas add up, each part keeps to its side, and the way round stays."""
    from scipy.spatial import Delaunay

    plan = rng.uniform(0, 10, (200, 2))
    triangles = Delaunay(plan).simplices
    values = plan[:, 0] + 0.3 * plan[:, 1] ** 2
    above, below, ends, share = parted(triangles, values, 9.0)
    start, end = plan[ends[:, 0]], plan[ends[:, 1]]
    points = np.vstack([plan, start + share[:, None] * (end - start)])
    level = np.concatenate([values, np.full(len(ends), 9.0)])

    def areas(cells):
        a, b = points[cells[:, 1]] - points[cells[:, 0]], points[cells[:, 2]] - points[cells[:, 0]]
        return 0.5 * (a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0])

    assert areas(above).sum() + areas(below).sum() == pytest.approx(areas(triangles).sum())
    assert min(areas(above).min(), areas(below).min()) > -1e-12 < areas(triangles).min()
    assert level[above].min() >= 9.0 >= level[below].max()
    assert 20 < len(ends) and ((share >= 0) & (share <= 1)).all()

"""A solved whole foot leaves a scene that fits the solve, and a page with its view and its map."""

from __future__ import annotations

import numpy as np
import pytest

from fefoot.case import case_from_dict
from fefoot.outcome.picture import picture
from fefoot.study.model import build
from fefoot.study.question import demand, question
from fefoot.study.solve import solve_model


@pytest.mark.slow
def test_the_scene_of_a_solve():
    """Standing on the ground, coarse mesh; a minute or two."""
    case = case_from_dict({
        "model": "foot3d", "target": "plantar_fascia", "person": {"body_mass_kg": 70},
        "activity": {"name": "standing"}, "solver": {"mesh_size_mm": 6}})
    instant = case.activity.instants()[0]
    solved = solve_model(build(question(case, None, instant)), demand(case, instant))
    scene = picture(solved).scene
    x, mesh = solved.solution.state.x, solved.model.mesh
    # bone nodes of the mesh lie on the moved bone surfaces
    from scipy.spatial import cKDTree

    surface = scene.bones[scene.bone_triangles].reshape(-1, 3, 3).mean(axis=1)
    tree = cKDTree(np.vstack([scene.bones, surface]))
    nodes = np.concatenate([ids for name, ids in mesh.nodes.items() if name.startswith("bone:")])
    away, _ = tree.query(x[nodes])
    assert np.quantile(away, 0.95) < 2.5
    # the pressures carry the vertical force
    corners = scene.skin[scene.sole_triangles].astype(float)
    legs = corners[:, 1:] - corners[:, :1]
    up = 0.5 * np.cross(legs[:, 0], legs[:, 1])[:, 1]
    force_N = -1e-3 * (up * scene.pressure_kPa[scene.sole_triangles].mean(axis=1)).sum()
    assert force_N == pytest.approx(solved.demand.vertical_N, rel=0.05)
    pressed = scene.skin[scene.pressure_kPa > 20.0]
    assert len(pressed) > 100
    assert np.median(np.abs(pressed[:, 1] - scene.ground_y_mm)) < 0.1
    assert {name for name in scene.cables if name.startswith("plantar_fascia")} == {
        f"plantar_fascia_{ray}" for ray in range(1, 6)}

"""The sections' models: what the foot rests on."""

import numpy as np
import pytest

from fefoot.case.reader import case_from_dict
from fefoot.study.model import build
from fefoot.study.question import demand, question
from fefoot.study.solve import solve_model


def solved_on_post(angle_degrees, mesh_size_mm):
    """Return the rearfoot section solved in walking on a cup with a post."""
    case = case_from_dict({
        "title": "steep post", "model": "rearfoot", "target": "heel_pad",
        "person": {"body_mass_kg": 70.0}, "activity": {"name": "walking", "at": 22},
        "solver": {"mesh_size_mm": mesh_size_mm},
        "device": [{
            "name": "posted", "length": "to_metatarsals",
            "layer": [{"material": "eva_soft", "thickness_mm": 3.0},
                      {"material": "eva_firm", "thickness_mm": 4.0}],
            "feature": [{"kind": "heel_cup", "depth_mm": 10.0},
                        {"kind": "rearfoot_post", "angle_degrees": angle_degrees}]}]})
    instant = case.activity.instants()[0]
    return solve_model(build(question(case, case.devices[0], instant)), demand(case, instant))


@pytest.mark.parametrize("angle_degrees, mesh_size_mm", [(10.0, 4.0), (10.0, 4.5), (-6.0, 5.0)])
def test_the_heel_lies_on_the_rim_of_a_cup_on_a_steep_post(angle_degrees, mesh_size_mm):
    """The heel slides over the low wall; skin that found no rim to rest on sank into the device beside
    it, and no equilibrium was found at some element sizes."""
    solved = solved_on_post(angle_degrees, mesh_size_mm)
    system, x = solved.model.system, solved.solution.state.x
    contact = next(c for c in system.contacts if c.name == "foot on device")
    top = x[contact.target_nodes]
    top = top[np.argsort(system.coordinates.points[contact.target_nodes, 0])]
    assert np.all(np.diff(top[:, 0]) > 0)  # a height at every place
    skin = x[np.unique(contact.facets[:, :2])]
    over = skin[(skin[:, 0] > top[0, 0]) & (skin[:, 0] < top[-1, 0])]
    depth = np.interp(over[:, 0], *top.T) - over[:, 1]
    assert len(over) > 20 and depth.max() < 0.3

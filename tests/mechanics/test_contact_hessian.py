"""The contact's Hessian over the unknowns, and the groups in which its points are summed."""

from dataclasses import replace

import numpy as np
import pytest
from blocks import block, law

from fefoot.mechanics.contact import Contact
from fefoot.mechanics.contact_hessian import GROUP, _groups
from fefoot.mechanics.mesh import joined
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System


@pytest.mark.parametrize("dim", [2, 3])
@pytest.mark.parametrize("friction", [0.0, np.inf])
def test_over_unknowns_it_is_the_one_over_nodes_reduced(dim, friction, rng):
    """A target on a body, and a soft side of which some nodes ride on another: T^T H T."""
    low = block((3, 2, 2)[:dim], (3.0, 1.0, 2.0)[:dim], prefix="low:")
    high = block((4, 2, 3)[:dim], (2.0, 1.0, 1.4)[:dim], (0.4, 1.0, 0.3)[:dim], prefix="high:")
    mesh, _ = joined(low, high)
    points = mesh.points + 0.05 * np.sin(2 * mesh.points[:, :1]) * np.eye(dim)[1]
    body = np.where(mesh.points[:, 1] > 1.9, 0, -1)
    body[np.unique(mesh.facets["low:y1"])] = 1
    upper = np.unique(mesh.facets["high:y0"])
    body[upper[points[upper, 0] < 0.5]] = 0
    co = Coordinates(points, body, np.array([[1.0, 2.5, 1.0], [1.0, -1.0, 1.0]])[:, :dim])
    contact = Contact("c", points, mesh.facets["high:y0"], mesh.facets["low:y1"],
                      penalty_MPa_per_mm=3.0, friction=friction)
    solid = Solid(points, mesh.cells, law("neo_hookean", E_MPa=1.0, nu=0.3))
    system = System(co, solids=[solid], contacts=[contact])
    state = co.moved(co.start(), 0.01 * rng.normal(size=co.size))
    memory = contact.memory(state.x)
    memory = replace(memory, pressure_MPa=np.full_like(memory.pressure_MPa, 0.4),
                     loaded=np.ones_like(memory.loaded), x=points)
    rays = contact.rays(state.x, memory)
    here = system.evaluate(state, Load(), (rays,), (memory,))
    apart = System(co, solids=[solid])
    alone = apart.evaluate(state, Load(), (), ())
    reduction = co.reduction(state)[: co.node_dofs].toarray()
    _, gradient, over_nodes, status = contact.evaluate(state.x, rays, memory)
    assert status.active and (status.traction_MPa.any() or not friction)
    expected = reduction.T @ over_nodes.toarray() @ reduction
    turn = co.geometric(state, gradient.reshape(-1, dim))
    for number in range(co.bodies):
        at = co.body_slice(number)
        expected[at, at][dim:, dim:] += turn[number]
    found = system.pattern.matrix(here.data).toarray() - apart.pattern.matrix(alone.data).toarray()
    np.testing.assert_allclose(found, expected, atol=1e-9 * np.abs(expected).max())


def test_groups_hold_every_point_once_beside_its_like(rng):
    key = rng.choice([3, 5, 8, 90], 200, p=[0.5, 0.3, 0.19, 0.01])
    number, points = _groups(key)
    assert points.shape == (len(number), GROUP)
    real = points >= 0
    np.testing.assert_array_equal(np.sort(points[real]), np.arange(len(key)))
    np.testing.assert_array_equal(np.unique(key)[np.repeat(number, real.sum(1))], key[points[real]])
    assert real[:, 0].all() and (np.diff(number) >= 0).all()

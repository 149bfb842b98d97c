"""Gradients and Hessians of every term against differences of the energy."""

from dataclasses import replace

import numpy as np
import pytest
from blocks import block, law

from fefoot.mechanics.cable import Cable
from fefoot.mechanics.contact import Contact
from fefoot.mechanics.joint import Joint, Spring, Stiffness
from fefoot.mechanics.mesh import joined
from fefoot.mechanics.pressure import Pressure
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates
from fefoot.mechanics.system import Load, System

LAWS = {
    "linear_elastic": dict(E_MPa=1.0, nu=0.3),
    "neo_hookean": dict(E_MPa=1.0, nu=0.4),
}


def directions(system, rng, count):
    for _ in range(count):
        v = rng.normal(size=system.coordinates.size)
        v[system.coordinates.first_body:] *= 0.1
        yield v / np.linalg.norm(v)


def check(system, state, load, rng, memory=None, rays=None, tolerance=2e-6):
    """Directional first and second differences of the energy in random directions."""
    memory = memory or system.memory(state)
    rays = rays or system.rays(state, memory)
    here = system.evaluate(state, load, rays, memory)
    matrix = system.pattern.matrix(here.data)
    assert abs(matrix - matrix.T).max() < 1e-9 * abs(matrix).max()
    for v in directions(system, rng, 4):
        def energy(h, v=v):
            moved = system.coordinates.moved(state, h * v)
            return system.evaluate(moved, load, rays, memory, tangent=False).energy_Nmm

        h = 1e-4
        slope = (8 * (energy(h) - energy(-h)) - (energy(2 * h) - energy(-2 * h))) / (12 * h)
        assert slope == pytest.approx(here.residual @ v, rel=tolerance, abs=1e-7)
        h = 5e-4
        bend = (16 * (energy(h) + energy(-h)) - (energy(2 * h) + energy(-2 * h))
                - 30 * energy(0.0)) / (12 * h * h)
        assert bend == pytest.approx(v @ (matrix @ v), rel=2e-4, abs=1e-5)


def shaken(system, rng, size=0.03):
    dq = rng.normal(size=system.coordinates.size) * size
    return system.coordinates.moved(system.coordinates.start(), dq)


@pytest.mark.parametrize("name", LAWS)
@pytest.mark.parametrize("dim", [2, 3])
def test_solid(name, dim, rng):
    mesh = block((2, 2, 1)[:dim], (2.0, 1.5, 1.0)[:dim])
    co = Coordinates(mesh.points, np.full(len(mesh.points), -1), np.zeros((0, dim)))
    system = System(co, solids=[Solid(mesh.points, mesh.cells, law(name, **LAWS[name]))])
    check(system, shaken(system, rng), Load(), rng)


@pytest.mark.parametrize("dim", [2, 3])
def test_solid_with_rigid_nodes(dim, rng):
    mesh = block((2, 2, 2)[:dim], (2.0, 2.0, 2.0)[:dim])
    body = np.where(mesh.points[:, 0] > 1.9, 0, -1)
    body[mesh.points[:, 0] < 0.1] = 1
    co = Coordinates(mesh.points, body, np.array([[2.5, 1.0, 0.8], [-1.0, 0.2, 0.1]])[:, :dim])
    system = System(co, solids=[Solid(mesh.points, mesh.cells,
                                      law("neo_hookean", E_MPa=1.0, nu=0.4))])
    check(system, shaken(system, rng), Load(), rng)


@pytest.mark.parametrize("dim", [2, 3])
def test_cables_springs_and_joints(dim, rng):
    points = rng.normal(size=(9, dim)) * 3
    body = np.array([0, 0, 0, 1, 1, 1, -1, -1, 2])
    co = Coordinates(points, body, rng.normal(size=(3, dim)))
    axes = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    laws = (Stiffness(5.0, 0.3, 0.5), Stiffness(40.0), Stiffness(9.0, 0.4, 0.2, 0.1))
    system = System(
        co,
        cables=[Cable("slack", (0, 6, 3, 8), 2.0, 1e3), Cable("taut", (1, 7, 4), 3.0, 1.0, 0.5),
                Cable("pull", (2, 6, 5), tension_N=4.0)],
        springs=[Spring("s", 2, 8, (3.0, 2.0, 1.0)[:dim], (0.1, 0.2, 0.3)[:dim])],
        joints=[Joint("j", 0, 1, laws[:1] if dim == 2 else laws, None if dim == 2 else axes),
                Joint("k", 2, 0, laws[:1] if dim == 2 else laws, None if dim == 2 else axes)])
    state = shaken(system, rng, 0.3)
    assert system.cables[1].tension(state.x) > 0 and system.cables[0].tension(state.x) == 0
    check(system, state, Load(), rng)


@pytest.mark.parametrize("dim", [2, 3])
def test_pressure(dim, rng):
    mesh = block((2, 2, 1)[:dim], (2.0, 2.0, 1.0)[:dim])
    co = Coordinates(mesh.points, np.full(len(mesh.points), -1), np.zeros((0, dim)))
    facets = np.concatenate(list(mesh.facets.values()))
    system = System(co, pressures=[Pressure(facets, 0.7)])
    check(system, shaken(system, rng), Load(pressure=0.5), rng)


def contact_pair(dim, friction=0.0, bump=0.05, **options):
    """Two blocks whose meshes do not match; their meeting faces are curved by ``bump`` mm."""
    low = block((3, 2, 2)[:dim], (3.0, 1.0, 2.0)[:dim], prefix="low:")
    high = block((4, 2, 3)[:dim], (2.0, 1.0, 1.4)[:dim], (0.4, 1.0, 0.3)[:dim], prefix="high:")
    mesh, _ = joined(low, high)
    points = mesh.points.copy()
    points[:, 1] += bump * np.sin(2 * points[:, 0])
    body = np.where(points[:, 1] > 1.9, 0, -1)
    body[points[:, 1] < 0.1] = 1
    co = Coordinates(points, body, np.array([[1.0, 2.5, 1.0], [1.0, -1.0, 1.0]])[:, :dim])
    contact = Contact("c", points, mesh.facets["high:y0"], mesh.facets["low:y1"],
                      penalty_MPa_per_mm=3.0, friction=friction, **options)
    return System(co, solids=[Solid(points, mesh.cells, law("neo_hookean", E_MPa=1.0, nu=0.3))],
                  contacts=[contact])


def flat_target(system, rng):
    """Random positions in which only the soft side has left its plane."""
    target = np.unique(system.contacts[0].target)
    x = system.coordinates.points + 0.01 * rng.normal(size=system.coordinates.points.shape)
    x[target, 1] = system.coordinates.points[target, 1]
    return x


def loaded(contact, x, pressure_MPa=0.4):
    """Memory in which every vertex carries a pressure and is held, and rays laid with it."""
    memory = contact.memory(x)
    memory = replace(memory, pressure_MPa=np.full_like(memory.pressure_MPa, pressure_MPa),
                     loaded=np.ones_like(memory.loaded))
    return memory, contact.rays(x, memory)


def differences(contact, x, v, rays, memory, h=1e-6):
    """Fourth-order central difference of the gradient along ``v``."""
    def gradient(s):
        return contact.evaluate(x + s * h * v.reshape(x.shape), rays, memory, tangent=False)[1]

    return (8 * (gradient(1) - gradient(-1)) - (gradient(2) - gradient(-2))) / (12 * h)


@pytest.mark.parametrize("dim", [2, 3])
def test_contact_on_a_flat_target(dim, rng):
    """On a plane the force is the derivative of the energy, and the Hessian its second.

    The target moves as a plane, with body 1 that carries it; its own nodes are left still.
    """
    system = contact_pair(dim, bump=0.0)
    contact, x = system.contacts[0], flat_target(system, rng)
    memory, rays = loaded(contact, x)
    _, gradient, hessian, status = contact.evaluate(x, rays, memory)
    assert status.active == len(contact.vertices)
    assert abs(hessian - hessian.T).max() < 1e-9 * abs(hessian).max()
    for _ in range(4):
        v = rng.normal(size=x.shape)
        v[np.unique(contact.target), 1] = rng.normal()
        v = v.ravel() / np.linalg.norm(v)

        def energy(h, v=v):
            return contact.evaluate(x + h * v.reshape(x.shape), rays, memory, tangent=False)[0]

        h = 1e-4
        slope = (8 * (energy(h) - energy(-h)) - (energy(2 * h) - energy(-2 * h))) / (12 * h)
        assert slope == pytest.approx(gradient @ v, rel=2e-6, abs=1e-7)
        h = 5e-4
        bend = (16 * (energy(h) + energy(-h)) - (energy(2 * h) + energy(-2 * h))
                - 30 * energy(0.0)) / (12 * h * h)
        assert bend == pytest.approx(v @ (hessian @ v), rel=2e-4, abs=1e-5)


@pytest.mark.parametrize("dim", [2, 3])
def test_contact_on_a_curved_target(dim, rng):
    """Between facets the force follows the smoothed normal: differences of the gradient."""
    system = contact_pair(dim)
    contact = system.contacts[0]
    x = system.coordinates.points + 0.01 * rng.normal(size=system.coordinates.points.shape)
    memory, rays = loaded(contact, x)
    _, _, exact, status = contact.evaluate(x, rays, memory, exact=True)
    assert status.active == len(contact.vertices)
    for _ in range(4):
        v = rng.normal(size=x.size)
        expected = differences(contact, x, v, rays, memory)
        assert np.linalg.norm(exact @ v - expected) < 1e-6 * np.linalg.norm(expected)


@pytest.mark.parametrize("dim", [2, 3])
def test_symmetric_hessian_is_near_the_exact_one(dim, rng):
    """On smoothly curved facets, for a target that moves as a body.

    The symmetric one also turns the normal with the target's facet, the frozen normal does not.
    """
    system = contact_pair(dim)
    contact, x = system.contacts[0], system.coordinates.points
    memory, rays = loaded(contact, x)
    exact, symmetric = (contact.evaluate(x, rays, memory, exact=e)[2] for e in (True, False))
    assert abs(symmetric - symmetric.T).max() < 1e-9 * abs(symmetric).max()
    assert abs(exact - exact.T).max() > 1e-3 * abs(exact).max()
    for _ in range(4):
        v = rng.normal(size=x.shape)
        v[np.unique(contact.target)] = rng.normal(size=dim)
        expected = exact @ v.ravel()
        assert np.linalg.norm(symmetric @ v.ravel() - expected) < 0.03 * np.linalg.norm(expected)


@pytest.mark.parametrize("dim", [2, 3])
def test_contact_forces_balance(dim, rng):
    system = contact_pair(dim)
    state = shaken(system, rng, 0.01)
    contact, rays = system.contacts[0], system.rays(state, system.memory(state))[0]
    memory = contact.memory(state.x)
    memory = replace(memory, pressure_MPa=np.full_like(memory.pressure_MPa, 0.4))
    _, gradient, _, status = contact.evaluate(state.x, rays, memory, tangent=False)
    gradient = gradient.reshape(-1, dim)
    own = np.unique(contact.facets)
    assert np.abs(gradient.sum(0)).max() < 1e-12
    assert -gradient[own].sum(0) == pytest.approx(status.force_N, abs=1e-12)
    assert status.force_N[1] > 0


@pytest.mark.parametrize("dim", [2, 3])
def test_an_evaluation_may_start_from_its_interior(dim, rng):
    """New rays at the same state need only the contact again; matrix and residual are the same."""
    system = contact_pair(dim)
    state = shaken(system, rng, 1e-3)
    memory = system.memory(state)
    early, rays = system.rays(system.coordinates.start(), memory), system.rays(state, memory)
    known = system.evaluate(state, Load(), early, memory, tangent=False).interior
    fresh = system.evaluate(state, Load(), rays, memory)
    again = system.evaluate(state, Load(), rays, memory, tangent=False, interior=known)
    np.testing.assert_array_equal(again.residual, fresh.residual)
    np.testing.assert_allclose(system.tangent(again), fresh.data, rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize("dim", [2, 3])
def test_friction_tangent(dim, rng):
    """The friction tangent is not symmetric: compare it with differences of the gradient."""
    system = contact_pair(dim, friction=0.3)
    contact = system.contacts[0]
    start = system.coordinates.points
    x = start + rng.normal(size=start.shape) * 0.01
    memory = replace(loaded(contact, x, 0.1)[0], x=start)
    rays = contact.rays(x, memory)
    _, _, hessian, status = contact.evaluate(x, rays, memory, exact=True)
    limit = 0.3 * status.pressure_MPa
    sliding = np.linalg.norm(status.traction_MPa, axis=1) > limit - 1e-12
    assert sliding.any() and not sliding.all()
    v = rng.normal(size=x.size)
    difference = differences(contact, x, v, rays, memory)
    # the change of the target normal in the projection is left out of the tangent
    assert np.linalg.norm(hessian @ v - difference) < 0.05 * np.linalg.norm(difference)


@pytest.mark.parametrize("dim", [2, 3])
def test_rough_contact_on_a_flat_target(dim, rng):
    """Loaded points hold; the tangent is symmetric.

    It is exact without traction. With traction it leaves out only how the target's nodes share the
    traction when a point wanders over their facet: the soft side and the resultants are exact.
    """
    system = contact_pair(dim, friction=np.inf, bump=0.0)
    contact, x = system.contacts[0], flat_target(system, rng)
    soft, hard = np.unique(contact.facets), np.unique(contact.target)
    memory, rays = loaded(contact, x)
    assert rays.stick.all()
    before = x.copy()
    before[soft] = system.coordinates.points[soft]
    slipped = replace(memory, x=before)
    for recall in (memory, slipped):
        _, _, hessian, status = contact.evaluate(x, rays, recall)
        assert abs(hessian - hessian.T).max() < 1e-9 * abs(hessian).max()
        assert status.traction_MPa.any() == (recall is slipped)
        for _ in range(4):
            v = rng.normal(size=x.shape)
            v[hard] = rng.normal(size=dim)
            expected = differences(contact, x, v.ravel(), rays, recall).reshape(x.shape)
            found = (hessian @ v.ravel()).reshape(x.shape)
            size = 1e-6 * np.linalg.norm(expected)
            assert np.linalg.norm(found[soft] - expected[soft]) < size
            assert np.linalg.norm((found - expected)[hard].sum(0)) < size
            if recall is memory:
                assert np.linalg.norm(found - expected) < size
    idle = contact.rays(x, replace(slipped, loaded=np.zeros_like(memory.loaded)))
    assert not idle.stick.any()
    assert not contact.evaluate(x, idle, slipped)[3].traction_MPa.any()


@pytest.mark.parametrize("dim", [2, 3])
def test_gripping_contact(dim, rng):
    """Friction of the whole slip: below mu p, without history, with an exact tangent."""
    system = contact_pair(dim, friction=0.4, grip_mm=0.02, barrier_N_per_mm=(1e-3, 1e-3))
    contact = system.contacts[0]
    x = system.coordinates.points + 0.01 * rng.normal(size=system.coordinates.points.shape)
    memory, rays = loaded(contact, x)
    _, gradient, hessian, status = contact.evaluate(x, rays, memory, exact=True)
    friction = np.linalg.norm(status.traction_MPa, axis=1)
    assert (friction > 0.05 * status.pressure_MPa).any()
    assert (friction < 0.4 * status.pressure_MPa).all()
    elsewhere = replace(memory, x=x + rng.normal(size=x.shape))
    assert np.array_equal(contact.evaluate(x, rays, elsewhere)[1], gradient)
    for _ in range(4):
        v = rng.normal(size=x.shape)
        expected = differences(contact, x, v.ravel(), rays, memory).reshape(x.shape)
        found = (hessian @ v.ravel()).reshape(x.shape)
        assert np.linalg.norm(found - expected) < 1e-6 * np.linalg.norm(expected)

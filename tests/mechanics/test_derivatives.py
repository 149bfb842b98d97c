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


def contact_pair(dim, friction=0.0):
    low = block((3, 2, 2)[:dim], (3.0, 1.0, 2.0)[:dim], prefix="low:")
    origin = (0.4, 1.0, 0.3)[:dim] if dim == 2 else (0.4, 1.0, 0.3)
    high = block((4, 2, 3)[:dim], (2.0, 1.0, 1.4)[:dim], origin, prefix="high:")
    mesh, _ = joined(low, high)
    points = mesh.points.copy()
    points[:, 1] += 0.05 * np.sin(2 * points[:, 0])
    body = np.where(points[:, 1] > 1.9, 0, -1)
    body[points[:, 1] < 0.1] = 1
    co = Coordinates(points, body, np.array([[1.0, 2.5, 1.0], [1.0, -1.0, 1.0]])[:, :dim])
    contact = Contact("c", points, mesh.facets["high:y0"], mesh.facets["low:y1"],
                      penalty_MPa_per_mm=3.0, friction=friction)
    return System(co, solids=[Solid(points, mesh.cells, law("neo_hookean", E_MPa=1.0, nu=0.3))],
                  contacts=[contact])


@pytest.mark.parametrize("dim", [2, 3])
def test_contact(dim, rng):
    system = contact_pair(dim)
    state = shaken(system, rng, 0.01)
    dq = np.zeros(system.coordinates.size)
    dq[1: system.coordinates.first_body: dim] = -0.0
    rays = system.rays(state, system.memory(state))
    memory = tuple(replace(m, pressure_MPa=np.full_like(m.pressure_MPa, 0.4))
                   for m in system.memory(state))
    here = system.evaluate(state, Load(), rays, memory)
    assert here.status[0].active == len(system.contacts[0].vertices)
    check(system, state, Load(), rng, memory, rays)


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
def test_friction_tangent(dim, rng):
    """The friction tangent is not symmetric: compare it with differences of the gradient."""
    system = contact_pair(dim, friction=0.3)
    contact = system.contacts[0]
    state = system.coordinates.start()
    x = state.x + rng.normal(size=state.x.shape) * 0.01
    rays = contact.rays(x, contact.memory(state.x))
    memory = contact.memory(state.x)
    memory = replace(memory, pressure_MPa=np.full_like(memory.pressure_MPa, 0.1))
    project = dict(tangent=False)
    _, _, hessian, status = contact.evaluate(x, rays, memory)
    limit = 0.3 * status.pressure_MPa
    sliding = np.linalg.norm(status.traction_MPa, axis=1) > limit - 1e-12
    assert sliding.any() and not sliding.all()
    v = rng.normal(size=x.size)
    h = 1e-6

    def gradient(s):
        return contact.evaluate(x + s * h * v.reshape(x.shape), rays, memory, **project)[1]

    difference = (gradient(1) - gradient(-1)) / (2 * h)
    # the change of the target normal in the projection is left out of the tangent
    assert np.linalg.norm(hessian @ v - difference) < 0.05 * np.linalg.norm(difference)

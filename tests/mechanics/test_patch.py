"""Exactness of the elements: patch test, rigid-body modes, rank, quadratic fields."""

import numpy as np
import pytest
from blocks import block, law

from fefoot.mechanics.newton import Settings, solve
from fefoot.mechanics.solid import Solid
from fefoot.mechanics.state import Coordinates, rotation
from fefoot.mechanics.system import Load, System

LAWS = {
    "linear_elastic": dict(E_MPa=1.0, nu=0.3),
    "neo_hookean": dict(E_MPa=1.0, nu=0.4),
    "polynomial": dict(C10_MPa=0.1, C01_MPa=0.05, C20_MPa=0.02, C11_MPa=0.01, C02_MPa=0.01,
                       D1_per_MPa=0.5),
    "ogden": dict(mu_MPa=[0.2, 0.1], alpha=[4.0, -2.0], nu=0.4),
    "foam": dict(mu_MPa=[0.2], alpha=[4.0], nu=0.2),
    "fibre": dict(E_matrix_MPa=1.0, nu_matrix=0.4, E_fibre_MPa=5.0),
}
COUNTS, LENGTHS = (3, 3, 2), (3.0, 2.0, 2.0)
GRADIENT = np.array([[0.08, 0.05, -0.03], [-0.04, -0.06, 0.02], [0.03, 0.05, 0.04]])


def fibres(name, where):
    if name != "fibre":
        return None
    return np.broadcast_to(np.array([0.6, 0.8, 0.0]), (*where.shape[:2], 3)).copy()


def system_of(mesh, name, constants):
    co = Coordinates(mesh.points, np.full(len(mesh.points), -1), np.zeros((0, mesh.dim)))
    solid = Solid(mesh.points, mesh.cells, law(name, **constants),
                  fibre=lambda where: fibres(name, where))
    return System(co, solids=[solid])


def rim(mesh):
    return np.unique(np.concatenate([f.ravel() for f in mesh.facets.values()]))


def driven(mesh, target):
    """Prescribe all boundary nodes."""
    d, nodes = mesh.dim, rim(mesh)
    return {int(n) * d + i: float(target[n, i]) for n in nodes for i in range(d)}


@pytest.mark.parametrize("name", LAWS)
@pytest.mark.parametrize("dim", [2, 3])
def test_patch(name, dim):
    """A linear boundary displacement gives a linear field inside, to round-off."""
    mesh = block(COUNTS[:dim], LENGTHS[:dim], jitter=0.2)
    inside = np.setdiff1d(np.arange(len(mesh.points)), rim(mesh))
    assert len(inside) > 10
    exact = mesh.points @ GRADIENT[:dim, :dim].T
    system = system_of(mesh, name, LAWS[name])
    # 1e-11 of the reaction forces: the field is compared at 1e-10
    state = solve(system, lambda t: Load(held=driven(mesh, t * exact)),
                  settings=Settings(first_step=0.25, tolerance=1e-12)).state
    assert np.abs(state.x - mesh.points - exact).max() < 1e-10
    stress = system.solids[0].stress(state.x)[0]
    assert np.ptp(stress, axis=(0, 1)).max() < 1e-10


@pytest.mark.parametrize("name", LAWS)
@pytest.mark.parametrize("dim", [2, 3])
def test_no_force_under_finite_rotation(name, dim):
    mesh = block(COUNTS[:dim], LENGTHS[:dim], jitter=0.2)
    spin = np.array([[1.1]]) if dim == 2 else np.array([[0.7, -1.1, 0.4]])
    x = mesh.points @ rotation(spin)[0].T + 0.3
    energy, gradient, _ = system_of(mesh, name, LAWS[name]).solids[0].evaluate(x, False)
    assert abs(energy) < 1e-10
    assert np.abs(gradient).max() < 1e-10


@pytest.mark.parametrize("name", LAWS)
@pytest.mark.parametrize("dim", [2, 3])
def test_rank_of_one_element(name, dim):
    """Only the 3 or 6 rigid-body modes cost nothing."""
    mesh = block((1,) * dim, (1.0, 1.2, 0.9)[:dim])
    solid = system_of(mesh, name, LAWS[name]).solids[0]
    modes = 3 if dim == 2 else 6
    for matrix in solid.evaluate(mesh.points)[2]:
        values = np.linalg.eigvalsh(matrix)
        assert np.abs(values[:modes]).max() < 1e-10 * values[-1]
        assert values[modes] > 1e-4 * values[-1]


@pytest.mark.parametrize("dim", [2, 3])
def test_quadratic_field(dim):
    """A quadratic field in equilibrium without body force is reproduced exactly.

    mu lap u + (lambda + mu) grad div u = 0 holds since the fields below have neither divergence nor
    Laplacian. The field is scaled by 1e-7, so that the strain is linear to 1e-7.
    """
    mesh = block(COUNTS[:dim], LENGTHS[:dim], jitter=0.2)
    p, size = mesh.points, 1e-7
    if dim == 2:
        u = np.column_stack([p[:, 0] ** 2 - p[:, 1] ** 2, -2 * p[:, 0] * p[:, 1]])
    else:
        # the gradient of the harmonic x^2 y - y z^2 + ..., quadratic, divergence-free
        x, y, z = p.T
        u = np.column_stack([2 * x * y, x**2 - z**2, -2 * y * z])
    system = system_of(mesh, "linear_elastic", LAWS["linear_elastic"])
    held = driven(mesh, size * u)
    state = solve(system, lambda t: Load(held=held), settings=Settings(
        force_scale_N=1e-3, tolerance=1e-10)).state
    error = np.abs((state.x - p) / size - u).max() / np.abs(u).max()
    assert error < 1e-6


@pytest.mark.parametrize("dim", [2, 3])
def test_quadratic_field_solves_the_linear_system(dim):
    """The same without the geometric error: the tangent at rest times the field is zero inside."""
    mesh = block(COUNTS[:dim], LENGTHS[:dim], jitter=0.2)
    x, y, z = (*mesh.points.T, np.zeros(len(mesh.points)))[:3]
    u = (np.column_stack([x**2 - y**2, -2 * x * y]) if dim == 2
         else np.column_stack([2 * x * y, x**2 - z**2, -2 * y * z]))
    system = system_of(mesh, "linear_elastic", LAWS["linear_elastic"])
    state = system.coordinates.start()
    data = system.evaluate(state, Load(), (), ()).data
    force = (system.pattern.matrix(data) @ u.ravel()).reshape(u.shape)
    inside = np.setdiff1d(np.arange(len(u)), rim(mesh))
    assert np.abs(force[inside]).max() < 1e-10 * np.abs(force).max()

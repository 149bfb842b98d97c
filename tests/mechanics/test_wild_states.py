"""Trial states far from any equilibrium are told apart, and never stop a solve with a warning."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import scipy.sparse as sp
from blocks import block, law

from fefoot.errors import ConvergenceError
from fefoot.mechanics.balance import Balance
from fefoot.mechanics.contact import MOST_BOOST, MOST_SCARCE, Contact
from fefoot.mechanics.mesh import boundary_facets
from fefoot.mechanics.solid import Solid


@pytest.mark.parametrize("dim", [2, 3])
@pytest.mark.parametrize(("name", "constants"), [
    ("ogden", dict(mu_MPa=[0.001], alpha=[40.0], nu=0.475)),
    ("foam", dict(mu_MPa=[0.6], alpha=[-25.0], nu=0.1))])
def test_a_law_that_overflows_counts_as_inverted(name, constants, dim):
    mesh = block((1, 1, 1)[:dim], (2.0, 1.5, 1.0)[:dim])
    solid = Solid(mesh.points, mesh.cells, law(name, **constants))
    x = mesh.points.copy()
    assert np.isfinite(solid.derivatives(x)[0])
    x[:, 1] *= 1e-30  # flat to the last digit, and still the right way round
    assert solid.derivatives(x) == (np.inf, None, None)
    assert solid.derivatives(x, tangent=False) == (np.inf, None, None)


@pytest.mark.parametrize("friction", [0.0, np.inf])
def test_a_vertex_that_sees_too_little_carries_nothing_however_wide_its_gap(friction):
    mesh = block((2, 1), (2.0, 1.0))
    below = block((1, 1), (4.0, 1.0))
    points = np.concatenate([mesh.points + np.array([1.0, 1.05]), below.points])
    facets = boundary_facets(mesh.cells)[0]
    target = boundary_facets(below.cells)[0] + len(mesh.points)
    contact = Contact("c", points, facets, target, penalty_MPa_per_mm=1e3, friction=friction)
    memory = contact.memory(points)
    rays = contact.rays(points, memory)
    assert rays.area.any()
    memory = replace(memory, boost=np.full_like(memory.boost, MOST_BOOST))
    rays = replace(rays, area=np.zeros_like(rays.area),
                   scarcity=np.full_like(rays.scarcity, MOST_SCARCE))
    far = points.copy()
    far[:len(mesh.points), 1] += 1e6
    touch = contact.touch(far, rays, memory)
    assert touch.energy_Nmm == 0.0 and not touch.gradient.any()
    assert np.isinf(touch.status.gap_mm).all() and not touch.status.pressure_MPa.any()


def test_a_tension_without_lever_is_no_equilibrium():
    size = 8
    balance = Balance(turn=6, support=7, pull={}, counter={}, nodes=(0, 1), share=0.5, force_N=10.0,
                      centre=2)
    system = SimpleNamespace(coordinates=SimpleNamespace(dim=2, full_size=size))
    here = SimpleNamespace(interior=SimpleNamespace(reduction=sp.identity(size, format="csr")),
                           state=SimpleNamespace(x=np.zeros((4, 2))), residual=np.ones(size))
    with pytest.raises(ConvergenceError, match="no lever"):
        balance.close(system, here, sp.csr_matrix((size, size)), np.zeros((size, 3)), np.zeros(size))

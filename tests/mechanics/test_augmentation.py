"""When augmentation stops: what a pressure that carries nothing counts."""

from types import SimpleNamespace

import numpy as np
import pytest
from blocks import block

from fefoot.mechanics.contact import Contact
from fefoot.mechanics.mesh import boundary_facets
from fefoot.mechanics.newton import _change


@pytest.mark.parametrize(("shape", "size", "area"), [
    ((3, 2), (3.0, 1.0), 8.0 * 2.5), ((2, 2, 2), (1.0, 2.0, 3.0), 22.0)])
def test_the_areas_of_the_vertices_add_up_to_the_surface(shape, size, area):
    mesh = block(shape, size)
    facets, _ = boundary_facets(mesh.cells)
    contact = Contact("a", mesh.points, facets, facets[:1], penalty_MPa_per_mm=1.0,
                      thickness_mm=2.5 if len(shape) == 2 else 1.0)
    assert contact.own_area_mm2.sum() == pytest.approx(area, rel=1e-12)
    assert contact.own_area_mm2.min() > 0


def test_a_sliver_counts_by_its_force_and_only_when_asked():
    def memory(*pressure):
        return SimpleNamespace(pressure_MPa=np.array(pressure))

    contact = SimpleNamespace(own_area_mm2=np.array([10.0, 10.0]))
    evaluation = SimpleNamespace(status=[SimpleNamespace(area_mm2=np.array([10.0, 0.001]))])
    args = [contact], [memory(0.2, 50.0)], [memory(0.2, 40.0)], evaluation
    assert _change(*args, False) == pytest.approx(10.0 / 50.0)
    assert _change(*args, True) == pytest.approx(10.0 * 1e-4 / 0.2)
    args = [contact], [memory(0.2, 0.0)], [memory(0.1, 0.0)], evaluation
    assert _change(*args, True) == _change(*args, False) == pytest.approx(0.5)

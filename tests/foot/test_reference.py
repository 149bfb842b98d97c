"""The committed section meshes are what the mesher makes."""

from importlib.metadata import version

import numpy as np
import pytest

from fefoot.foot import reference
from fefoot.foot.mesh2d import cell_quality, section_mesh
from fefoot.foot.reference import (
    COMMITTED_MM,
    read_section,
    reference_mesh,
    section_file,
    write_section,
)

SECTIONS = ("sagittal", "rearfoot")
ROUND_OFF_MM = 1e-9
"""Another processor may add up in another order."""


def same(one, other):
    sets = [(mesh.facets, mesh.nodes) for mesh in (one, other)]
    return (np.shape(one.points) == np.shape(other.points)
            and np.abs(one.points - other.points).max() < ROUND_OFF_MM
            and np.array_equal(one.cells, other.cells)
            and np.array_equal(one.region, other.region) and one.region_names == other.region_names
            and all(list(a) == list(b) and all(np.array_equal(a[k], b[k]) for k in a)
                    for a, b in zip(*sets, strict=True)))


@pytest.mark.parametrize("name", SECTIONS)
def test_the_committed_mesh_is_the_one_that_is_made(name):
    kept, made = reference_mesh(name, COMMITTED_MM, False), section_mesh(name, COMMITTED_MM)
    with np.load(section_file(name)) as file:
        mesher = str(file["gmsh"])
    if version("gmsh") == mesher:
        assert same(kept, made)  # after a change of the anatomy: python -m meshes.sections
    assert len(kept.cells) == pytest.approx(len(made.cells), rel=0.02)
    assert np.ptp(kept.points, axis=0) == pytest.approx(np.ptp(made.points, axis=0), rel=1e-6)
    assert list(kept.nodes) == list(made.nodes) and list(kept.facets) == list(made.facets)
    assert cell_quality(kept.points, kept.cells).min() > 0.2


def test_other_meshes_are_made(monkeypatch):
    asked = []
    monkeypatch.setattr(reference, "section_mesh", lambda *what: asked.append(what))
    fresh = reference_mesh.__wrapped__
    fresh("sagittal", 5.0, False)
    fresh("sagittal", COMMITTED_MM, True)
    fresh("rearfoot", COMMITTED_MM, False)
    assert asked == [("sagittal", 5.0, False), ("sagittal", COMMITTED_MM, True)]


def test_without_the_file_the_mesh_is_made(monkeypatch, tmp_path):
    monkeypatch.setattr(reference, "mesh_folder", lambda: tmp_path)
    assert same(reference_mesh.__wrapped__("rearfoot", COMMITTED_MM, False),
                section_mesh("rearfoot", COMMITTED_MM))


def test_a_mesh_is_read_as_it_was_written(tmp_path):
    mesh = section_mesh("sagittal", 8.0, True)
    write_section(tmp_path / "mesh.npz", mesh, "0")
    assert same(read_section(tmp_path / "mesh.npz"), mesh)
    assert mesh.region_names == ("tissue", "fascia")

"""Invented scans: the reference foot's skin, morphed, cut, opened, turned and written to files."""

from __future__ import annotations

import functools

import numpy as np

from fefoot.device.facets import Facets, degenerate
from fefoot.device.stl import to_bench
from fefoot.foot.anatomy import skin_distance
from fefoot.foot.morph import Dimensions, morph

PERSON = Dimensions(242.0, 61.0, 93.0, navicular_height_mm=43.0)
LOW, HIGH, STEP_MM, ANKLE_MM = (-7.0, -5.0, -54.0), (265.0, 97.0, 58.0), 3.0, 80.0


@functools.cache
def _reference() -> Facets:
    """The reference foot's skin up to the ankle, closed there by a plane."""
    import pyvista

    count = [int((b - a) / STEP_MM) for a, b in zip(LOW, HIGH, strict=True)]
    box = pyvista.ImageData(dimensions=count, spacing=(STEP_MM,) * 3, origin=LOW)
    points = np.asarray(box.points, float)
    field = np.maximum(skin_distance(points, cut=False), points[:, 1] - ANKLE_MM)
    surface = box.contour([0.0], scalars=field, method="flying_edges")
    triangles = surface.faces.reshape(-1, 4)[:, :0:-1].astype(int)
    facets = Facets(np.asarray(surface.points, float), triangles)
    return Facets(facets.points_mm, triangles[~degenerate(facets)])


@functools.cache
def foot(dimensions: Dimensions = PERSON) -> Facets:
    """A right foot in the axes of the model, mm, looking outwards."""
    return Facets(morph(_reference().points_mm, dimensions), _reference().triangles)


def without(facets: Facets, where) -> Facets:
    """Cut out the triangles whose centre ``where(x, y, z)`` holds."""
    centre = facets.points_mm[facets.triangles].mean(axis=1)
    return Facets(facets.points_mm, facets.triangles[~where(*centre.T)])


def turned(rng) -> np.ndarray:
    """A random rotation."""
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    return q * np.sign(np.linalg.det(q))


def write_as_made(facets: Facets, path):
    """Write a surface in the axes that `fefoot make` writes, for ``align = "as_made"``."""
    return write(Facets(to_bench(facets.points_mm), facets.triangles), path)


def write(facets: Facets, path, *, rotation=None, shift=(0.0, 0.0, 0.0), mm=1.0):
    """Write a surface in another place and unit, in the format of the file's name."""
    import trimesh

    rotation = np.eye(3) if rotation is None else rotation
    points = (facets.points_mm @ rotation.T + np.asarray(shift, float)) / mm
    trimesh.Trimesh(points, facets.triangles, process=False).export(path)
    return path

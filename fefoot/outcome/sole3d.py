"""Contact pressure over the sole of the whole foot."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..mechanics.element import facet_shape, hat_shape, quadrature
from ..mechanics.surface import area_normal
from .quantities import PATCH_MM


@dataclass(frozen=True)
class Sole3d:
    """The vertices (v) of the sole and its facets.

    Attributes
    ----------
    rest, place : (v, 3) arrays
        Unloaded and current position, mm.
    pressure_MPa : (v,) array
        Nominal contact pressure against everything underneath: force over the whole unloaded area of
        the vertex, also where only part of it has something underneath.
    force_N : (v,) array
        Normal contact force of each vertex.
    facets : (k, 6) int array
        Quadratic triangles over the vertices.
    """

    rest: np.ndarray
    place: np.ndarray
    pressure_MPa: np.ndarray
    force_N: np.ndarray
    facets: np.ndarray

    @cached_property
    def area_mm2(self) -> np.ndarray:
        """Return the current area (v,) that belongs to each vertex by the hat functions."""
        share = self._points(self.place)[1][..., None] * hat_shape(quadrature(3, 4)[0])
        return np.bincount(self.facets.ravel(), share.sum(axis=1).ravel(), len(self.place))

    def patch_pressure_kPa(self) -> np.ndarray:
        """Return the true pressure averaged over a disc of `PATCH_MM` round each vertex (v,).

        Each facet gives its mean pressure, by force over current area: on one quadratic facet the
        pressures of corners and mid-side nodes scatter round it.
        """
        from scipy.spatial import cKDTree

        hats = hat_shape(quadrature(3, 4)[0])
        at, area = self._points(self.place)
        _, was = self._points(self.rest)
        force = (was * (self.pressure_MPa[self.facets] @ hats.T)).sum(axis=1)
        force = area * (force / area.sum(axis=1))[:, None]
        near = cKDTree(self.place).sparse_distance_matrix(
            cKDTree(at.reshape(-1, 3)), PATCH_MM / 2, output_type="coo_matrix")
        total, size = (np.bincount(near.row, values.ravel()[near.col], len(self.place))
                       for values in (force, area))
        return 1e3 * total / np.maximum(size, 1e-300)

    def _points(self, x) -> tuple[np.ndarray, np.ndarray]:
        """Return points (k, q, 3) of the facets and the areas (k, q) that belong to them."""
        where, weight = quadrature(3, 4)
        shape, slope, _ = facet_shape(where)
        node = x[self.facets]
        tangent = np.einsum("kai,qaj->kqij", node, slope)
        size = np.linalg.norm(area_normal(tangent.reshape(-1, 3, 2)), axis=1)
        return np.einsum("qa,kai->kqi", shape, node), weight * size.reshape(len(node), -1)


def sole3d(contacts, statuses, x: np.ndarray) -> Sole3d:
    """Add up the contacts whose soft side is the sole; ``x`` (n, 3) are current positions."""
    first = contacts[0]
    rest = first.points[first.vertices]
    force = sum(s.pressure_MPa * s.area_mm2 for s in statuses)
    unloaded = Sole3d(rest, rest, np.zeros(len(rest)), force, first.vertex).area_mm2
    return Sole3d(rest, x[first.vertices], force / np.maximum(unloaded, 1e-300), force, first.vertex)

"""The device as a closed solid for making it: top, underside and the wall round the outline."""

from __future__ import annotations

import numpy as np

from ..errors import MeshError
from .device import Device, FootLandmarks
from .facets import Facets, edges_of, faults
from .mesh3d import plan_mesh
from .surface import heights, interfaces_mm

SPACING_MM = 1.0
"""Distance of the points in plan, along the top. Chords then stay within 0.15 mm of a skive."""


def solids(device: Device, foot: FootLandmarks, spacing_mm: float = SPACING_MM) -> list[Facets]:
    """Return the closed surfaces of a right device: the whole, then each layer from the skin down.

    Points of the height fields over a triangulated plan; top and underside share the plan, so that
    the wall between them closes the surface.

    Raises
    ------
    MeshError
        When a surface is not closed, not oriented, has no volume or a triangle without area.
    """
    plan, quadratic = plan_mesh(device, foot, spacing_mm)
    triangles = quadratic[:, :3]
    plan = plan[:triangles.max() + 1]
    field = heights(device, foot, plan[:, 0], plan[:, 1])
    faces = interfaces_mm(device, field)
    rim = edges_of(Facets(np.insert(plan, 1, 0.0, axis=1), triangles)).open_edges
    spans = [(0, len(faces) - 1), *((k, k + 1) for k in range(len(faces) - 1))]
    out = [_closed(plan, triangles, rim, faces[top], faces[bottom]) for top, bottom in spans]
    for number, solid in enumerate(out):
        wrong = faults(solid)
        if wrong:
            part = "the device" if number == 0 else f"layer {number}"
            raise MeshError(f"{part} of {device.name!r} is no solid: {', '.join(wrong)}")
    return out


def _closed(plan, triangles, rim, top_mm, bottom_mm) -> Facets:
    """Close the space between two height fields (n,) over plan points (n, 2).

    The plan's triangles look down, so they are the underside as they stand and the top turned over.
    """
    count = len(plan)
    levels = [np.column_stack([plan[:, 0], y, plan[:, 1]]) for y in (bottom_mm, top_mm)]
    a, b = rim.T
    wall = np.vstack([np.column_stack([b, a, a + count]),
                      np.column_stack([b, a + count, b + count])])
    return Facets(np.vstack(levels), np.vstack([triangles, triangles[:, ::-1] + count, wall]))

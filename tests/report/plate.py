"""Invented pressure maps: the pressures of an invented whole foot on a turned grid."""

from __future__ import annotations

import math

import numpy as np

DOTS = 5
"""Points along the edge of a facet, on which its force is spread."""


def plate_map(scene, spacing_mm=5.0, turn_degrees=0.0, mirror=False, margin_mm=15.0):
    """Return the grid (rows, columns) in kPa of a right foot seen from above, first row at the top.

    Also the place (right, down) in mm from the first cell of a point (x, z) of the unloaded plan.
    """
    corners = scene.rest_sole_mm[scene.sole_triangles].astype(float)
    load = scene.pressure_kPa[scene.sole_triangles].astype(float).mean(axis=1)
    legs = corners[:, 1:] - corners[:, :1]
    area = 0.5 * np.abs(legs[:, 0, 0] * legs[:, 1, 1] - legs[:, 0, 1] * legs[:, 1, 0])
    angle = math.radians(turn_degrees)
    turn = np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])

    def on_plate(points):
        seen = np.asarray(points, float)[..., ::-1] * [-1.0 if mirror else 1.0, 1.0]  # (right, up)
        return (seen @ turn.T) * [1.0, -1.0]

    spread = on_plate(corners[load > 0]).reshape(-1, 2)
    first = spread.min(axis=0) - margin_mm
    size = np.ceil((spread.max(axis=0) + margin_mm - first) / spacing_mm).astype(int)
    grid = np.zeros(size[::-1])
    steps = range(DOTS)
    weights = [(i + 1 / 3, j + 1 / 3, DOTS - i - j - 2 / 3) for i in steps for j in steps[:DOTS - i]]
    keep = load > 0
    for weight in weights:
        dots = on_plate(np.einsum("a,kai->ki", np.array(weight) / DOTS, corners))
        column, row = np.rint((dots - first) / spacing_mm).astype(int).T
        np.add.at(grid, (row[keep], column[keep]), (area * load)[keep] / len(weights))
    return grid / spacing_mm**2, lambda points: on_plate(points) - first


def write_csv(path, grid, decimals=1):
    path.write_text("\n".join(",".join(f"{v:.{decimals}f}" for v in row) for row in grid) + "\n")

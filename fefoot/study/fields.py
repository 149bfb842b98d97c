"""The solved conditions as files for a viewer, each of its own, so that none lies over another."""

from __future__ import annotations

from pathlib import Path

import numpy as np

FIELDS = "fields"
"""Folder of the files within a run folder."""
SAME_PLACE_MM = 1e-6
_MIDDLES = ((0, 1, 3), (1, 2, 4), (2, 0, 5))


def write_fields(folder: Path, comparisons) -> None:
    """Write every condition that converged as ``fields/NAME.vtu``.

    With several instants the name ends in ``_at_PERCENT``. Points lie where they are under load, mm.
    Point data: equivalent_stress_kPa, contact_pressure_kPa (true pressure on the sole and under the
    device), displacement_mm where the picture keeps the unloaded places. Cell data: is_device,
    stance_percent. Of the whole foot it is the sole in plan, with its contact pressure. The folder
    is made only when something converged.
    """
    import meshio

    for comparison in comparisons:
        for outcome in comparison.outcomes:
            shown = outcome.picture
            if shown is None:
                continue
            folder.mkdir(exist_ok=True)
            when = "" if len(comparisons) == 1 else f"_at_{comparison.stance_percent:.6g}"
            meshio.Mesh(
                _in_space(shown.points), [("triangle6", shown.cells)], point_data=point_data(shown),
                cell_data={"is_device": [shown.is_device.astype(int)],
                           "stance_percent": [np.full(len(shown.cells), comparison.stance_percent)]},
            ).write(folder / f"{outcome.name}{when}.vtu")


def point_data(shown) -> dict[str, np.ndarray]:
    """Return the values at the points of a picture by name."""
    data = {"contact_pressure_kPa": shown.stress_kPa} if shown.view == "print" else {
        "equivalent_stress_kPa": shown.stress_kPa, "contact_pressure_kPa": contact_pressure_kPa(shown)}
    if shown.rest is not None:
        data["displacement_mm"] = _in_space(shown.points - shown.rest)
    return data


def contact_pressure_kPa(shown) -> np.ndarray:
    """Return the contact pressure (n,) at the points of a section, kPa; zero off its contacts.

    Contacts know the pressure at their vertices; on an edge of the outline between two of them its
    middle has the mean.
    """
    from scipy.spatial import cKDTree

    out = np.zeros(len(shown.points))
    known = np.zeros(len(shown.points), bool)
    for name, (place, pressure) in shown.contacts.items():
        mine = np.unique(shown.cells[shown.is_device == (name == "ground")])
        if not len(mine) or not len(place):
            continue
        away, nearest = cKDTree(shown.points[mine]).query(place)
        there = away < SAME_PLACE_MM
        out[mine[nearest[there]]] = pressure[there]
        known[mine[nearest[there]]] = True
    for first, last, middle in outline(shown.cells):
        if known[first] and known[last] and not known[middle]:
            out[middle] = 0.5 * (out[first] + out[last])
    return out


def outline(cells: np.ndarray) -> np.ndarray:
    """Return the edges (k, 3) that belong to one quadratic triangle only: both ends and the middle."""
    edges = np.concatenate([cells[:, list(corners)] for corners in _MIDDLES])
    _, at, count = np.unique(edges[:, 2], return_index=True, return_counts=True)
    return edges[at[count == 1]]


def _in_space(points: np.ndarray) -> np.ndarray:
    return np.column_stack([points, np.zeros(len(points))])

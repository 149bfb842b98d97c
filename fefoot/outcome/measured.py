"""Compare a measured pressure map with the model, cell by cell and region by region."""

from __future__ import annotations

import numpy as np

from ..foot.landmarks import landmarks, slice_x_mm, slice_z_of_x
from .measured_place import shares
from .measured_values import LOADED_kPa, MeasuredComparison, RegionPressure
from .regions import masks, masks3d
from .values import Comparison, Outcome

DOTS = 6
"""Points along each side of a triangle of the sole whose force goes to the cell it lies in."""
HEADING = ("stance_percent", "condition", "region", "quantity", "unit", "measured", "modelled")


def compared_pressure(case, comparisons) -> MeasuredComparison | None:
    """Return the comparison of a case's measured pressure; None when the case has none.

    Parameters
    ----------
    case : Case
    comparisons : sequence of Comparison
    """
    given = case.measured_pressure
    if given is None:
        return None
    found = _outcome(given, comparisons)
    if found is None or found.failure is not None or found.picture is None:
        why = "it was not solved" if found is None else found.failure or "nothing was kept of it"
        return MeasuredComparison(given.choice.condition, given.choice.condition if found is None
                                  else found.title, given.stance_percent, why)
    if case.model == "foot3d" and found.picture.scene is None:
        return MeasuredComparison(found.name, found.title, given.stance_percent,
                                  "the run folder of an older version holds no pressures in plan")
    return _on_cells(case, given, found) if case.model == "foot3d" else _on_slice(case, given, found)


def _outcome(given, comparisons) -> Outcome | None:
    at: Comparison | None = next(
        (c for c in comparisons if abs(c.stance_percent - given.stance_percent) < 1e-6), None)
    return None if at is None else next(
        (o for o in at.outcomes if o.name == given.choice.condition), None)


def _on_cells(case, given, found) -> MeasuredComparison:
    measured, place = given.pressure_kPa, given.place
    x, z = place.cells_mm(measured.shape)
    modelled = cell_pressure_kPa(found.picture.scene, place, given.choice.spacing_mm, measured.shape)
    modelled = np.where(np.isnan(measured), np.nan, modelled)
    points = np.column_stack([x.ravel(), np.zeros(x.size), z.ravel()])
    inside = {name: part.reshape(x.shape) for name, part in masks3d(
        points, landmarks(case.person.dimensions())).items()}
    area = 1e-3 * given.choice.spacing_mm**2
    return _compared(given, found, inside, x, z, measured, modelled, area)


def cell_pressure_kPa(scene, place, spacing_mm: float, shape) -> np.ndarray:
    """Return the model's pressure on the cells of a map (rows, columns): force over the cell's area.

    The sole lies where it lies in the unloaded foot, as the map was placed on that.
    """
    corners = scene.rest_sole_mm[scene.sole_triangles].astype(float)
    load = scene.pressure_kPa[scene.sole_triangles].astype(float)
    keep = (load > 0.0).any(axis=1)
    corners, load = corners[keep], load[keep]
    legs = corners[:, 1:] - corners[:, :1]
    area = 0.5 * np.abs(legs[:, 0, 0] * legs[:, 1, 1] - legs[:, 0, 1] * legs[:, 1, 0])
    share = shares(DOTS)
    dots = np.einsum("qa,kai->kqi", share, corners).reshape(-1, 2)
    force = (area[:, None] / len(share) * (load @ share.T)).ravel()
    row, column = (np.rint(part).astype(int) for part in place.cells_of(dots[:, 0], dots[:, 1]))
    there = (row >= 0) & (row < shape[0]) & (column >= 0) & (column < shape[1])
    out = np.zeros(shape)
    np.add.at(out, (row[there], column[there]), force[there])
    return out / spacing_mm**2


def _on_slice(case, given, found) -> MeasuredComparison:
    """Compare along the slice, on steps of the map's spacing."""
    dimensions, step = case.person.dimensions(), given.choice.spacing_mm
    line, pressure = found.picture.contacts["foot"]
    along = np.arange(line[:, 0].min(), line[:, 0].max(), step) + 0.5 * step
    if case.model == "rearfoot":
        x, z = np.full_like(along, slice_x_mm(dimensions)), along
    else:
        x, z = along, slice_z_of_x(dimensions)(along)
    inside = masks(case.model, np.column_stack([along, np.zeros_like(along)]), dimensions.length_mm)
    return _compared(given, found, inside, x, z, _sampled(given, x, z), _means(
        line[:, 0], pressure, along, step), None)


def _sampled(given, x, z) -> np.ndarray:
    """Return the map between its cells at points of the plan: bilinear, nan outside."""
    from scipy.ndimage import map_coordinates

    row, column = given.place.cells_of(x, z)
    grid = given.pressure_kPa
    return map_coordinates(grid, [row, column], order=1, mode="constant", cval=np.nan)


def _means(s, pressure, at, step) -> np.ndarray:
    """Return the mean of a line's pressure over steps round places along it."""
    order = np.argsort(s, kind="stable")
    fine = np.linspace(-0.5, 0.5, 21) * step
    return np.interp(at[:, None] + fine, s[order], pressure[order], 0.0, 0.0).mean(axis=1)


def _compared(given, found, inside, x, z, measured, modelled, area) -> MeasuredComparison:
    known = ~np.isnan(measured) & ~np.isnan(modelled)
    loaded = known & ((np.nan_to_num(measured) > LOADED_kPa) | (np.nan_to_num(modelled) > LOADED_kPa))
    a, b = measured[loaded], modelled[loaded]
    total = [float(part[known].sum()) for part in (measured, modelled)]
    regions = tuple(
        _region(name, part & known, measured, modelled, total if area else None)
        for name, part in inside.items() if (part & known).any())
    return MeasuredComparison(
        found.name, found.title, given.stance_percent, None, regions,
        float(np.corrcoef(a, b)[0, 1]) if len(a) > 2 and a.std() > 0 and b.std() > 0 else None,
        float(np.sqrt(((a - b) ** 2).mean())) if len(a) else 0.0,
        (area * total[0], area * total[1]) if area else None, x, z, measured, modelled)


def _region(name, part, measured, modelled, total) -> RegionPressure:
    pairs = [(values[part], values[part & (values > LOADED_kPa)]) for values in (measured, modelled)]
    return RegionPressure(
        name, tuple(float(every.max()) for every, _ in pairs),
        tuple(float(own.mean()) if len(own) else 0.0 for _, own in pairs),
        None if total is None else tuple(
            100.0 * float(every.sum()) / max(whole, 1e-12)
            for (every, _), whole in zip(pairs, total, strict=True)))


def pressure_rows(found: MeasuredComparison):
    """Yield the rows of ``measured_pressure.csv``, header first."""
    yield HEADING
    start = (found.stance_percent, found.condition)
    if found.failure is not None:
        yield (*start, "", "failed: " + found.failure, "", "", "")
        return
    for entry in found.regions:
        for quantity, unit, pair in (("peak_pressure_kPa", "kPa", entry.peak_kPa),
                                     ("mean_pressure_kPa", "kPa", entry.mean_kPa),
                                     ("load_share_percent", "%", entry.share_percent)):
            if pair is not None:
                yield (*start, entry.region, quantity, unit, *map(repr, pair))
    if found.force_N is not None:
        yield (*start, "sole", "force_N", "N", *map(repr, found.force_N))
    yield (*start, "sole", "correlation", "", "",
           "" if found.correlation is None else repr(found.correlation))
    yield (*start, "sole", "root_mean_square_difference_kPa", "kPa", "", repr(found.difference_kPa))

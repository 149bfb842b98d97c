"""A measured pressure map beside the model's, as values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

LOADED_kPa = 5.0
"""Pressure from which a cell counts as loaded, in the map and in the model."""


@dataclass(frozen=True)
class RegionPressure:
    """Peak, mean over the loaded cells and share of the force in one region.

    Each is (measured, modelled); shares are None along a slice.
    """

    region: str
    peak_kPa: tuple[float, float]
    mean_kPa: tuple[float, float]
    share_percent: tuple[float, float] | None


@dataclass(frozen=True)
class MeasuredComparison:
    """A measured map compared with a condition of the model on the cells of the map.

    Attributes
    ----------
    condition, title : str
    stance_percent : float
    failure : str or None
        Why there is no comparison; then nothing else is set.
    regions : tuple of RegionPressure
    correlation : float or None
        Pearson's, over the cells that are loaded in one of both; None where it is not defined.
    difference_kPa : float
        Root of the mean squared difference over the same cells.
    force_N : (float, float) or None
        Measured and modelled force under the foot; None along a slice.
    x_mm, z_mm : arrays
        Where the cells lie in the plan of the model, (rows, columns), or (k,) along a slice.
    measured_kPa, modelled_kPa : arrays of the same shape
        Nan where nothing was measured.
    """

    condition: str
    title: str
    stance_percent: float
    failure: str | None = None
    regions: tuple[RegionPressure, ...] = ()
    correlation: float | None = None
    difference_kPa: float = 0.0
    force_N: tuple[float, float] | None = None
    x_mm: np.ndarray | None = None
    z_mm: np.ndarray | None = None
    measured_kPa: np.ndarray | None = None
    modelled_kPa: np.ndarray | None = None

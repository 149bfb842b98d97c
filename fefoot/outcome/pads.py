"""How hard a soft-tissue pad is worked, in sections and in the whole foot."""

from __future__ import annotations

import numpy as np

from .values import Measure

REACH_MM = 3.0
"""Height above a pad's unloaded thickness up to which tissue counts as pad."""
SHARE = 0.95
"""Share of a pad's volume whose energy density lies below the reported one: no single worst point."""


def energy_density(solid, x: np.ndarray, pad: np.ndarray, tissue: str) -> Measure:
    """Return the strain-energy density (kPa) that ``SHARE`` of a pad's volume does not exceed.

    Parameters
    ----------
    solid : Solid
    x : (n, d) array
        Node positions, mm.
    pad : (m,) bool array
        Which of the solid's quadrature points lie in the pad.
    tissue : str
    """
    values = solid.stress(x)[2].ravel()[pad]
    weight = solid.volume.ravel()[pad]
    order = np.argsort(values)
    share = np.cumsum(weight[order]) / weight.sum()
    worst = values[order][np.searchsorted(share, SHARE)]
    return Measure(tissue, "strain_energy_density_kPa", float(1e3 * worst))

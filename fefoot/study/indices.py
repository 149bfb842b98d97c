"""Sensitivity indices of a sampled model: which unknown makes the answer vary.

Of an answer Y and an unknown X the first-order index is V(E(Y | X)) / V(Y): the share by which the
variance falls on average when X is known. The total index is E(V(Y | all but X)) / V(Y): the share that
is left on average when everything but X is known, which counts what X does alone and together with
others. First-order indices add up to one at most, total indices to one at least.

The design is Saltelli's: two independent samples A and B of N points, and for each of the k unknowns A
with that column taken from B, N (k + 2) points in all (Saltelli et al. 2010, Comput Phys Commun
181:259-270, as SALib implements it). With few points both are rough and may leave the range 0 to 1.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np

from ..errors import InputError

WIDEST_HALF = 0.3
"""An index whose 95 % interval reaches further to each side says nothing."""


@dataclass(frozen=True)
class Index:
    """Indices of one unknown with the half widths of their 95 % intervals; shares of the variance."""

    unknown: str
    first: float
    first_half_width: float
    total: float
    total_half_width: float

    @property
    def first_known(self) -> bool:
        """Whether the first-order index is known well enough to be shown."""
        return self.first_half_width <= WIDEST_HALF

    @property
    def total_known(self) -> bool:
        """Whether the total index is known well enough to be shown."""
        return self.total_half_width <= WIDEST_HALF


def _salib():
    try:
        from SALib.analyze import sobol as analyse
        from SALib.sample import sobol as sample
    except ImportError:
        raise InputError("sensitivity indices need the library SALib",
                         hint="install fefoot[study]") from None
    return sample, analyse


def design(names, samples: int, seed: int) -> np.ndarray:
    """Return the points of the unit cube (samples (k + 2), k), every column even.

    Parameters
    ----------
    names : sequence of str
        The unknowns.
    samples : int
        N, a power of two.
    seed : int

    Raises
    ------
    InputError
        When SALib is not installed.
    """
    sample, _ = _salib()
    return sample.sample(_problem(names), samples, calc_second_order=False, seed=seed)


def indices(names, values: np.ndarray, seed: int) -> tuple[Index, ...] | None:
    """Return the indices of each unknown, the largest total first.

    Parameters
    ----------
    names : sequence of str
    values : (samples (k + 2),) array
        The model at the points of `design`, in their order; finite.

    Returns
    -------
    tuple of Index, or None where the values do not vary.
    """
    _, analyse = _salib()
    values = np.asarray(values, float)
    if np.ptp(values) <= 1e-9 * max(1.0, np.abs(values).max()):
        return None
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        found = analyse.analyze(_problem(names), values, calc_second_order=False, seed=seed)
    rows = [Index(name, *(float(found[k][n]) for k in ("S1", "S1_conf", "ST", "ST_conf")))
            for n, name in enumerate(names)]
    return tuple(sorted(rows, key=lambda row: -row.total))


def _problem(names) -> dict:
    return {"num_vars": len(names), "names": list(names), "bounds": [[0.0, 1.0]] * len(names)}

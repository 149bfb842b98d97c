"""The print of the whole foot as a :class:`~fefoot.outcome.values.Picture`, seen from below."""

from __future__ import annotations

import numpy as np

from ..load.stance3d import pressure_centre3d_mm
from .measures3d import sole_of3d
from .scene3d import scene3d
from .values import Picture

STRIPES = 80
LOW_MM = 60.0
"""Cables are drawn where all of their points lie below this height."""


def picture3d(solved) -> Picture:
    """Return the contact pressure over the sole, and the cables under the foot, in plan (x, z)."""
    model, solution = solved.model, solved.solution
    under, x = sole_of3d(solved), solution.state.x
    given = solution.load.tensions()
    cables = {c.name: (x[list(c.nodes)][:, [0, 2]], c.tension(x) + given.get(c.name, 0.0))
              for c in model.system.cables if x[list(c.nodes), 1].max() < LOW_MM}
    at, _ = pressure_centre3d_mm(model.system, solution.evaluation, model.ground_y_mm(solved))
    return Picture(
        under.place[:, [0, 2]], under.facets, np.zeros(len(under.facets), bool),
        under.patch_pressure_kPa(), {}, cables,
        {"foot": largest_across(under.place[:, 0], under.patch_pressure_kPa())}, 0.0,
        float(at[0]), "print", scene3d(solved, under), under.rest[:, [0, 2]])


def largest_across(x: np.ndarray, pressure: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Return places (k, 2) along the foot and the largest pressure (k,) across it there.

    ``x`` (v,) mm and ``pressure`` (v,) are those of the sole's vertices.
    """
    edge = np.linspace(x.min(), x.max(), STRIPES + 1)
    stripe = np.clip(np.searchsorted(edge, x, "right") - 1, 0, STRIPES - 1)
    largest = np.zeros(STRIPES)
    np.maximum.at(largest, stripe, pressure)
    return np.column_stack([0.5 * (edge[1:] + edge[:-1]), np.zeros(STRIPES)]), largest

"""The load of one instant on the whole foot: that of :mod:`fefoot.load.stance` in three dimensions.

The talus turns freely about the ankle axis and carries the calcaneus, which turns about the subtalar
axis against the foot's own tissues. Muscles place the centre of pressure along the foot; across it,
it falls where the foot lets it. The ground plate does not rotate. Where contact holds its points the
plate is free to slide in its plane, so that it takes no side force.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from ..mechanics.state import State
from ..mechanics.system import Evaluation, Load, System
from .stance import Stance


class Stance3d(Stance):
    """Load path and corrections for one demand; parameters as of `Stance`."""

    def __init__(self, system, ground, demand, muscles=None, free_body=1, nodes=(0, 0), centre=0):
        super().__init__(system, ground, demand, muscles, free_body, nodes, centre)
        co = system.coordinates
        plate = co.body_slice(ground)
        self.slide, self.push, self.aside = plate.start, plate.start + 1, plate.start + 2
        self.support = plate.stop - 1
        self.turn = co.body_slice(free_body).stop - 1
        shank = range(*co.body_slice(0).indices(co.size))
        self._held = dict.fromkeys(
            [*shank, self.slide, self.aside, *range(plate.start + 3, plate.stop)], 0.0)

    def carry(self, state: State, evaluation: Evaluation):
        """Return the path from the state of first contact; the side force of contact fades out."""
        path, aside_N = super().carry(state, evaluation), float(evaluation.residual[self.aside])

        def freed(t: float) -> Load:
            load = path(t)
            if self.rough:
                load.body_force[self.ground][2] = (1.0 - t) * aside_N
            return load

        return freed

    def _load(self, vertical_N, drag_N, balance) -> Load:
        load = super()._load(vertical_N, drag_N, balance)
        if not self.rough:
            return load
        return replace(load, held={k: v for k, v in load.held.items() if k != self.aside})


def pressure_centre3d_mm(system: System, evaluation: Evaluation,
                         ground_y_mm: float) -> tuple[np.ndarray, float]:
    """Return the place (x, z) mm on the ground and the size (N) of the vertical ground reaction."""
    pairs = [s for c, s in zip(system.contacts, evaluation.status, strict=True)
             if c.name.endswith("on ground")]
    force = np.sum([s.force_N for s in pairs], axis=0)
    moment = np.sum([s.moment_Nmm for s in pairs], axis=0)
    if not force[1] > 0:
        return np.full(2, np.nan), float(force[1])
    x = (moment[2] + ground_y_mm * force[0]) / force[1]
    z = (ground_y_mm * force[2] - moment[0]) / force[1]
    return np.array([x, z]), float(force[1])

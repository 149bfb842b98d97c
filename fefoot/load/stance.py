"""The load of one instant: the ground pushes up, the muscles place the centre of pressure.

The shank is held and the ankle turns freely, so moments about the ankle balance:

    F_v (x_cop - x_ankle) + F_h h_ankle = T_achilles r_achilles - T_dorsiflexor r + other tendons.

The Achilles force (or that of the dorsiflexors, when the centre of pressure has to lie behind) and
the pitch of the foot are found together, by :mod:`fefoot.mechanics.balance`.

With friction the ground is free to slide and the fore-aft force acts on it, so that the whole ground
reaction is as prescribed. Without friction the ground is held, contact carries what sideways force
the surfaces' slopes produce, and the fore-aft force is shared over the sole in proportion to the
vertical contact force.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ..mechanics.balance import Balance
from ..mechanics.state import State
from ..mechanics.system import Evaluation, Load, System

GRAVITY_m_per_s2 = 9.81
FIRST_CONTACT_MM = 3.0


@dataclass(frozen=True)
class Demand:
    """What the ground does at one instant.

    Attributes
    ----------
    vertical_N, fore_aft_N : float
        On the foot, upward and forward positive.
    pressure_centre_mm : float or None
        Wanted centre of pressure along the section; None leaves it free.
    """

    vertical_N: float
    fore_aft_N: float = 0.0
    pressure_centre_mm: float | None = None


def pressure_centre_mm(system: System, evaluation: Evaluation,
                       ground_y_mm: float) -> tuple[float, float]:
    """Return the position (mm) on the ground and the size (N) of the vertical ground reaction."""
    pairs = [s for c, s in zip(system.contacts, evaluation.status, strict=True)
             if c.name.endswith("on ground")]
    force = sum(s.force_N[1] for s in pairs)
    moment = sum(s.moment_Nmm[0] + ground_y_mm * s.force_N[0] for s in pairs)
    return float(moment / force) if force > 0 else float("nan"), float(force)


class Stance:
    """Load path and corrections for one demand.

    Parameters
    ----------
    system : System
    ground : int
        Body number of the ground; body 0 is the held shank.
    demand : Demand
    muscles : (dict, dict) or None
        Cables that plantarflex and that dorsiflex, with their share of the first one's force;
        None when the section has none.
    free_body : int
        Body that turns about the ankle.
    centre : int
        Node at the ground's centre.
    nodes : (int, int)
        Nodes at the heel's and the metatarsal heads' place, which carry the scale on which the
        centre of pressure is given.
    """

    def __init__(self, system, ground, demand, muscles=None, free_body=1, nodes=(0, 0),
                 centre=0):
        self.system, self.demand, self.ground = system, demand, ground
        self.muscles, self.nodes, self.centre = muscles, nodes, centre
        co = system.coordinates
        plate = co.body_slice(ground)
        self.push, self.support = plate.start + 1, plate.start + 2
        self.turn = co.body_slice(free_body).start + 2
        shank = range(*co.body_slice(0).indices(co.size))
        self._held = dict.fromkeys([*shank, plate.start, self.support], 0.0)
        self.slide = plate.start
        self.rough = all(c.friction > 0 for c in system.contacts)
        self.balanced = demand.pressure_centre_mm is not None and muscles is not None

    def touch(self, t: float) -> Load:
        """Push the ground up by a little, the foot not yet free to turn."""
        held = self._held | {self.push: FIRST_CONTACT_MM * t}
        if self.balanced:
            held[self.turn] = 0.0
        return Load(held=held)

    def carry(self, state: State, evaluation: Evaluation) -> Callable[[float], Load]:
        """Return the path from the state of first contact to the full load."""
        first_N, wanted_N = float(evaluation.residual[self.push]), self.demand.vertical_N
        drag_N = float(evaluation.residual[self.slide])
        start = self._balance(first_N, state) if self.balanced else None
        errors = start.errors(state.x, evaluation.residual) if start else np.zeros(2)

        def path(t: float) -> Load:
            force = first_N + t * (wanted_N - first_N)
            balance = None
            if start:
                balance = replace(start, force_N=force, slack_Nmm=(1 - t) * errors[0],
                                  miss_Nmm=(1 - t) * errors[1])
            drag = drag_N + t * (self.demand.fore_aft_N - drag_N)
            return self._load(force, drag, balance)

        return path

    def full(self, state: State, like: Load) -> Load:
        """Return the full load, with tension and fore-aft forces of ``like`` as first guess."""
        balance = None
        if self.balanced:
            balance = replace(self._balance(self.demand.vertical_N, state),
                              tension_N=like.balance.tension_N)
        load = self._load(self.demand.vertical_N, self.demand.fore_aft_N, balance)
        return replace(load, node_force_N=like.node_force_N)

    def _load(self, vertical_N, drag_N, balance) -> Load:
        """Forces on the ground; with friction it may slide, held by the fore-aft force alone."""
        held = dict(self._held)
        force = np.zeros(self.system.coordinates.body_dofs)
        force[1] = vertical_N
        if self.rough:
            held.pop(self.slide)
            force[0] = drag_N
        return Load(held=held, body_force={self.ground: force}, balance=balance)

    def _balance(self, force_N, state) -> Balance:
        heel, ball = (self.system.coordinates.points[n, 0] for n in self.nodes)
        share = (self.demand.pressure_centre_mm - heel) / (ball - heel)
        return Balance(
            turn=self.turn, support=self.support, pull=self.muscles[0], counter=self.muscles[1],
            nodes=self.nodes, share=float(share), force_N=force_N,
            centre=self.centre)

    def adjust(self, load: Load, state: State, evaluation: Evaluation) -> tuple[Load, float]:
        """Renew the fore-aft forces; return the load and their relative change."""
        if self.rough or not self.demand.fore_aft_N:
            return load, 0.0
        total = np.zeros_like(state.x)
        for contact, status in zip(self.system.contacts, evaluation.status, strict=True):
            if contact.name.startswith("foot"):
                np.add.at(total[:, 0], contact.vertices, status.pressure_MPa * status.area_mm2)
        shear = total * (self.demand.fore_aft_N / max(total.sum(), 1e-9))
        before = 0.0 if load.node_force_N is None else load.node_force_N
        change = float(np.abs(shear - before).sum()) / self.demand.vertical_N
        return replace(load, node_force_N=shear), change

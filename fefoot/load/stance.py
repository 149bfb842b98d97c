"""The load of one instant: the ground pushes up, the muscles place the centre of pressure.

The shank is held and the ankle turns freely, so moments about the ankle balance:

    F_v (x_cop - x_ankle) + F_h h_ankle = T_achilles r_achilles - T_dorsiflexor r + other tendons.

The Achilles force (or that of the dorsiflexors, when the centre of pressure lies behind the ankle) is
corrected by F (x_wanted - x_cop) / r until the centre of pressure is where the activity wants it. The
fore-aft force is shared over the sole in proportion to the vertical contact force.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

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


def pressure_centre_mm(system: System, evaluation: Evaluation) -> tuple[float, float]:
    """Return the position (mm) and size (N) of the vertical force that the ground exerts."""
    pairs = [s for c, s in zip(system.contacts, evaluation.status, strict=True)
             if c.name.endswith("on ground")]
    force = sum(s.force_N[1] for s in pairs)
    moment = sum(s.moment_Nmm[0] for s in pairs)
    return float(moment / force) if force > 0 else float("nan"), float(force)


def moment_arm_mm(system: System, state: State, cable: str, pivot: np.ndarray) -> float:
    """Return the moment (N mm per N) of a cable about ``pivot`` on the side that is not held.

    Positive turns the foot anticlockwise in the section (dorsiflexion, eversion).
    """
    line = next(c for c in system.cables if c.name == cable)
    body = system.coordinates.body_of[list(line.nodes)]
    last_held = max(i for i, b in enumerate(body) if b == 0)
    a, b = state.x[line.nodes[last_held]], state.x[line.nodes[last_held + 1]]
    pull = (a - b) / np.linalg.norm(a - b)
    arm = b - pivot
    return float(arm[0] * pull[1] - arm[1] * pull[0])


class Stance:
    """Load path and corrections for one demand.

    Parameters
    ----------
    system : System
    ground : int
        Body number of the ground; body 0 is the held shank.
    demand : Demand
    pivot : (2,) array
        Ankle, mm.
    plantarflexor, dorsiflexor : str or None
        Names of the two muscle cables.
    """

    def __init__(self, system, ground, demand, pivot, plantarflexor=None, dorsiflexor=None):
        self.system, self.demand, self.pivot = system, demand, np.asarray(pivot, float)
        self.muscles = plantarflexor, dorsiflexor
        co = system.coordinates
        self.push = co.body_slice(ground).start + 1
        self.ground = ground
        held = list(range(*co.body_slice(0).indices(co.size)))
        plate = co.body_slice(ground)
        self._held = {q: 0.0 for q in [*held, plate.start, plate.start + 2]}
        self.needs_muscle = demand.pressure_centre_mm is not None and plantarflexor is not None

    def touch(self, t: float) -> Load:
        """Push the ground up by a little, without force control."""
        return Load(held=self._held | {self.push: FIRST_CONTACT_MM * t},
                    tension_N=dict.fromkeys(filter(None, self.muscles), 0.0))

    def _load(self, force_N, tension_N, node_force_N=None) -> Load:
        size = self.system.coordinates.body_dofs
        return Load(held=dict(self._held), tension_N=tension_N, node_force_N=node_force_N,
                    body_force={self.ground: np.eye(size)[1] * force_N})

    def carry(self, start_N: float, state: State) -> Callable[[float], Load]:
        """Return the path from the force ``start_N`` of first contact to the full one."""
        wanted = self.demand.vertical_N
        moment = 0.0
        if self.needs_muscle:
            moment = wanted * (self.demand.pressure_centre_mm - self.pivot[0])
        full = self._tensions(moment, state) if self.needs_muscle else {}
        rest = dict.fromkeys(filter(None, self.muscles), 0.0)

        def path(t: float) -> Load:
            return self._load(start_N + t * (wanted - start_N),
                              rest | {k: t * v for k, v in full.items()})

        return path

    def _tensions(self, moment_Nmm: float, state: State) -> dict[str, float]:
        """Share a dorsiflexing ground moment between the two muscles."""
        plantar, dorsal = self.muscles
        down = -moment_arm_mm(self.system, state, plantar, self.pivot)
        up = moment_arm_mm(self.system, state, dorsal, self.pivot)
        return {plantar: max(moment_Nmm, 0.0) / down, dorsal: max(-moment_Nmm, 0.0) / up}

    def adjust(self, load: Load, state: State, evaluation: Evaluation) -> tuple[Load, float]:
        """Correct the muscle force and the fore-aft force; return the load and the change."""
        change, tension = 0.0, dict(load.tension_N)
        if self.needs_muscle:
            plantar, dorsal = self.muscles
            at, force = pressure_centre_mm(self.system, evaluation)
            down = -moment_arm_mm(self.system, state, plantar, self.pivot)
            up = moment_arm_mm(self.system, state, dorsal, self.pivot)
            now = tension[plantar] * down - tension[dorsal] * up
            tension = self._tensions(
                now + force * (self.demand.pressure_centre_mm - at), state)
            change = abs(self.demand.pressure_centre_mm - at) / 100.0
        shear = None
        if self.demand.fore_aft_N:
            shear = self._shear(state, evaluation)
            before = load.node_force_N if load.node_force_N is not None else 0.0 * shear
            change = max(change, float(np.abs(shear - before).sum()) / self.demand.vertical_N)
        return replace(load, tension_N=tension, node_force_N=shear), change

    def _shear(self, state, evaluation) -> np.ndarray:
        """Fore-aft forces (n, 2) on the sole's nodes."""
        total = np.zeros_like(state.x)
        for contact, status in zip(self.system.contacts, evaluation.status, strict=True):
            if contact.name.startswith("foot"):
                np.add.at(total[:, 0], contact.vertices,
                          status.pressure_MPa * status.area_mm2)
        return total * (self.demand.fore_aft_N / max(total.sum(), 1e-9))

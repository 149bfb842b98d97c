"""One cable tension chosen so that a support's reaction acts where it is wanted.

A body that turns freely about a pivot (unknown ``turn``) is loaded through contact with a support
that is held against rotation (unknown ``support``). The signed tension s pulls along one cable when
positive and along another when negative, and

    reaction moment at ``support``  =  force (x_wanted - x_support),
    x_wanted = (1 - share) x_a + share x_b

for two nodes a, b that move with the body. Each Newton correction solves the system with ``turn``
held, which is stable even where the free body is not, for three right-hand sides, and finds the two
scalars (turn, s) from two equations (bordering).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ..errors import ConvergenceError

TURN_CAP_RAD = 0.06


@dataclass(frozen=True)
class Balance:
    """What is wanted, and the present signed tension.

    Attributes
    ----------
    turn, support : int
        Unknowns: spin of the free body, spin of the held support.
    pull, counter : dict of cable name -> share
        Cables of positive and of negative tension, and their tension per unit of |s|.
    nodes : (int, int)
    share : float
    force_N : float
        Force on the support.
    centre : int
        Node at the support's centre.
    tension_N : float
        Signed tension s.
    slack_Nmm, miss_Nmm : float
        Moments by which the two equations are still allowed to be out (they fade out along the
        path): at ``turn`` and at ``support``.
    """

    turn: int
    support: int
    pull: dict[str, float]
    counter: dict[str, float]
    nodes: tuple[int, int]
    share: float
    force_N: float
    centre: int
    tension_N: float = 0.0
    slack_Nmm: float = 0.0
    miss_Nmm: float = 0.0

    def tensions(self) -> dict[str, float]:
        """Return the tension that every cable concerned is given."""
        total = dict.fromkeys([*self.pull, *self.counter], 0.0)
        for name, share in (self.pull if self.tension_N >= 0 else self.counter).items():
            total[name] += share * abs(self.tension_N)
        return total

    def moved(self, change_N: float) -> Balance:
        """Return the balance with another tension."""
        return replace(self, tension_N=self.tension_N + change_N)

    def wanted_mm(self, x: np.ndarray) -> float:
        """Return the wanted place of the reaction for node positions (n, d)."""
        a, b = self.nodes
        return float((1 - self.share) * x[a, 0] + self.share * x[b, 0])

    def errors(self, x: np.ndarray, residual: np.ndarray) -> np.ndarray:
        """Return how far the two equations are out (2,), N mm."""
        lever = self.wanted_mm(x) - x[self.centre, 0]
        return np.array([residual[self.turn] - self.slack_Nmm,
                         residual[self.support] - self.force_N * lever - self.miss_Nmm])

    def direction(self, system, evaluation) -> np.ndarray:
        """Return the change of the residual (size,) with the signed tension."""
        full = np.zeros(system.coordinates.full_size)
        active = self.pull if self.tension_N >= 0 else self.counter
        for cable in system.cables:
            if cable.name in active:
                dofs, slope = cable.length_slope(evaluation.state.x)
                np.add.at(full, dofs, active[cable.name] * slope)
        sign = 1.0 if self.tension_N >= 0 else -1.0
        return sign * (evaluation.interior.reduction.T @ full)

    def lever_slope(self, system, evaluation) -> np.ndarray:
        """Return the derivative (size,) of the lever of the reaction with the unknowns."""
        co = system.coordinates
        full = np.zeros(co.full_size)
        at = co.dim * np.array([*self.nodes, self.centre])
        np.add.at(full, at, [1 - self.share, self.share, -1.0])
        return evaluation.interior.reduction.T @ full

    def close(self, system, evaluation, matrix, columns, direction) -> tuple[np.ndarray, float]:
        """Combine the three solutions ``columns`` (size, 3) into one correction.

        The columns answer the residual, a unit ``turn`` and a unit tension, each with ``turn``
        held; ``direction`` (size,) is the change of the residual with the tension.
        Returns the correction (size,) and the change of the tension.

        Raises
        ------
        ConvergenceError
            When no tension answers.
        """
        base, per_turn, per_pull = columns.T.copy()
        per_turn[self.turn] = 1.0
        lever = self.force_N * self.lever_slope(system, evaluation)
        rows = matrix[[self.turn, self.support]]
        system_2 = np.empty((2, 2))
        for j, column in enumerate((per_turn, per_pull)):
            change = rows @ column
            if j == 1:
                change = change + direction[[self.turn, self.support]]
            change[1] -= lever @ column
            system_2[:, j] = change
        known = self.errors(evaluation.state.x, evaluation.residual) + rows @ base
        known[1] -= lever @ base
        try:
            turn, pull = np.linalg.solve(system_2, -known)
        except np.linalg.LinAlgError:
            raise ConvergenceError("the tension that balances the foot has no lever here") from None
        size = min(1.0, TURN_CAP_RAD / max(abs(turn), 1e-300))
        return base + size * (turn * per_turn + pull * per_pull), size * pull

"""Newton's method at one load: corrections, stabilisation, line search.

Rays follow the surface until the residual is small, then stay fixed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..errors import ConvergenceError
from .descent import descended
from .linear import LinearSolver, NotPositiveDefinite
from .system import System

LEVER_MM = 100.0
RISE = 5.0
CRAWL, SHIFTED = 6, 3
"""Corrections one after the other from a matrix that took at least so many attempts, after which an
augmentation pass of a solve that settles counts as failed: each lowers the residual by parts of a
percent."""
PATIENCE = 6
"""Full steps that may pass without a new least residual."""
AGAIN, SHARP = 0.1, 0.2
"""Relative residual below which the factors of an earlier iteration are used again in late augmentation
passes, and by how much such a correction has to lower it to be taken. Not where contacts slip step by
step: there only the present matrix knows which of them do."""


@dataclass(frozen=True)
class Settings:
    """Tolerances and limits.

    Attributes
    ----------
    tolerance : float
        Largest out-of-balance force at the end, relative to the forces in play.
    step_tolerance : float
        The same for steps on the way.
    freeze : float
        Relative residual below which contact rays stay fixed.
    follow : int
        Iterations after which they stay fixed in any case.
    near : float
        Relative residual below which an indefinite matrix is used as it is.
    exact : bool
        Whether the matrix near the solution may be unsymmetric, as that of curved targets is.
    penetration_mm, pressure_change : float
        Augmentation stops when the deepest mean gap and the change of the contact pressures, relative
        to the largest of them, are below these.
    adjustment : float
        ... and the loads that follow from the result change by less than this.
    first_step, smallest_step : float
        Load factor of the first step, and where to give up.
    iterations, passes : int
        Newton iterations per pass and augmentation passes at the last step.
    relay : int
        Passes that lay new rays; afterwards only the multipliers change.
    stiffen : int
        First passes in which penalties may be raised; after that only those of contacts that linger,
        since a raised penalty spoils the factors of earlier iterations.
    largest_move_mm : float
        Cap on one Newton correction.
    force_scale_N : float or None
        Force to judge the residual against; by default the largest force in play.
    falls : int
        How often a solve that would end in failure may look for a way down the energy instead.
    settle : bool
        Whether a load path that ends with an unstable matrix goes down the energy before augmentation:
        tissue about to fold over, which carries nothing, would keep every pass from its correction.
    """

    tolerance: float = 1e-9
    step_tolerance: float = 1e-2
    freeze: float = 1e-3
    follow: int = 8
    near: float = 2e-2
    exact: bool = True
    penetration_mm: float = 0.002
    pressure_change: float = 2e-3
    adjustment: float = 1e-5
    first_step: float = 1.0
    smallest_step: float = 1 / 256
    iterations: int = 40
    passes: int = 40
    relay: int = 6
    stiffen: int = 40
    largest_move_mm: float = 10.0
    force_scale_N: float | None = None
    falls: int = 0
    settle: bool = False


class Step:
    """Newton iterations at one load."""

    def __init__(self, system: System, solver: LinearSolver, settings: Settings, history, label):
        self.system, self.solver, self.settings = system, solver, settings
        self.history, self.label = history, label
        self.kept = self.best = None
        self.falls = settings.falls
        self.stable, self.shifted = True, 0
        co = system.coordinates
        self.levers = np.ones(co.size)
        body = self.levers[co.first_body:].reshape(co.bodies, co.body_dofs)
        body[:, co.dim:] = LEVER_MM

    def _errors(self, state, load, evaluation, free):
        """All that must vanish, N: residual of the unknowns, and of the balance.

        Moments count as forces at ``LEVER_MM``.
        """
        out = evaluation.residual / self.levers
        if load.balance is None:
            return out[free]
        out[[load.balance.turn, load.balance.support]] = load.balance.errors(
            state.x, evaluation.residual) / LEVER_MM
        free = free.copy()
        free[load.balance.support] = True
        return out[free]

    def scale(self, evaluation) -> float:
        """Return the force (N) that the residual is judged against."""
        return self.settings.force_scale_N or max(evaluation.scale_N, 1e-12)

    def record(self, label, number, used, norm, evaluation) -> None:
        """Add a row to the history."""
        self.history.append({
            "solve": label, "step": number, "iteration": used, "residual": norm,
            "active": sum(s.active for s in evaluation.status), "stabilised": 0})

    def downhill(self, load, evaluation, held) -> np.ndarray:
        """Return a correction (size,) down the energy, the balancing turn and tension held.

        Raises
        ------
        ConvergenceError
            When the matrix stays unstable.
        """
        _, _, self.history[-1]["stabilised"] = self._correction(
            load, evaluation, held, np.zeros(len(held)), near=False)
        return self.kept[2][:, 0]

    def _correction(self, load, evaluation, held, gap, near):
        """Solve for one Newton correction; stabilise an unstable matrix for this once.

        Near the solution the exact matrix is used, unsymmetric or indefinite as it may be: frozen
        rays can make a stable equilibrium look unstable, and only the exact matrix converges there.

        Returns the correction, the change of the balancing tension, and how many factorisations
        failed.
        """
        system, balance = self.system, load.balance
        pattern, self.kept = system.pattern, None
        exact = near and system.curved and self.settings.exact
        still = held if balance is None else np.append(held, balance.turn)
        pull = None if balance is None else balance.direction(system, evaluation)
        for attempt in range(10):
            whole = attempt == 0 or (near and attempt == 1)
            if attempt == 0:
                data = system.tangent(evaluation, exact=exact)
            elif attempt == 1 and whole:
                data = system.tangent(evaluation) if exact else data
            elif attempt == 1 + near:
                data = plain = system.tangent(evaluation, geometric=False)
            else:
                data = plain.copy()
                diagonal = np.abs(data[pattern.diagonal])
                data[pattern.diagonal] += 1e-3 * 4.0 ** (attempt - 2 - near) * np.maximum(
                    diagonal, 1e-6 * diagonal.max())
            matrix = pattern.matrix(data)
            rhs = np.zeros((pattern.size, 1 if balance is None else 3))
            rhs[held, 0] = gap
            if balance is not None:
                rhs[balance.turn, 1] = 1.0
            rhs = -(matrix @ rhs)
            rhs[:, 0] -= evaluation.residual
            if balance is not None:
                rhs[:, 2] = -pull
            rhs[still] = 0.0
            rhs[held, 0] = gap
            if len(still):
                fixed = data.copy()
                fixed[pattern.crossing(still)] = 0.0
                fixed[pattern.diagonal[still]] = 1.0
            else:
                fixed = data
            try:
                columns = self.solver.solve(pattern, fixed, rhs, definite=not (whole and attempt),
                                            symmetric=not (exact and attempt == 0))
            except NotPositiveDefinite:
                continue
            self.kept = still, matrix, columns
            if balance is None:
                return columns[:, 0], 0.0, attempt
            return *balance.close(system, evaluation, matrix, columns, pull), attempt
        raise ConvergenceError("the tangent stays unstable however much it is stabilised")

    def _again(self, load, rays, memory, evaluation, held, free, norm):
        """Correct with the factors of an earlier iteration of the same step.

        Returns the load and the evaluation there, or None when the errors do not fall steeply.
        """
        system, balance = self.system, load.balance
        if self.kept is None:
            return None
        still, matrix, columns = self.kept
        rhs = -evaluation.residual
        rhs[still] = 0.0
        base = self.solver.again(rhs[:, None])
        if base is None or not np.isfinite(base).all():
            return None
        dq, pull = base.reshape(-1), 0.0
        if balance is not None:
            columns = np.column_stack([dq, columns[:, 1:]])
            dq, pull = balance.close(
                system, evaluation, matrix, columns, balance.direction(system, evaluation))
            load = load.pulled(pull)
        if np.abs(dq[: system.coordinates.first_body]).max(
                initial=0.0) > self.settings.largest_move_mm:
            return None
        new = system.evaluate(system.coordinates.moved(evaluation.state, dq), load, rays, memory,
                              tangent=False)
        if not np.isfinite(new.energy_Nmm):
            return None
        now = np.abs(self._errors(new.state, load, new, free)).max(initial=0.0) / self.scale(new)
        return (load, new) if now < SHARP * norm else None

    def run(self, state, load, memory, rays, tolerance, iterations, number, least=0,
            follow=True, again=False, fall=False):
        """Iterate at least ``least`` times, then to ``tolerance``; rays may ``follow`` the surface.

        ``again`` allows the factors of earlier iterations; ``fall`` a new start from further down the
        energy instead of a failure, as often as the settings allow in all.

        Returns state, load (with its balancing tension), rays, evaluation, iterations used.

        Raises
        ------
        ConvergenceError
            When no equilibrium is found.
        """
        fallen = 0
        while True:
            try:
                *found, used = self._newton(state, load, memory, rays, tolerance, iterations, number,
                                            least, follow, again)
                return *found, used + fallen * iterations
            except ConvergenceError:
                if not (fall and self.falls and self.best and self.system.symmetric):
                    raise
                load, rays, evaluation = self.best
                lower = descended(self, load, rays, memory, evaluation, iterations, number)
                if fallen and lower is evaluation:
                    raise
            self.falls, fallen, follow, state = self.falls - 1, fallen + 1, False, lower.state

    def _newton(self, state, load, memory, rays, tolerance, iterations, number, least, follow, again):
        """Iterate once; the least residual's load, rays and evaluation stay in ``best``."""
        self.best, self.shifted = None, 0
        system, settings = self.system, self.settings
        held = np.array(sorted(load.held), int)
        target = np.array([load.held[i] for i in held])
        free = np.ones(system.coordinates.size, bool)
        free[held] = False
        evaluation = system.evaluate(state, load, rays, memory, tangent=False)
        if not np.isfinite(evaluation.energy_Nmm):
            raise ConvergenceError("an element is inverted at the start of a step", self.history)
        least_norm, waited, bold = np.inf, 0, True
        for used in range(iterations + 1):
            gap = target - system.displacement(state)[held]
            norm = float(np.abs(self._errors(state, load, evaluation, free)).max(initial=0.0))
            norm /= self.scale(evaluation)
            arrived = len(gap) == 0 or np.abs(gap).max() < 1e-12
            self.record(self.label, number, used, norm, evaluation)
            if arrived and norm <= tolerance and used >= least:
                return state, load, rays, evaluation, used
            if used == iterations:
                break
            if not arrived or norm < least_norm:
                bold = bold or norm < 0.3 * least_norm
                least_norm = norm if arrived else np.inf
                self.best, waited = (load, rays, evaluation), 0
            elif bold:
                waited += 1
                if waited > PATIENCE:
                    load, rays, evaluation = self.best
                    state, norm, bold = evaluation.state, least_norm, False
                    gap = target - system.displacement(state)[held]
            if again and arrived and norm < AGAIN and system.symmetric:
                found = self._again(load, rays, memory, evaluation, held, free, norm)
                if found:
                    load, evaluation = found
                    state = evaluation.state
                    continue
            near = bool(arrived and norm < settings.near)
            dq, pull, attempt = self._correction(load, evaluation, held, gap, near)
            self.history[-1]["stabilised"], self.stable = attempt, attempt == 0
            self.shifted = self.shifted + 1 if attempt >= SHIFTED else 0
            in_pass = least > 0
            if in_pass and settings.settle and self.shifted >= CRAWL:
                raise ConvergenceError("stabilised corrections crawl", self.history)
            largest = np.abs(dq[: system.coordinates.first_body]).max(initial=0.0)
            if largest > settings.largest_move_mm and arrived:
                dq, pull = (v * (settings.largest_move_mm / largest) for v in (dq, pull))
            load, evaluation = self._search(
                load, rays, memory, evaluation, dq, pull, free, arrived, near and bold)
            state = evaluation.state
            if follow and (
                    not arrived or (norm > settings.freeze and used < settings.follow)):
                rays = system.rays(state, memory)
                evaluation = system.evaluate(
                    state, load, rays, memory, tangent=False, interior=evaluation.interior)
        raise ConvergenceError(
            f"no equilibrium after {iterations} Newton iterations "
            f"(relative residual {norm:.1e}, wanted {tolerance:.0e})", self.history)

    def _search(self, load, rays, memory, evaluation, dq, pull, free, arrived, near):
        """Shorten the correction until the errors or the energy fall.

        Near the solution the errors may rise for a while: a narrow, bent valley is crossed faster
        by full steps than followed by short ones.

        Returns the load (with its balancing tension) and the evaluation there.
        """
        system, size, state = self.system, 1.0, evaluation.state
        norm = np.linalg.norm(self._errors(state, load, evaluation, free))
        slope = float(evaluation.residual @ dq)
        best = None
        for _ in range(10):
            trial = system.coordinates.moved(state, size * dq)
            pulled = load if load.balance is None else load.pulled(size * pull)
            new = system.evaluate(trial, pulled, rays, memory, tangent=False)
            if np.isfinite(new.energy_Nmm):
                if not arrived:
                    return pulled, new
                with np.errstate(over="ignore"):
                    now = np.linalg.norm(self._errors(trial, pulled, new, free))
                lower = (system.symmetric and slope < 0 and load.balance is None
                         and new.energy_Nmm < evaluation.energy_Nmm + 1e-4 * size * slope)
                if now < (1 - 1e-3 * size) * norm or lower or (near and now < RISE * norm):
                    return pulled, new
                if best is None or now < best[0]:
                    best = now, pulled, new
            size *= 0.5
        # no descent: near round-off, or across a kink, the least bad trial goes on
        if np.abs(dq).max(initial=0.0) < 1e-12 * max(np.abs(state.x).max(), 1.0):
            return load, evaluation
        if best is not None and (best[0] < 2 * norm or norm < 1e-6 * self.scale(evaluation)):
            return best[1:]
        raise ConvergenceError("the line search found no better state", self.history)

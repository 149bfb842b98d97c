"""Connectors between bodies: springs between nodes, and rotational stiffness about axes.

A joint holds two coincident nodes together with a translation stiffness and resists the relative
rotation phi = log(R_a^T R_b) of its bodies about each of its axes with

    M(phi) = k phi (1 + (phi / range)^2),

which rises towards the end of the range of motion. A hinge is a joint with one soft and two stiff
axes, a ball a joint with three equal ones; in 2D there is one angle. With J the left Jacobian of
the
rotation group, the spatial moment on body b is R_a J^-T(phi) m(phi) and the opposite acts on a, so
moments balance exactly (Simo & Vu-Quoc 1986, Comput Methods Appl Mech Eng 58:79-116 for the spin
formulation; the Hessian is the symmetric part, the rest vanishing with the out-of-balance moment).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from .state import State, skew


@dataclass(frozen=True)
class Stiffness:
    """Moment-angle law of one axis.

    Attributes
    ----------
    stiffness_Nmm_per_rad : float
        Slope at the neutral angle.
    range_plus_rad, range_minus_rad : float
        Angle of each sign at which the secant stiffness has doubled.
    neutral_rad : float
    """

    stiffness_Nmm_per_rad: float
    range_plus_rad: float = np.inf
    range_minus_rad: float = np.inf
    neutral_rad: float = 0.0

    def law(self, angle_rad: float) -> tuple[float, float, float]:
        """Return energy (N mm), moment (N mm) and slope (N mm/rad)."""
        a, k = angle_rad - self.neutral_rad, self.stiffness_Nmm_per_rad
        s = a / (self.range_plus_rad if a > 0 else self.range_minus_rad)
        return k * a * a * (0.5 + s * s / 4), k * a * (1 + s * s), k * (1 + 3 * s * s)


@dataclass(frozen=True)
class Joint:
    """Rotational connector between two bodies.

    Attributes
    ----------
    name : str
    body_a, body_b : int
    laws : tuple of Stiffness
        One in 2D, three in 3D.
    axes : (3, 3) array, 3D only
        Rows are the axes of the laws, in the frame of body a at the start.
    """

    name: str
    body_a: int
    body_b: int
    laws: tuple[Stiffness, ...]
    axes: np.ndarray | None = None

    def relative_rad(self, state: State) -> np.ndarray:
        """Return the relative rotation about each axis (1,) or (3,), rad."""
        if self.axes is None:
            return state.angle[self.body_b] - state.angle[self.body_a]
        return self.axes @ rotation_vector(state.turn[self.body_a].T @ state.turn[self.body_b])

    def moments_Nmm(self, state: State) -> np.ndarray:
        """Return the moment about each axis, on body b, N mm."""
        angles = self.relative_rad(state)
        return np.array([law.law(a)[1] for law, a in zip(self.laws, angles, strict=True)])

    def evaluate(self, state: State):
        """Return energy, gradient (s,) on b's spin (minus it acts on a) and its slope (s, s)."""
        rows = [law.law(a) for law, a in zip(self.laws, self.relative_rad(state), strict=True)]
        energy = sum(r[0] for r in rows)
        if self.axes is None:
            return energy, np.array([rows[0][1]]), np.array([[rows[0][2]]])
        turn = state.turn[self.body_a]
        phi = rotation_vector(turn.T @ state.turn[self.body_b])
        m = self.axes.T @ np.array([r[1] for r in rows])
        slope = self.axes.T @ np.diag([r[2] for r in rows]) @ self.axes
        P, c, dc = skew(phi), *_coefficient(phi)
        inverse_t = np.eye(3) + 0.5 * P + c * P @ P
        pm = np.cross(phi, m)
        dg = (inverse_t @ slope - 0.5 * skew(m) - c * (skew(pm) + P @ skew(m))
              + dc * np.outer(P @ pm, phi))
        return energy, turn @ (inverse_t @ m), turn @ dg @ inverse_t.T @ turn.T

    def hessian(self, state: State, moment: np.ndarray, slope: np.ndarray) -> np.ndarray:
        """Return the Hessian (2s, 2s) over the spins of a then b from :meth:`evaluate`."""
        if self.axes is None:
            k = slope[0, 0]
            return np.array([[k, -k], [-k, k]])
        # the moment turns with body a: d(M)/d(alpha) = -slope - [M]
        W = skew(moment)
        on_b = np.hstack([-slope - W, slope])
        full = np.vstack([-on_b, on_b])
        return 0.5 * (full + full.T)


def rotation_vector(turn: np.ndarray) -> np.ndarray:
    """Return the rotation vector (3,) of a rotation matrix (3, 3), angle below pi."""
    axial = 0.5 * np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0],
                            turn[1, 0] - turn[0, 1]])
    sine, cosine = np.linalg.norm(axial), 0.5 * (np.trace(turn) - 1)
    angle = np.arctan2(sine, cosine)
    return axial * (angle / sine if sine > 1e-9 else 1.0)


def _coefficient(phi):
    """Return c and c'/angle of J^-1 = 1 - [phi]/2 + c [phi]^2."""
    a = np.linalg.norm(phi)
    if a < 1e-3:
        return 1 / 12 + a * a / 720, 1 / 360 + a * a / 7560
    s, co = np.sin(a), np.cos(a)
    c = 1 / a**2 - (1 + co) / (2 * a * s)
    dc = -2 / a**3 + (s * s * a + (1 + co) * (s + a * co)) / (2 * a * a * s * s)
    return c, dc / a


@dataclass(frozen=True)
class Spring:
    """Linear spring between two nodes: energy k/2 |x_b - x_a - (X_b - X_a)|^2 per direction.

    Attributes
    ----------
    name : str
    node_a, node_b : int
    stiffness_N_per_mm : tuple of float
        One per direction.
    gap_mm : tuple of float
        Reference difference X_b - X_a.
    """

    name: str
    node_a: int
    node_b: int
    stiffness_N_per_mm: tuple[float, ...]
    gap_mm: tuple[float, ...]

    def force_N(self, x: np.ndarray) -> np.ndarray:
        """Return the force (d,) the spring exerts on node a, N."""
        stretch = x[self.node_b] - x[self.node_a] - np.array(self.gap_mm)
        return np.array(self.stiffness_N_per_mm) * stretch

    def evaluate(self, x: np.ndarray):
        """Return energy, dofs (2 d,), gradient (2 d,) and Hessian (2 d, 2 d)."""
        d = x.shape[1]
        k = np.array(self.stiffness_N_per_mm)
        stretch = x[self.node_b] - x[self.node_a] - np.array(self.gap_mm)
        force = k * stretch
        every = np.arange(d)
        hess = np.zeros((2, d, 2, d))
        hess[0, every, 0, every] = hess[1, every, 1, every] = k
        hess[0, every, 1, every] = hess[1, every, 0, every] = -k
        return (0.5 * float(force @ stretch),
                np.concatenate([self.node_a * d + every, self.node_b * d + every]),
                np.concatenate([-force, force]), hess.reshape(2 * d, 2 * d))

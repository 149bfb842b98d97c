"""A Gaussian process over the unit cube: what a solve would give, and how sure that is.

Zero mean after standardising, Matern kernel of order 5/2 with one length per dimension,

    k(x, x') = s^2 (1 + r sqrt(5) + 5 r^2 / 3) exp(-r sqrt(5)),   r^2 = sum ((x_j - x'_j) / l_j)^2,

and noise on the diagonal; the constants maximise the marginal likelihood with a weak log-normal prior
(Rasmussen CE, Williams CKI 2006, Gaussian Processes for Machine Learning, eq. 2.25-2.26, 4.17 and
5.8). Leaving out one point needs no second fit (eq. 5.12).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

LENGTHS, NOISES = (0.05, 20.0), (1e-4, 0.5)
_LENGTH_MIDDLE, _LENGTH_WIDTH, _JITTER = 0.0, 1.5, 1e-8


@dataclass(frozen=True)
class Surrogate:
    """A fitted process.

    Attributes
    ----------
    points : (n, k) array in the unit cube
    values : (n,) array
    lengths : (k,) array
    noise : float
        Standard deviation over that of the values.
    """

    points: np.ndarray
    values: np.ndarray
    lengths: np.ndarray
    noise: float
    _mean: float
    _scale: float
    _inverse: np.ndarray

    def predict(self, points: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Return mean and standard deviation (m,) at points (m, k), in the values' unit."""
        cross = kernel(np.asarray(points, float), self.points, self.lengths)
        weights = cross @ self._inverse
        mean = weights @ ((self.values - self._mean) / self._scale)
        variance = np.maximum(1.0 - np.sum(weights * cross, axis=1), 0.0)
        return self._mean + self._scale * mean, self._scale * np.sqrt(variance)

    def believing(self, point: np.ndarray) -> Surrogate:
        """Return the process as if its own prediction had been found at one more point (k,)."""
        value = float(self.predict(point[None])[0][0])
        points = np.vstack([self.points, point])
        return Surrogate(points, np.append(self.values, value), self.lengths, self.noise, self._mean,
                         self._scale, np.linalg.inv(_matrix(points, self.lengths, self.noise)))

    def left_out(self) -> np.ndarray:
        """Return what each value would be predicted as without itself (n,)."""
        standard = (self.values - self._mean) / self._scale
        return self.values - self._scale * (self._inverse @ standard) / np.diag(self._inverse)

    def left_out_error(self) -> float:
        """Return the root mean square of the errors of `left_out`, in the values' unit."""
        return float(np.sqrt(np.mean((self.values - self.left_out()) ** 2)))


def kernel(a: np.ndarray, b: np.ndarray, lengths: np.ndarray) -> np.ndarray:
    """Return the correlations (n, m) of points (n, k) and (m, k)."""
    gap = (a[:, None, :] - b[None, :, :]) / lengths
    r = np.sqrt(5.0 * np.sum(gap * gap, axis=2))
    return (1.0 + r + r * r / 3.0) * np.exp(-r)


def fitted(points, values) -> Surrogate:
    """Fit a process to values (n,) at points (n, k) of the unit cube; n at least 2."""
    from scipy.optimize import minimize

    points, values = np.asarray(points, float), np.asarray(values, float)
    mean, scale = float(values.mean()), float(values.std()) or 1.0
    standard, k = (values - mean) / scale, points.shape[1]
    bounds = [tuple(np.log(LENGTHS))] * k + [tuple(np.log(NOISES))]

    def cost(logs):
        try:
            factor = np.linalg.cholesky(_matrix(points, np.exp(logs[:k]), float(np.exp(logs[k]))))
        except np.linalg.LinAlgError:
            return 1e10
        white = np.linalg.solve(factor, standard)
        prior = np.sum(((logs[:k] - _LENGTH_MIDDLE) / _LENGTH_WIDTH) ** 2) / 2.0
        return float(white @ white / 2.0 + np.log(np.diag(factor)).sum() + prior)

    tries = [minimize(cost, np.append(np.full(k, np.log(start)), np.log(0.02)), bounds=bounds,
                      method="L-BFGS-B", options={"maxiter": 40, "ftol": 1e-6})
             for start in (0.3, 1.0, 3.0)]
    best = min(tries, key=lambda found: found.fun).x
    lengths, noise = np.exp(best[:k]), float(np.exp(best[k]))
    return Surrogate(points, values, lengths, noise, mean, scale,
                     np.linalg.inv(_matrix(points, lengths, noise)))


def _matrix(points, lengths, noise) -> np.ndarray:
    return kernel(points, points, lengths) + (noise**2 + _JITTER) * np.eye(len(points))

"""Symmetric tensors as six rows, and the pieces every law's tangent is made of.

A symmetric tensor is a (6, n) array in the order 11, 22, 33, 12, 23, 13 (tensor components). A
tangent is (6, 6, n) against the Voigt strain (E11, E22, E33, 2E12, 2E23, 2E13), so that its entries
are the tensor components D_ijkl themselves.
"""

from __future__ import annotations

import numpy as np

PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (0, 2))
"""Tensor indices of the six rows."""
ROW = {pair: row for row, (i, j) in enumerate(PAIRS) for pair in ((i, j), (j, i))}
"""Row of each tensor index pair."""


def determinant(C: np.ndarray) -> np.ndarray:
    """Return det C (n,) of (6, n)."""
    a, b, c, d, e, f = C
    return a * (b * c - e * e) - d * (d * c - e * f) + f * (d * e - b * f)


def inverse(C: np.ndarray, det: np.ndarray) -> np.ndarray:
    """Return the inverse (6, n) of C (6, n) with determinant ``det`` (n,)."""
    a, b, c, d, e, f = C
    out = np.empty_like(C)
    out[0] = b * c - e * e
    out[1] = a * c - f * f
    out[2] = a * b - d * d
    out[3] = e * f - c * d
    out[4] = d * f - a * e
    out[5] = d * e - b * f
    out /= det
    return out


def admissible(C: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray | None]:
    """Return C, det C and a mask of points with det C <= 0 (``None`` when there are none).

    At such points C is replaced by the identity, so that a law can be evaluated without warnings;
    the law then reports an infinite energy there.
    """
    det = determinant(C)
    if det.size == 0 or det.min() > 0.0:  # a NaN fails the comparison and is masked below
        return C, det, None
    bad = ~(det > 0.0)
    C = C.copy()
    C[:, bad] = np.array([1.0, 1.0, 1.0, 0.0, 0.0, 0.0])[:, None]
    det[bad] = 1.0
    return C, det, bad


def add_inverse_product(D: np.ndarray, B: np.ndarray, weight: np.ndarray) -> None:
    """Add weight (B_ik B_jl + B_il B_jk) / 2 to the upper triangle of D (6, 6, n) in place."""
    half = 0.5 * weight
    for row, (i, j) in enumerate(PAIRS):
        for column in range(row, 6):
            k, m = PAIRS[column]
            first = B[ROW[i, k]] * B[ROW[j, m]]
            second = first if k == m or i == j else B[ROW[i, m]] * B[ROW[j, k]]
            D[row, column] += half * (first + second)


def mirror(D: np.ndarray) -> np.ndarray:
    """Copy the upper triangle of D (6, 6, n) to the lower one, in place, and return D."""
    for row in range(1, 6):
        D[row, :row] = D[:row, row]
    return D

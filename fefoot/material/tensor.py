"""Symmetric tensors as six rows, and the pieces every law's tangent is made of.

A symmetric tensor is a (6, n) array in the order 11, 22, 33, 12, 23, 13 (tensor components). A
tangent is (6, 6, n) against the Voigt strain (E11, E22, E33, 2E12, 2E23, 2E13), so that its entries
are the tensor components D_ijkl themselves. Where no shear leaves the plane of the first two axes,
the first four rows tell all, and a *flat* tensor is (4, n), its tangent (4, 4, n).
"""

from __future__ import annotations

import numpy as np

PAIRS = ((0, 0), (1, 1), (2, 2), (0, 1), (1, 2), (0, 2))
"""Tensor indices of the six rows."""
ROW = {pair: row for row, (i, j) in enumerate(PAIRS) for pair in ((i, j), (j, i))}
"""Row of each tensor index pair."""


def determinant(C: np.ndarray) -> np.ndarray:
    """Return det C (n,) of (6, n) or (4, n)."""
    if len(C) == 4:
        return (C[0] * C[1] - C[3] * C[3]) * C[2]
    a, b, c, d, e, f = C
    return a * (b * c - e * e) - d * (d * c - e * f) + f * (d * e - b * f)


def inverse(C: np.ndarray, det: np.ndarray) -> np.ndarray:
    """Return the inverse (6, n) or (4, n) of C with determinant ``det`` (n,)."""
    out = np.empty_like(C)
    if len(C) == 4:
        a, b, c, d = C
        scale = c / det
        np.multiply(b, scale, out=out[0])
        np.multiply(a, scale, out=out[1])
        np.divide(1.0, c, out=out[2])
        np.multiply(-d, scale, out=out[3])
        return out
    a, b, c, d, e, f = C
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
    C[:3, bad], C[3:, bad] = 1.0, 0.0
    det[bad] = 1.0
    return C, det, bad


def add_inverse_product(D: np.ndarray, B: np.ndarray, weight: np.ndarray) -> None:
    """Add weight (B_ik B_jl + B_il B_jk) / 2 to the upper triangle of D in place."""
    rows, half = len(B), 0.5 * weight
    scaled, work, product = weight * B, np.empty_like(weight), np.empty_like(weight)
    for row, (i, j) in enumerate(PAIRS[:rows]):
        for column in range(row, rows):
            k, m = PAIRS[column]
            first, second = (ROW[i, k], ROW[j, m]), (ROW[i, m], ROW[j, k])
            if max(first) >= rows or max(second) >= rows:
                continue
            if sorted(first) == sorted(second):
                np.multiply(scaled[first[0]], B[first[1]], out=work)
            else:
                np.multiply(B[first[0]], B[first[1]], out=work)
                work += np.multiply(B[second[0]], B[second[1]], out=product)
                work *= half
            D[row, column] += work


def mirror(D: np.ndarray) -> np.ndarray:
    """Copy the upper triangle of D to the lower one, in place, and return D."""
    for row in range(1, len(D)):
        D[row, :row] = D[:row, row]
    return D

"""Isotropic laws written in the invariants of C.

Each takes C (6, n) and a dict of constants and returns W (n,) MPa, S (6, n) MPa and D (6, 6, n) MPa
(``None`` without ``tangent``); of a flat C (4, n), S (4, n) and D (4, 4, n). Where det C <= 0, W is
infinite and S and D are those of rest.
"""

from __future__ import annotations

import numpy as np

from .tensor import add_inverse_product, admissible, inverse, mirror


def lame(E_MPa: float, nu: float) -> tuple[float, float]:
    """Return Lame's (mu, lambda) in MPa from Young's modulus and Poisson's ratio."""
    return E_MPa / (2 * (1 + nu)), E_MPa * nu / ((1 + nu) * (1 - 2 * nu))


def elastic_moduli(constants: dict) -> tuple[float, float]:
    """Return (shear, bulk) modulus in MPa of a law given by ``E_MPa`` and ``nu``."""
    mu, lam = lame(constants["E_MPa"], constants["nu"])
    return mu, lam + 2 * mu / 3


def linear_elastic(C, constants, fibre=None, tangent=True):
    """Saint Venant-Kirchhoff: W = lambda/2 (tr E)^2 + mu E:E, S = lambda tr(E) I + 2 mu E.

    For stiff parts that bend much and strain little: it softens and collapses in large
    compression (Bonet & Wood, Nonlinear Continuum Mechanics for Finite Element Analysis, 2nd ed.,
    sec. 6.4.1; recalled).
    """
    mu, lam = lame(constants["E_MPa"], constants["nu"])
    C, _, bad = admissible(C)
    S = mu * C
    S[:3] -= mu
    trace = 0.5 * (C[0] + C[1] + C[2] - 3.0)
    energy = (S[:3] ** 2).sum(axis=0) + 2.0 * (S[3:] ** 2).sum(axis=0)
    W = 0.5 * lam * trace**2 + energy / (4.0 * mu)
    S[:3] += lam * trace
    if bad is not None:
        W[bad] = np.inf
    if not tangent:
        return W, S, None
    D = np.zeros((len(C), *C.shape))
    D[:3, :3] = lam
    for row in range(len(C)):
        D[row, row] += 2 * mu if row < 3 else mu
    return W, S, D


def neo_hookean(C, constants, fibre=None, tangent=True):
    """Compressible neo-Hookean: W = mu/2 (I1 - 3 - 2 ln J) + lambda/2 (ln J)^2.

    S = mu (I - C^-1) + lambda ln J C^-1,
    D = lambda C^-1 (x) C^-1 + 2 (mu - lambda ln J) C^-1 (.) C^-1.
    Source: Bonet & Wood, Nonlinear Continuum Mechanics for Finite Element Analysis, 2nd ed., sec.
    6.4.3 (recalled).
    """
    mu, lam = lame(constants["E_MPa"], constants["nu"])
    C, det, bad = admissible(C)
    B = inverse(C, det)
    log_J = 0.5 * np.log(det)
    W = (0.5 * mu) * (C[0] + C[1] + C[2] - 3.0) + log_J * (0.5 * lam * log_J - mu)
    if bad is not None:
        W[bad] = np.inf
    weight = lam * log_J - mu
    S = weight * B
    S[:3] += mu
    if not tangent:
        return W, S, None
    D = np.empty((len(C), *C.shape))
    scaled = lam * B
    for row in range(len(C)):
        np.multiply(scaled[row], B[row:], out=D[row, row:])
    add_inverse_product(D, B, -2.0 * weight)
    return W, S, mirror(D)


def polynomial_moduli(constants: dict) -> tuple[float, float]:
    """Return (shear, bulk): mu = 2 (C10 + C01), K = 2 / D1."""
    return 2 * (constants["C10_MPa"] + constants["C01_MPa"]), 2.0 / constants["D1_per_MPa"]


def polynomial(C, constants, fibre=None, tangent=True):
    """Second-order polynomial in the isochoric invariants, with a volumetric barrier.

    W = C10 x + C01 y + C20 x^2 + C11 x y + C02 y^2 + U(J), x = J^(-2/3) I1 - 3,
    y = J^(-4/3) I2 - 3, U = K/4 (J^2 - 1 - 2 ln J), K = 2/D1.
    For any W(I1, I2, J), with A = I1 I - C:
    S = 2 W_1 I + 2 W_2 A + J W_J C^-1; D is a symmetric form in (I, A, C^-1) plus
    4 W_2 (I (x) I - I4) - 2 J W_J C^-1 (.) C^-1
    (Holzapfel, Nonlinear Solid Mechanics, 2000, eq. 6.193-6.195, recalled; written here in J
    instead of I3).
    """
    c10, c01, c20, c11, c02 = (constants[f"C{ij}_MPa"] for ij in ("10", "01", "20", "11", "02"))
    bulk = 2.0 / constants["D1_per_MPa"]
    C, det, bad = admissible(C)
    B = inverse(C, det)
    p = np.cbrt(det) ** -1.0
    q = p * p
    trace = C[0] + C[1] + C[2]
    A = -C
    A[:3] += trace
    second = det * (B[0] + B[1] + B[2])
    i1, i2 = p * trace, q * second
    x, y = i1 - 3.0, i2 - 3.0
    w1, w2 = c10 + 2 * c20 * x + c11 * y, c01 + c11 * x + 2 * c02 * y
    W = (c10 + c20 * x) * x + (c01 + c11 * x + c02 * y) * y
    W += 0.25 * bulk * (det - 1.0 - np.log(det))
    if bad is not None:
        W[bad] = np.inf
    W1, W2 = p * w1, q * w2
    JWJ = (-2 / 3) * w1 * i1 - (4 / 3) * w2 * i2 + 0.5 * bulk * (det - 1.0)
    S = JWJ * B + (2.0 * W2) * A
    S[:3] += 2.0 * W1
    if not tangent:
        return W, S, None
    d1 = (-4 / 3) * (c20 * i1 + c11 * i2)
    d2 = (-2 / 3) * c11 * i1 - (8 / 3) * c02 * i2
    k11, k12, k22 = 8 * c20 * q, 4 * c11 * p * q, 8 * c02 * q * q
    k1J, k2J = 2 * p * (d1 - (2 / 3) * w1), 2 * q * (d2 - (4 / 3) * w2)
    kJJ = (-2 / 3) * i1 * (d1 - (2 / 3) * w1) - (4 / 3) * i2 * (d2 - (4 / 3) * w2) + bulk * det
    with_I = k12 * A + k1J * B
    with_I[:3] += k11 + 4.0 * W2
    with_A = k22 * A + k2J * B
    with_A[:3] += k12
    with_B = k2J * A + kJJ * B
    with_B[:3] += k1J
    D = np.empty((len(C), *C.shape))
    work = np.empty(C.shape[1])
    for row in range(len(C)):
        for column in range(row, len(C)):
            entry = np.multiply(A[row], with_A[column], out=D[row, column])
            entry += np.multiply(B[row], with_B[column], out=work)
            if row < 3:
                entry += with_I[column]
        D[row, row] -= (4.0 if row < 3 else 2.0) * W2
    add_inverse_product(D, B, -2.0 * JWJ)
    return W, S, mirror(D)

"""Isotropic laws written in the principal stretches.

Both laws have S_a = phi(c_a) + g / c_a with c_a the eigenvalues of C, phi a sum of powers and g the
same for all axes. The tangent in principal axes is

    D_aabb = (H_ab - 2 delta_ab h_a) / (c_a c_b),  h_a = dW / d ln l_a,  H_ab = dh_a / d ln l_b,
    D_abab = (S_b - S_a) / (c_b - c_a)

(Ogden, Non-linear Elastic Deformations, 1984, sec. 6.1.4; recalled). The difference quotient of a
power is formed with ``expm1`` and ``log1p``, which is exact to rounding for equal, nearly equal and
different stretches alike, so no tolerance decides anything.
"""

from __future__ import annotations

import numpy as np

from .tensor import PAIRS, admissible, mirror

_OFF = ((0, 1), (1, 2), (0, 2))
EIGEN_LIMIT, SWEEPS = 1e-17, 12
"""Largest element off the diagonal that stops the rotations, over the largest on it; their limit."""


def ogden_moduli(constants: dict) -> tuple[float, float]:
    """Return (shear, bulk): mu = sum mu_i, K = 2 mu (1 + nu) / (3 (1 - 2 nu))."""
    mu, nu = float(np.sum(constants["mu_MPa"])), constants["nu"]
    return mu, 2 * mu * (1 + nu) / (3 * (1 - 2 * nu))


def ogden(C, constants, fibre=None, tangent=True):
    """Ogden law in isochoric stretches with a volumetric barrier.

    W = sum 2 mu_i / alpha_i^2 (m1^alpha_i + m2^alpha_i + m3^alpha_i - 3) + U(J), m = J^(-1/3) l,
    U = K/4 (J^2 - 1 - 2 ln J), K from the effective Poisson's ratio ``nu`` (see
    `ogden_moduli`). Source: Ogden, Proc R Soc A 326 (1972) 565-584, in the convention whose
    initial shear modulus is sum mu_i (recalled).
    """
    bulk = ogden_moduli(constants)[1]
    terms = list(zip(constants["mu_MPa"], constants["alpha"], strict=True))

    def evaluate(c, det, tangent):
        log_m = 0.5 * np.log(c) - np.log(det) / 6.0
        W = 0.25 * bulk * (det - 1.0 - np.log(det))
        g = 0.5 * bulk * (det - 1.0)
        h = np.zeros_like(c) + g
        H = np.zeros((3, 3, c.shape[1])) + bulk * det if tangent else None
        powers = []
        for mu, alpha in terms:
            m = np.exp(alpha * log_m)
            mean = (m[0] + m[1] + m[2]) / 3.0
            k = 2 * mu / alpha
            W += (3 * k / alpha) * (mean - 1.0)
            h += k * (m - mean)
            g = g - k * mean
            if tangent:
                third = (2 * mu / 3.0) * m
                H += (2 * mu / 3.0) * mean - third[:, None] - third[None]
                for a in range(3):
                    H[a, a] += 3.0 * third[a]
                powers.append((k * np.exp((-alpha / 6.0) * np.log(det)), 0.5 * alpha - 1.0))
        return W, h, H, g, powers

    return _assemble(C, evaluate, tangent)


def foam_moduli(constants: dict) -> tuple[float, float]:
    """Return (shear, bulk): mu = sum mu_i, K = 2 mu (1/3 + beta), beta = nu / (1 - 2 nu)."""
    mu, nu = float(np.sum(constants["mu_MPa"])), constants["nu"]
    return mu, 2 * mu * (1 / 3 + nu / (1 - 2 * nu))


def foam(C, constants, fibre=None, tangent=True):
    """Ogden-Hill compressible foam.

    W = sum 2 mu_i / alpha_i^2 [l1^alpha_i + l2^alpha_i + l3^alpha_i - 3
    + (J^(-alpha_i beta) - 1) / beta], beta = nu / (1 - 2 nu); for nu = 0 the last term is
    -alpha_i ln J. Source: Hill, Adv Appl Mech 18 (1978) 1-75; Storakers, J Mech Phys Solids 34
    (1986) 125-145 (recalled).
    """
    nu = constants["nu"]
    beta = nu / (1 - 2 * nu)
    terms = list(zip(constants["mu_MPa"], constants["alpha"], strict=True))

    def evaluate(c, det, tangent):
        log_l = 0.5 * np.log(c)
        log_J = 0.5 * np.log(det)
        W, g, h = np.zeros(c.shape[1]), 0.0, np.zeros_like(c)
        H = np.zeros((3, 3, c.shape[1])) if tangent else None
        powers = []
        for mu, alpha in terms:
            m = np.exp(alpha * log_l)
            k = 2 * mu / alpha
            decay = np.expm1((-alpha * beta) * log_J)
            volume = decay / beta if beta != 0.0 else -alpha * log_J
            W += (k / alpha) * (m[0] + m[1] + m[2] - 3.0 + volume)
            h += k * (m - 1.0 - decay)
            g = g - k * (1.0 + decay)
            if tangent:
                H += (2 * mu * beta) * (1.0 + decay)
                for a in range(3):
                    H[a, a] += 2 * mu * m[a]
                powers.append((k, 0.5 * alpha - 1.0))
        return W, h, H, g, powers

    return _assemble(C, evaluate, tangent)


def _assemble(C, evaluate, tangent):
    """Turn a law in principal axes into W, S and D in the given axes."""
    C, det, bad = admissible(C)
    count = len(C)
    flat = count == 4 or not (C[4].any() or C[5].any())
    c, basis = (_flat_axes if flat else _axes)(C)
    positive = c.min(axis=0) > 0.0
    if not positive.all():
        bad = ~positive if bad is None else bad | ~positive
        c, det = np.where(positive, c, 1.0), np.where(positive, det, 1.0)
    W, h, H, g, powers = evaluate(c, det, tangent)
    if bad is not None:
        W[bad] = np.inf
    S_axes = h / c
    S = np.zeros_like(C)
    rows = range(4 if flat else 6)
    for i in rows:
        for a in range(3):
            if basis[a][i] is not None:
                S[i] += S_axes[a] * basis[a][i]
    if not tangent:
        return W, S, None
    for a in range(3):
        H[a, a] -= 2.0 * h[a]
        for b in range(3):
            H[a, b] /= c[a] * c[b]
    shear = [_quotient(c[a], c[b], g, powers) for a, b in _OFF]
    D = np.zeros((count, *C.shape))
    for a in range(3):
        mixed = [
            sum(H[a, b] * basis[b][i] for b in range(3) if basis[b][i] is not None) for i in rows
        ]
        for i in rows:
            if basis[a][i] is not None:
                for j in rows[i:]:
                    D[i, j] += basis[a][i] * mixed[j]
    for weight, tensor in zip(shear, basis[3:], strict=True):
        for i in rows:
            if tensor[i] is not None:
                scaled = weight * tensor[i]
                for j in rows[i:]:
                    if tensor[j] is not None:
                        D[i, j] += scaled * tensor[j]
    if flat and count == 6:
        _flat_shear(D, shear, basis)
    return W, S, mirror(D)


def _quotient(ca, cb, g, powers):
    """Return (S_b - S_a) / (c_b - c_a) for S(c) = sum k c^p + g / c."""
    t = (cb - ca) / ca
    log_ratio = np.log1p(t)
    log_ca = np.log(ca)
    equal = t == 0.0
    safe = np.where(equal, 1.0, t)
    out = -g / (ca * cb)
    for k, p in powers:
        slope = np.where(equal, p, np.expm1(p * log_ratio) / safe)
        out = out + k * np.exp((p - 1.0) * log_ca) * slope
    return out


def _axes(C):
    """Return eigenvalues (3, n) and the rows of N_a N_a and of N_a N_b + N_b N_a."""
    c, N = eigen(C)
    basis = [[N[a][i] * N[a][j] for i, j in PAIRS] for a in range(3)]
    basis += [[N[a][i] * N[b][j] + N[b][i] * N[a][j] for i, j in PAIRS] for a, b in _OFF]
    return c, basis


def eigen(C):
    """Return eigenvalues (3, n), in no order, and eigenvectors N[a][i] (n,) of tensors (6, n).

    Cyclic Jacobi rotations of all tensors at once (Golub & Van Loan, Matrix Computations, 4th ed.,
    sec. 8.5; recalled), four times as fast here as LAPACK called for each.
    """
    a, off = list(C[:3].copy()), dict(zip(_OFF, C[3:].copy(), strict=True))
    N = [[np.full(C.shape[1], float(i == j)) for i in range(3)] for j in range(3)]
    small = EIGEN_LIMIT * np.abs(C[:3]).max(initial=0.0)
    for _ in range(SWEEPS):
        if max(np.abs(row).max(initial=0.0) for row in off.values()) <= small:
            break
        for (p, q), r in zip(_OFF, (2, 0, 1), strict=True):
            part, gap = off[p, q], a[q] - a[p]
            width = np.abs(gap) + np.hypot(gap, 2.0 * part)
            t = np.copysign(2.0, gap) * part / np.where(width == 0.0, 1.0, width)
            cos = 1.0 / np.sqrt(1.0 + t * t)
            sin = t * cos
            a[p], a[q], off[p, q] = a[p] - t * part, a[q] + t * part, np.zeros_like(t)
            first, second = _pair(p, r), _pair(q, r)
            x, y = off[first], off[second]
            off[first], off[second] = cos * x - sin * y, sin * x + cos * y
            for i in range(3):
                x, y = N[p][i], N[q][i]
                N[p][i], N[q][i] = cos * x - sin * y, sin * x + cos * y
    return np.array(a), N


def _pair(i, j):
    return (i, j) if (i, j) in _OFF else (j, i)


def _flat_axes(C):
    """Do the same in closed form when C23 = C13 = 0; rows that vanish are ``None``."""
    half = 0.5 * (C[0] - C[1])
    radius = np.hypot(half, C[3])
    mean = 0.5 * (C[0] + C[1])
    c = np.stack([mean + radius, mean - radius, C[2]])
    equal = radius == 0.0
    safe = np.where(equal, 1.0, radius)
    cos, sin = np.where(equal, 1.0, half / safe), C[3] / safe
    plus, minus, off = 0.5 * (1.0 + cos), 0.5 * (1.0 - cos), 0.5 * sin
    basis = [
        [plus, minus, None, off, None, None],
        [minus, plus, None, -off, None, None],
        [None, None, np.ones_like(cos), None, None, None],
        [-sin, sin, None, cos, None, None],
        [None] * 6,
        [None] * 6,
    ]
    return c, basis


def _flat_shear(D, shear, basis):
    """Fill the out-of-plane shear block: sum of G_a3 N_a N_a over the two axes in the plane."""
    (plus, minus, _, off, _, _), second, first = basis[0], shear[1], shear[2]
    D[4, 4] = first * minus + second * plus
    D[5, 5] = first * plus + second * minus
    D[4, 5] = (first - second) * off

"""A fibre-reinforced law: isotropic matrix and fibres that pull but do not push."""

from __future__ import annotations

import numpy as np

from .isotropic import elastic_moduli, neo_hookean
from .tensor import PAIRS, mirror


def _matrix(constants: dict) -> dict:
    return {"E_MPa": constants["E_matrix_MPa"], "nu": constants["nu_matrix"]}


def fibre_moduli(constants: dict) -> tuple[float, float]:
    """Return (shear, bulk) modulus in MPa of the matrix alone."""
    return elastic_moduli(_matrix(constants))


def fibre_reinforced(C, constants, fibre=None, tangent=True):
    """Compressible neo-Hookean matrix with tension-only fibres along ``fibre`` (3, n).

    W = W_matrix + E_f/2 (l - 1)^2 for l > 1, l^2 = a . C a, so that the nominal fibre stress is
    E_f (l - 1): S = E_f (l - 1)/l a (x) a, D = E_f / l^3 a (x) a (x) a (x) a. At l = 1 exactly the
    tangent is that of tension. Raises ValueError without ``fibre``.
    """
    if fibre is None:
        raise ValueError("the fibre law needs a fibre direction (3, n)")
    W, S, D = neo_hookean(C, _matrix(constants), tangent=tangent)
    modulus = constants["E_fibre_MPa"]
    dyad = np.stack([fibre[i] * fibre[j] for i, j in PAIRS[:len(C)]])
    squared = (dyad[:3] * C[:3]).sum(axis=0) + 2.0 * (dyad[3:] * C[3:]).sum(axis=0)
    active = (squared >= 1.0) & np.isfinite(W)
    stretch = np.sqrt(np.where(active, squared, 1.0))
    W += 0.5 * modulus * (stretch - 1.0) ** 2
    S += (modulus * (stretch - 1.0) / stretch) * dyad
    if D is not None:
        weight = np.where(active, modulus / stretch**3, 0.0)
        for row in range(len(C)):
            scaled = weight * dyad[row]
            for column in range(row, len(C)):
                D[row, column] += scaled * dyad[column]
        mirror(D)
    return W, S, D

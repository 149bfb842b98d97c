"""The table of material laws: each law's constants, response and initial moduli."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from .fibre import fibre_moduli, fibre_reinforced
from .isotropic import (
    elastic_moduli,
    linear_elastic,
    neo_hookean,
    polynomial,
    polynomial_moduli,
)
from .principal import foam, foam_moduli, ogden, ogden_moduli


@dataclass(frozen=True)
class Constant:
    """One constant of a law: name with unit, meaning, open range, and whether it is a list."""

    name: str
    unit: str
    doc: str
    is_list: bool = False
    low: float = -math.inf
    high: float = math.inf
    low_included: bool = False
    nonzero: bool = False

    @property
    def allowed(self) -> str:
        """The accepted values, in words."""
        number = "a list of numbers" if self.is_list else "a number"
        parts = []
        if self.low > -math.inf:
            parts.append(f"{'at least' if self.low_included else 'above'} {self.low:g}")
        if self.high < math.inf:
            parts.append(f"below {self.high:g}")
        if self.nonzero:
            parts.append("not 0")
        unit = f" [{self.unit}]" if self.unit != "-" else ""
        return " ".join([number, " and ".join(parts)]).strip() + unit

    def accepts(self, value: object) -> bool:
        """Say whether one number lies in the range."""
        if isinstance(value, bool) or not isinstance(value, int | float):
            return False
        if not math.isfinite(value) or (self.nonzero and value == 0):
            return False
        above = value >= self.low if self.low_included else value > self.low
        return above and value < self.high


@dataclass(frozen=True)
class Law:
    """A material law.

    Attributes
    ----------
    name : str
    constants : tuple of Constant
    response : callable
        ``response(C, constants, fibre=None, tangent=True) -> (W, S, D)`` with C (6, n) the right
        Cauchy-Green tensor (11, 22, 33, 12, 23, 13; tensor components), W (n,), S (6, n) and D
        (6, 6, n) in MPa; D against Voigt strain (E11, E22, E33, 2E12, 2E23, 2E13), ``None`` without
        ``tangent``. Without shear out of the plane of the first two axes the last two rows may be
        left out: C and S (4, n), D (4, 4, n). W is infinite where det C <= 0. A negative det F does
        not show in C: the caller checks it.
    moduli : callable
        ``moduli(constants) -> (shear_MPa, bulk_MPa)`` at rest.
    doc : str
        The law in one line.
    """

    name: str
    constants: tuple[Constant, ...]
    response: Callable
    moduli: Callable
    doc: str


_YOUNG = Constant("E_MPa", "MPa", "Young's modulus", low=0.0)
_POISSON = Constant("nu", "-", "Poisson's ratio", low=-1.0, high=0.5)
_SHEAR = Constant("mu_MPa", "MPa", "shear moduli, one per term; their sum must be positive", True)
_POWER = Constant("alpha", "-", "exponents, one per term", True, nonzero=True)


def _coefficients() -> tuple[Constant, ...]:
    return tuple(
        Constant(f"C{ij}_MPa", "MPa", f"coefficient of (I1 - 3)^{ij[0]} (I2 - 3)^{ij[1]}")
        for ij in ("10", "01", "20", "11", "02")
    )


LAWS: dict[str, Law] = {
    law.name: law
    for law in (
        Law("linear_elastic", (_YOUNG, _POISSON), linear_elastic, elastic_moduli,
            "Saint Venant-Kirchhoff, for stiff parts"),
        Law("neo_hookean", (_YOUNG, _POISSON), neo_hookean, elastic_moduli,
            "compressible neo-Hookean"),
        Law("polynomial",
            (*_coefficients(), Constant("D1_per_MPa", "1/MPa", "2 / bulk modulus", low=0.0)),
            polynomial, polynomial_moduli,
            "second-order polynomial in the isochoric invariants"),
        Law("ogden",
            (_SHEAR, _POWER, Constant("nu", "-", "effective Poisson's ratio", low=0.0, high=0.5)),
            ogden, ogden_moduli, "isochoric principal stretches to a power"),
        Law("foam",
            (_SHEAR, _POWER,
             Constant("nu", "-", "Poisson's ratio at rest", low=0.0, high=0.5, low_included=True)),
            foam, foam_moduli, "compressible foam in principal stretches"),
        Law("fibre",
            (Constant("E_matrix_MPa", "MPa", "Young's modulus of the matrix", low=0.0),
             Constant("nu_matrix", "-", "Poisson's ratio of the matrix", low=-1.0, high=0.5),
             Constant("E_fibre_MPa", "MPa", "nominal fibre stress per unit of (stretch - 1)",
                      low=0.0, low_included=True)),
            fibre_reinforced, fibre_moduli,
            "neo-Hookean matrix with tension-only fibres"),
    )
}
"""Every law by name."""

"""The stability check against limits known in closed form."""

import math
from dataclasses import replace

import pytest
from scipy.optimize import brentq

from fefoot.errors import InputError
from fefoot.material import material, materials, stability, user_material


def test_saint_venant_kirchhoff_loses_stability_where_its_kirchhoff_stress_turns():
    """With nu = 0, tau = E l^2 (l^2 - 1)/2, whose slope in ln l vanishes at l = sqrt(1/2)."""
    constants = {"E_MPa": 1.0, "nu": 0.0}
    soft = user_material({"law": "linear_elastic", "constants": constants}, "t", "m")
    report = stability(soft, 0.4, 1.5, steps=240)
    assert not report.stable
    assert report.stable_range[0] == pytest.approx(math.sqrt(0.5), abs=0.6 / 240 + 1e-9)
    assert report.stable_range[1] == 1.5
    assert "stable only" in report.sentence()


def test_foam_and_neo_hookean_are_stable_over_a_wide_range():
    assert stability(material("eva_soft"), 0.2, 1.8).stable
    assert stability(material("soft_insole"), 0.2, 2.5).stable
    assert stability(material("plantar_tissue_middle"), 0.35, 1.6).stable


def test_foam_with_a_negative_exponent_only_is_unstable_in_tension():
    """nu = 0: H_aa = 2 mu l^alpha > 0 always; a second, negative term turns it at l^7 = 2.

    H = 2 (2 l^4 - l^11) mu for terms mu (2, -1), alpha (4, 11); zero at l = 2^(1/7).
    """
    two = user_material(
        {"law": "foam", "constants": {"mu_MPa": [2.0, -1.0], "alpha": [4.0, 11.0], "nu": 0.0}},
        "t", "m")
    report = stability(two, 0.5, 1.5, steps=300)
    assert report.stable_range[1] == pytest.approx(2 ** (1 / 7), abs=0.5 / 300 + 1e-9)
    assert report.stable_range[0] == 0.5


@pytest.mark.parametrize("name", sorted(set(materials()) - {"plantar_tissue_stiff"}))
def test_shipped_materials_are_stable_over_their_own_range(name):
    entry = material(name)
    report = stability(entry, *entry.stretch_range, steps=60)
    assert report.stable, report.sentence()


def test_stiff_tissue_set_is_unstable_past_a_stretch_of_1_29():
    """The published polynomial lets lateral stretches split in tension where W1 + l^2 W2 = 0.

    Derived for incompressible uniaxial tension: tau_2 - tau_3 = 2 (l2^2 - l3^2) (W1 + l1^2 W2).
    """
    entry = material("plantar_tissue_stiff")
    c = entry.constants

    def split(l):
        x, y = l**2 + 2 / l - 3, 2 * l + l**-2 - 3
        w1 = c["C10_MPa"] + 2 * c["C20_MPa"] * x + c["C11_MPa"] * y
        w2 = c["C01_MPa"] + c["C11_MPa"] * x + 2 * c["C02_MPa"] * y
        return w1 + l * l * w2

    limit = brentq(split, 1.05, 1.5)
    stiff = replace(entry, constants={**c, "D1_per_MPa": 1e-4})
    report = stability(stiff, 0.5, 1.5, steps=200)
    assert report.paths["uniaxial"][1] == pytest.approx(limit, abs=0.5 / 200 + 1e-4)
    assert report.paths["uniaxial"][0] == 0.5
    assert report.paths["equibiaxial"][0] == pytest.approx(limit**-0.5, abs=0.5 / 200 + 1e-4)
    shipped = stability(entry, *entry.stretch_range)
    assert not shipped.stable and shipped.paths["uniaxial"][0] == 0.5


def test_bad_interval():
    with pytest.raises(InputError, match="interval around 1"):
        stability(material("bone"), 1.1, 1.2)

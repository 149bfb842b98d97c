"""The shipped table, user materials and their errors."""

import pytest

from fefoot.errors import InputError
from fefoot.material import LAWS, material, materials, user_material

GOOD = {"law": "neo_hookean", "constants": {"E_MPa": 0.4, "nu": 0.3}}


def test_every_shipped_material_is_complete_and_stiff_at_rest():
    table = materials()
    assert len(table) >= 16
    for name, entry in table.items():
        assert entry.name == name and entry.source and entry.title
        shear, bulk = entry.moduli()
        assert shear > 0 and bulk > 0
        assert set(entry.constants) == {c.name for c in entry.law.constants}


def test_published_moduli():
    """Computed from the fitted constants: Lemmon set mu0 0.0543, K0 0.548 MPa."""
    shear, bulk = material("plantar_tissue_stiff").moduli()
    assert shear == pytest.approx(0.0543, abs=5e-5) and bulk == pytest.approx(0.548, abs=5e-4)


FOAMS = [("eva_soft", 25), ("eva_medium", 35), ("eva_firm", 55)]


@pytest.mark.parametrize(("name", "shore"), FOAMS)
def test_foam_modulus_is_that_of_gent(name, shore):
    """Gent (1958): E = 0.0981 (56 + 7.62336 S) / (0.137505 (254 - 2.54 S)) (formula recalled)."""
    expected = 0.0981 * (56 + 7.62336 * shore) / (0.137505 * (254 - 2.54 * shore))
    shear, bulk = material(name).moduli()
    assert 9 * bulk * shear / (3 * bulk + shear) == pytest.approx(expected, rel=5e-4)


def test_fascia_modulus_follows_from_its_sources():
    """203.7 N/mm (Kitaoka 1994, read) x 145 mm (assumed) / 290.7 mm2 (Cheung 2004, recalled)."""
    expected = 203.7 * 145 / 290.7
    assert material("fascia").constants["E_fibre_MPa"] == pytest.approx(expected, rel=1e-3)


def test_unknown_material_suggests_the_nearest():
    with pytest.raises(InputError) as error:
        material("eva_sof", file="case.toml", key="device.material")
    assert "eva_soft" in str(error.value) and "case.toml: device.material" in str(error.value)


def test_user_material():
    made = user_material(GOOD, "case.toml", "materials.my_foam")
    assert made.name == "my_foam" and made.law is LAWS["neo_hookean"]
    assert made.moduli()[0] == pytest.approx(0.4 / 2.6)
    foam = user_material({"law": "foam", "constants": {"mu_MPa": [1], "alpha": [4], "nu": 0}},
                         "case.toml", "materials.f")
    assert foam.constants == {"mu_MPa": (1.0,), "alpha": (4.0,), "nu": 0.0}


FOAM = {"mu_MPa": [0.4], "alpha": [6.0], "nu": 0.1}


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({"law": "neo_hokean"}, "write 'neo_hookean'"),
        ({"law": 3}, "unknown law"),
        ({"constants": {"E_MPa": 0.4}}, "needs nu"),
        ({"constants": {"E_MPa": 0.4, "nu": 0.3, "mu": 1}}, "unknown constant"),
        ({"constants": {"E_MPa": 0.4, "nu": 0.5}}, "below 0.5"),
        ({"constants": {"E_MPa": -1, "nu": 0.3}}, "above 0"),
        ({"constants": {"E_MPa": float("nan"), "nu": 0.3}}, "materials.m.constants.E_MPa"),
        ({"constants": {"E_MPa": True, "nu": 0.3}}, "a number"),
        ({"constants": {"E_MPa": [0.4], "nu": 0.3}}, "a number"),
        ({"constants": 3}, "constants is a table"),
        ({"law": "foam", "constants": {**FOAM, "alpha": [6.0, 2.0]}}, "differ in length"),
        ({"law": "foam", "constants": {**FOAM, "alpha": [0.0]}}, "not 0"),
        ({"law": "foam", "constants": {**FOAM, "alpha": 6.0}}, "a list of numbers"),
        ({"law": "foam", "constants": {**FOAM, "alpha": []}}, "a list of numbers"),
        ({"law": "foam", "constants": {**FOAM, "mu_MPa": [-0.1]}}, "shear modulus"),
        ({"stretch_range": [1.1, 1.2]}, "first < 1 < second"),
        ({"density_kg_per_m3": 0}, "density"),
        ({"kind": "tisue"}, "'tissue'"),
        ({"title": 3}, "text in quotes"),
        ({"lawn": "x"}, "unknown material key"),
    ],
)
def test_mistakes_get_one_clear_error(change, expected):
    with pytest.raises(InputError) as error:
        user_material({**GOOD, **change}, "case.toml", "materials.m")
    assert expected in str(error.value) and "case.toml" in str(error.value)


def test_a_material_that_is_not_a_table():
    with pytest.raises(InputError, match="a material is a table"):
        user_material("eva", "case.toml", "materials.m")
    with pytest.raises(InputError, match="law is missing"):
        user_material({"constants": {}}, "case.toml", "materials.m")

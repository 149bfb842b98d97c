"""Changes, ranking, what got worse, and what a failed condition leaves behind."""

import math

import numpy as np
import pytest

from fefoot.outcome.comparison import NOTHING, SMALL, change_percent, compare_outcomes
from fefoot.outcome.forces import moment_Nm
from fefoot.outcome.quantities import QUANTITIES
from fefoot.outcome.values import Measure, Outcome


def outcome(name, failure=None, **values):
    strengths = {"plantar_fascia": 1000.0, "achilles": 4000.0}
    rows = tuple(
        Measure(tissue, quantity, value, strengths.get(tissue) if quantity == "tension_N" else None)
        for (tissue, quantity), value in (
            (key.split("__"), value) for key, value in values.items()))
    return Outcome(name, name, 77.0, failure, rows)


BARE = outcome("barefoot", heel_pad__peak_pressure_kPa=200.0, achilles__tension_N=2000.0,
               plantar_fascia__tension_N=800.0, ankle_joint__moment_Nm=-50.0,
               whole_foot__navicular_drop_mm=6.0)


def test_change_is_of_size():
    assert change_percent(75.0, 100.0) == -25.0
    assert change_percent(-60.0, -50.0) == pytest.approx(20.0)
    assert change_percent(60.0, -50.0) == pytest.approx(20.0)
    assert change_percent(None, 50.0) is None and change_percent(50.0, None) is None
    assert change_percent(50.0, 0.0) is None and change_percent(50.0, -0.99 * NOTHING) is None
    assert change_percent(2.02 * NOTHING, 1.01 * NOTHING) == pytest.approx(100.0)


def test_the_target_comes_first_and_the_rank_follows_strength():
    found = compare_outcomes((BARE,), "plantar_fascia")
    assert found.rows[0].tissue == "plantar_fascia"
    # 800 of 1000 N before 2000 of 4000 N; what has no published strength is not ranked
    assert found.ranking == ("plantar_fascia", "achilles")
    assert found.best is None and found.worse == ()


def test_the_measures_of_a_tissue_stand_together():
    mixed = outcome("barefoot", heel_pad__peak_pressure_kPa=200.0, achilles__tension_N=2000.0,
                    heel_pad__compression_percent=40.0, achilles__stretch_percent=2.0)
    found = compare_outcomes((mixed,), "achilles").rows
    assert [(row.tissue, row.quantity) for row in found] == [
        ("achilles", "tension_N"), ("achilles", "stretch_percent"),
        ("heel_pad", "peak_pressure_kPa"), ("heel_pad", "compression_percent")]


def test_the_best_lowers_the_target_most():
    half = outcome("half", plantar_fascia__tension_N=700.0)
    full = outcome("full", plantar_fascia__tension_N=600.0)
    same = outcome("same", plantar_fascia__tension_N=795.0)
    more = outcome("more", plantar_fascia__tension_N=900.0)
    assert compare_outcomes((BARE, half, full), "plantar_fascia").best == "full"
    # less than a percent is no benefit
    assert compare_outcomes((BARE, same, more), "plantar_fascia").best is None
    changes = compare_outcomes((BARE, half, more), "plantar_fascia").rows[0].changes_percent
    assert changes == pytest.approx((0.0, -12.5, 12.5))


def test_worse_lists_what_rose_largest_first_per_device():
    one = outcome("one", heel_pad__peak_pressure_kPa=230.0, achilles__tension_N=2500.0,
                  plantar_fascia__tension_N=700.0, ankle_joint__moment_Nm=-51.0,
                  whole_foot__navicular_drop_mm=9.0)
    two = outcome("two", heel_pad__peak_pressure_kPa=203.0, ankle_joint__moment_Nm=-60.0)
    worse = compare_outcomes((BARE, one, two), "plantar_fascia").worse
    # the moment of "one" rose by 2 %, the pressure of "two" by 1.5 %: neither is listed; the
    # navicular drop is neither better nor worse by itself
    assert [entry[:3] for entry in worse] == [
        ("one", "achilles", "tension_N"), ("one", "heel_pad", "peak_pressure_kPa"),
        ("two", "ankle_joint", "moment_Nm")]
    assert [entry[3] for entry in worse] == pytest.approx([25.0, 15.0, 20.0])


def test_a_small_rise_of_a_small_value_is_not_worse():
    bare = outcome("barefoot", heel_pad__peak_pressure_kPa=2.0)
    more = outcome("more", heel_pad__peak_pressure_kPa=2.0 + 0.9 * SMALL["peak_pressure_kPa"])
    much = outcome("much", heel_pad__peak_pressure_kPa=2.0 + 1.1 * SMALL["peak_pressure_kPa"])
    worse = compare_outcomes((bare, more, much), "heel_pad").worse
    assert [entry[0] for entry in worse] == ["much"]


def test_a_rise_from_nothing_is_worse_and_comes_first():
    bare = outcome("barefoot", tibialis_anterior__tension_N=0.0, achilles__tension_N=100.0,
                   toe_flexors__tension_N=0.0)
    pulls = outcome("pulls", tibialis_anterior__tension_N=40.0, achilles__tension_N=150.0,
                    toe_flexors__tension_N=0.9 * SMALL["tension_N"])
    found = compare_outcomes((bare, pulls), "achilles")
    assert found.worse == (("pulls", "tibialis_anterior", "tension_N", math.inf),
                           ("pulls", "achilles", "tension_N", 50.0))
    row = next(r for r in found.rows if r.tissue == "tibialis_anterior")
    assert row.changes_percent == (None, None)


def test_a_stretch_that_falls_is_never_worse():
    bare = outcome("barefoot", plantar_fascia__stretch_percent=0.5)
    # slack by 2 percent is a larger size, and less of a burden
    slack = outcome("slack", plantar_fascia__stretch_percent=-2.0)
    taut = outcome("taut", plantar_fascia__stretch_percent=1.0)
    worse = compare_outcomes((bare, slack, taut), "plantar_fascia").worse
    assert worse == (("taut", "plantar_fascia", "stretch_percent", 100.0),)


def test_a_failed_device_has_no_number_anywhere():
    broken = outcome("broken", "no equilibrium")
    found = compare_outcomes((BARE, broken), "plantar_fascia")
    assert len(found.rows) == 5
    for row in found.rows:
        assert row.values[1] is None and row.changes_percent[1] is None
    assert found.best is None and found.worse == ()


def test_without_the_reference_there_are_values_but_no_changes():
    broken = outcome("barefoot", "no equilibrium")
    fine = outcome("fine", plantar_fascia__tension_N=700.0)
    found = compare_outcomes((broken, fine), "plantar_fascia")
    assert found.rows[0].values == (None, 700.0)
    assert found.rows[0].changes_percent == (None, None)
    assert found.ranking == () and found.best is None and found.worse == ()


def test_a_share_is_of_the_published_strength():
    assert Measure("plantar_fascia", "tension_N", -300.0, 1200.0).share_percent == 25.0
    assert Measure("plantar_fascia", "tension_N", 300.0).share_percent is None


def test_moments_are_anticlockwise_and_in_N_m():
    at = np.array([[30.0, 10.0], [10.0, 50.0]])
    forces = np.array([[0.0, 400.0], [100.0, 0.0]])
    # computed: 20 mm x 400 N, less 40 mm x 100 N
    assert moment_Nm(at, forces, (10.0, 10.0)) == pytest.approx(8.0 - 4.0)
    assert moment_Nm(at, np.zeros((2, 2)), (0.0, 0.0)) == 0.0


def test_moments_shift_with_the_resultant(rng):
    at, forces = rng.normal(size=(2, 12, 2)) * 50
    shift = np.array([7.0, -3.0])
    resultant = forces.sum(0)
    expected = 1e-3 * (shift[0] * resultant[1] - shift[1] * resultant[0])
    change = moment_Nm(at, forces, (0.0, 0.0)) - moment_Nm(at, forces, shift)
    assert math.isclose(change, expected, rel_tol=1e-10)


def test_every_quantity_names_its_unit():
    ends = {"N": "N", "%": "percent", "kPa": "kPa", "N m": "Nm", "degrees": "degrees",
            "MPa": "MPa", "mm": "mm", "% of length": "percent"}
    for name, quantity in QUANTITIES.items():
        assert name.endswith("_" + ends[quantity.unit]), name
        assert quantity.definition

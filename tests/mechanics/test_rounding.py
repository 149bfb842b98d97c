"""The rounded positive part: slope, integral, limits."""

import numpy as np
import pytest

from fefoot.mechanics.rounding import CUT, positive_part

TRIAL = np.linspace(-3.0, 4.0, 57)


@pytest.mark.parametrize("rounding", [0.05, 0.7])
def test_slope_and_integral_are_derivatives_of_one_another(rounding):
    inside = TRIAL[np.abs(TRIAL + CUT * rounding) > 1e-3]
    h = 1e-5 * rounding
    value, slope, _ = positive_part(inside, rounding)
    up, down = positive_part(inside + h, rounding), positive_part(inside - h, rounding)
    assert np.allclose((up[0] - down[0]) / (2 * h), slope, atol=1e-7)
    assert np.allclose((up[2] - down[2]) / (2 * h), value, atol=1e-7)


def test_without_rounding_it_is_the_positive_part():
    value, slope, stored = positive_part(TRIAL, 0.0)
    assert np.array_equal(value, np.maximum(TRIAL, 0.0))
    assert np.array_equal(slope, (TRIAL > 0).astype(float))
    assert np.array_equal(stored, 0.5 * value**2)


def test_it_vanishes_below_the_cut_and_stays_close_above():
    rounding = 0.1
    value, slope, stored = positive_part(TRIAL, rounding)
    below = TRIAL < -CUT * rounding
    assert below.any() and not value[below].any() and not slope[below].any()
    assert not stored[below].any()
    assert (value[~below] >= 0.0).all()
    assert np.abs(value - np.maximum(TRIAL, 0.0)).max() <= 0.5 * rounding


@pytest.mark.parametrize("penalty", [0.1, 1.0])
def test_pressure_times_gap_tends_to_the_barrier(penalty):
    """Augmentation settles where p = positive_part(p - penalty g): p g = r^2 / 4 / penalty but for
    the lowering by the cut, which the pressure only ever falls short by."""
    barrier, gap = 1e-5, 1e-3
    rounding = 2.0 * np.sqrt(barrier * penalty)
    pressure = 0.0
    for _ in range(20000):
        pressure = float(positive_part(np.array(pressure - penalty * gap), rounding)[0])
    assert 0.5 * barrier / gap < pressure <= barrier / gap

"""The power by which time grows, and what the cheapest solve of the scaling table reports."""

import numpy as np
import pytest

from benchmarks.scaling import alone, growth


def test_growth_of_a_power_law():
    n = np.array([1e3, 3e3, 1e4])
    assert growth(n, 2e-5 * n**1.4) == pytest.approx(1.4)


def test_a_solve_in_its_own_process():
    found = alone("rearfoot", 8.0)
    assert found["failure"] is None
    assert found["unknowns"] > 1000 and found["factorisations"] > 3 and found["MB"] > 50
    assert 0 < found["factor_seconds"] < found["seconds"]


def test_a_failed_process_reports_nothing():
    assert alone("no_such_section", 8.0) == {}

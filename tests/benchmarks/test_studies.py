"""Richardson's estimate on series with a known order, and the committed studies."""

import math
from pathlib import Path

import pytest

from benchmarks.studies import MISSING, RATIO, SHIPPED, SIZES_MM, CaseStudy, Series, files, study_line

RESULTS = Path(__file__).parents[2] / "benchmarks" / "RESULTS.md"


@pytest.mark.parametrize("order", [1.0, 2.0, 3.5])
def test_order_and_limit_of_a_power_law(order):
    series = Series(tuple(7.0 + 0.3 * h**order for h in SIZES_MM))
    assert series.order == pytest.approx(order, rel=1e-9)
    assert series.limit == pytest.approx(7.0, rel=1e-9)
    assert series.band == pytest.approx(0.3 * SIZES_MM[SHIPPED] ** order, rel=1e-9)


def test_sizes_have_the_ratio():
    assert SIZES_MM[0] / SIZES_MM[1] == pytest.approx(RATIO)
    assert SIZES_MM[1] / SIZES_MM[2] == pytest.approx(RATIO)


@pytest.mark.parametrize("values", [(1.0, 1.2, 1.1), (1.0, 1.1, 1.3), (1.0, 1.0, 1.0)])
def test_a_series_that_does_not_settle_has_a_spread(values):
    series = Series(values)
    assert series.order is None and series.limit is None
    assert series.band == pytest.approx(max(values) - min(values))


@pytest.mark.parametrize("place", [0, 1, 2])
def test_a_failed_solve_is_a_miss(place):
    values = [1.0, 1.0, 1.0]
    values[place] = math.nan
    failed = Series(tuple(values))
    assert failed.order is None and math.isnan(failed.band)
    assert CaseStudy("case", "flat", "q", failed, None, 0.0).misses == (MISSING,)
    whole = Series((1.0, 1.0, 1.0))
    once = CaseStudy("case", "flat", "q", whole, None, math.nan)
    assert once.misses == (f"twice the penalty: {MISSING}",) and "**missed**" not in study_line(once)
    assert "**missed**" in study_line(CaseStudy("case", "flat", "q", whole, None, 2.0))


def test_misses():
    fine = Series((100.0, 100.0, 100.0))
    assert CaseStudy("c", "barefoot", "q", fine, None, 0.5).misses == ()
    assert len(CaseStudy("c", "flat", "q", fine, Series((0.0, 6.0, 0.0)), 2.0).misses) == 2


def test_every_shipped_case_is_in_the_committed_table():
    text = RESULTS.read_text(encoding="utf-8")
    for file in files():
        assert f"| {file.removesuffix('.toml')} | barefoot |" in text, file

"""Sensitivity indices against functions whose indices are known in closed form."""

import math

import numpy as np
import pytest

from fefoot.study.indices import design, indices

NAMES = ("x1", "x2", "x3")
A, B = 7.0, 0.1


def ishigami(points):
    """Ishigami T, Homma T (1990) Proc. ISUMA, 398-403: sin x1 + a sin2 x2 + b x3^4 sin x1."""
    x = (2.0 * points - 1.0) * math.pi
    return np.sin(x[:, 0]) + A * np.sin(x[:, 1]) ** 2 + B * x[:, 2] ** 4 * np.sin(x[:, 0])


def known():
    """Closed form, e.g. Saltelli et al. (2008), Global Sensitivity Analysis: The Primer (recalled)."""
    alone = 0.5 * (1.0 + B * math.pi**4 / 5.0) ** 2, A**2 / 8.0, 0.0
    both = B**2 * math.pi**8 * (1.0 / 18.0 - 1.0 / 50.0)
    total = sum(alone) + both
    first = {name: v / total for name, v in zip(NAMES, alone, strict=True)}
    return first, {"x1": first["x1"] + both / total, "x2": first["x2"], "x3": both / total}


def test_the_closed_form_is_the_published_one():
    # published for a = 7, b = 0.1: 0.3139, 0.4424, 0 and 0.5576, 0.4424, 0.2437 (recalled)
    first, total = known()
    assert [round(v, 4) for v in first.values()] == [0.3139, 0.4424, 0.0]
    assert [round(v, 4) for v in total.values()] == [0.5576, 0.4424, 0.2437]


def test_ishigami():
    points = design(NAMES, 2048, 1)
    assert points.shape == (2048 * 5, 3) and (points >= 0).all() and (points <= 1).all()
    found = indices(NAMES, ishigami(points), 1)
    first, total = known()
    assert [i.unknown for i in found] == ["x1", "x2", "x3"]
    for index in found:
        # half the 95 % intervals at this size are 0.01 to 0.07 wide
        assert index.first == pytest.approx(first[index.unknown], abs=0.03)
        assert index.total == pytest.approx(total[index.unknown], abs=0.03)
        assert index.total_half_width < 0.08 and index.first_half_width < 0.08


def test_a_sum_has_no_interactions():
    """The indices of c1 x1 + c2 x2 are c_i^2 / (c1^2 + c2^2): 0.2 and 0.8."""
    points = design(("a", "b"), 1024, 3)
    found = indices(("a", "b"), points[:, 0] + 2.0 * points[:, 1], 3)
    assert [(i.unknown, round(i.first, 2), round(i.total, 2)) for i in found] == [
        ("b", 0.8, 0.8), ("a", 0.2, 0.2)]


def test_the_same_seed_gives_the_same_numbers_and_another_others():
    assert (design(NAMES, 16, 5) == design(NAMES, 16, 5)).all()
    assert (design(NAMES, 16, 5) != design(NAMES, 16, 6)).any()
    values = ishigami(design(NAMES, 16, 5))
    assert indices(NAMES, values, 5) == indices(NAMES, values, 5)


def test_what_does_not_vary_has_no_indices():
    assert indices(NAMES, np.full(5 * 16, 3.0), 1) is None

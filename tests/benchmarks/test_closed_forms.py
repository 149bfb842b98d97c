"""Every benchmark row is a test."""

import math

import pytest

from benchmarks.table import TABLE


@pytest.mark.parametrize("name", [
    pytest.param(n, marks=[pytest.mark.slow] if b.slow else []) for n, b in TABLE.items()])
def test_within_tolerance(name):
    rows = TABLE[name].run()
    assert rows
    for row in rows:
        assert math.isfinite(row.ours)
        assert row.known in ("read", "recalled", "computed")
        assert row.source and row.why and row.mesh
    out = [f"{r.quantity}: {r.ours:.6g}, not {r.target:.6g} ({r.error:.1e} > {r.tolerance:g}, "
           f"{r.source})" for r in rows if not r.passed]
    assert not out, "\n".join(out)


def test_a_row_out_of_tolerance_does_not_pass():
    from benchmarks.record import Row

    row = Row("x", 2.0, 2.03, "", "computed", 0.01, "", "")
    assert row.error == pytest.approx(0.015) and not row.passed
    assert Row("x", 0.0, 0.02, "", "computed", 0.03, "", "", scale=1.0).passed


def test_cantilever_converges_at_the_rate_of_quadratic_elements():
    """The exact field is cubic: halving the mesh divides the L2 error by eight."""
    import numpy as np

    from benchmarks.elastic import timoshenko

    errors = []
    for n in (1, 2, 4):
        _mesh, u, exact = timoshenko(8 * n, 2 * n, small=1e-3)
        errors.append(np.linalg.norm(u - exact) / np.linalg.norm(exact))
    rates = np.log2(np.array(errors[:-1]) / errors[1:])
    assert (rates > 2.7).all(), rates

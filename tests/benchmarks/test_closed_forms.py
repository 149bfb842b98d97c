"""Every benchmark row is a test."""

import math

import pytest

from benchmarks.table import TABLE

# Rows outside their tolerance since contact pressure lives on all surface nodes; the table prints them
# as misses. Strict: a row that comes back inside fails here until it is taken off the list.
MISSES = {
    "hertz_light": "profile 4.2 % of p0 off the half circle at the edge of contact, bar 3 %",
    "flat_punch": "force 3.7 % high, bar 3 %: coarse mesh at the singular edge",
}


def _marks(name, benchmark):
    marks = [pytest.mark.slow] if benchmark.slow else []
    if name in MISSES:
        marks.append(pytest.mark.xfail(reason=MISSES[name], strict=True))
    return marks


@pytest.mark.parametrize(
    "name", [pytest.param(n, marks=_marks(n, b)) for n, b in TABLE.items()])
def test_within_tolerance(name):
    rows = TABLE[name].run()
    assert rows
    for row in rows:
        assert math.isfinite(row.ours)
        assert row.known in ("read", "recalled", "computed")
    out = [f"{r.quantity}: {r.ours:.6g}, not {r.target:.6g} ({r.error:.1e} > {r.tolerance:g}, "
           f"{r.source})" for r in rows if not r.passed]
    assert not out, "\n".join(out)


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

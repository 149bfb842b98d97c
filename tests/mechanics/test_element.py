"""Reference elements: shape functions and quadrature against scikit-fem and exact integrals."""

import itertools
import math

import numpy as np
import pytest

from fefoot.mechanics.element import (
    facet_monomials,
    facet_place,
    facet_shape,
    hat_shape,
    quadrature,
    shape,
)


@pytest.mark.parametrize(("corners", "degree"), [(2, 5), (3, 2), (3, 4), (4, 2), (4, 4)])
def test_rules_are_exact_to_their_degree(corners, degree):
    """Integrals of monomials over the unit simplex: a! b! c! / (a + b + c + d)!."""
    points, weights = quadrature(corners, degree)
    d = corners - 1
    for powers in itertools.product(range(degree + 1), repeat=d):
        if sum(powers) <= degree:
            exact = math.prod(map(math.factorial, powers)) / math.factorial(sum(powers) + d)
            found = weights @ np.prod(points ** np.array(powers), axis=1)
            assert found == pytest.approx(exact, rel=1e-12)


@pytest.mark.parametrize("corners", [2, 3, 4])
def test_shape_functions_are_those_of_scikit_fem(corners, rng):
    import skfem

    element = {2: skfem.ElementLineP2, 3: skfem.ElementTriP2, 4: skfem.ElementTetP2}[corners]()
    points = rng.dirichlet(np.ones(corners), 7)[:, 1:]
    values, slopes = shape(corners, points)
    for node in range(values.shape[1]):
        value, slope = element.lbasis(np.ascontiguousarray(points.T), node)
        np.testing.assert_allclose(values[:, node], value, atol=1e-14)
        np.testing.assert_allclose(slopes[:, node], np.reshape(slope, (corners - 1, -1)).T, atol=1e-14)


@pytest.mark.parametrize("dim", [2, 3])
def test_facets(dim, rng):
    """Shape functions of facets, hats and monomials agree with each other."""
    s = rng.dirichlet(np.ones(dim), 9)[:, 1:]
    values, slopes, _ = facet_shape(s)
    np.testing.assert_allclose(values, shape(dim, s)[0], atol=1e-14)
    np.testing.assert_allclose(slopes, shape(dim, s)[1], atol=1e-14)
    hats = hat_shape(s)
    assert (hats >= 0).all()
    np.testing.assert_allclose(hats.sum(1), 1.0)
    corner = rng.normal(size=(9, values.shape[1], dim))
    place, tangents = facet_place(facet_monomials(corner), s.T)
    np.testing.assert_allclose(place.T, np.einsum("na,nai->ni", values, corner), atol=1e-13)
    np.testing.assert_allclose(np.stack(tangents).transpose(2, 1, 0),
                               np.einsum("nai,naj->nij", corner, slopes), atol=1e-13)

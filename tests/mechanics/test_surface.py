"""Rays and flat or quadratic surfaces."""

import numpy as np
import pytest

from fefoot.mechanics.surface import cast, meets, neighbours, search


def surface(dim, rng):
    """Return points and quadratic facets of a bumpy surface below the rays, over [0, 4]^(d - 1)."""
    count = 9
    line = np.arange(count) / 2.0
    if dim == 2:
        x = np.stack([line, rng.uniform(-0.05, 0.05, count)], 1)
        first = np.arange(0, count - 1, 2)
        return x, np.stack([first + 2, first, first + 1], 1)
    a, b = np.meshgrid(line, line, indexing="ij")
    x = np.stack([a.ravel(), rng.uniform(-0.05, 0.05, a.size), b.ravel()], 1)
    number = np.arange(count**2).reshape(count, count)
    facets = []
    for i in range(0, count - 1, 2):
        for k in range(0, count - 1, 2):
            for p in (((0, 0), (0, 2), (2, 0)), ((2, 2), (2, 0), (0, 2))):
                corners = np.array(p)
                middle = (corners + np.roll(corners, -1, 0)) // 2
                facets.append(number[tuple((np.concatenate([corners, middle]) + np.array([i, k])).T)])
    return x, np.array(facets)


def rays(dim, rng, count=60):
    start = rng.uniform(0.3, 3.7, (count, dim))
    start[:, 1] = rng.uniform(0.5, 1.5, count)
    direction = rng.uniform(-0.1, 0.1, (count, dim))
    direction[:, 1] = -1.0
    return start, direction / np.linalg.norm(direction, axis=1)[:, None]


@pytest.mark.parametrize("dim", [2, 3])
def test_rays_meet_the_surface(dim, rng):
    """Search and cast find a point on ray and facet, from any guess of it."""
    x, facets = surface(dim, rng)
    start, direction = rays(dim, rng)
    guess = search(x, facets, start, direction, 3.0, 3.0)
    assert (guess >= 0).all()
    hit = cast(x, facets, neighbours(facets, dim), start, direction, guess)
    assert (hit.facet >= 0).all() and (hit.gap_mm > 0.3).all()
    end = start + hit.gap_mm[:, None] * direction
    from fefoot.mechanics.element import facet_shape

    on = np.einsum("na,nai->ni", facet_shape(hit.where)[0], x[facets[hit.facet]])
    np.testing.assert_allclose(on, end, atol=1e-11)
    again = cast(x, facets, neighbours(facets, dim), start, direction, hit.facet,
                 where=hit.where + 0.01, gap=hit.gap_mm - 0.02)
    np.testing.assert_allclose(again.gap_mm, hit.gap_mm, atol=1e-11)
    np.testing.assert_array_equal(again.facet, hit.facet)


@pytest.mark.parametrize("dim", [2, 3])
def test_a_guess_is_judged_as_the_search_would(dim, rng):
    """The facet that was found meets its ray; another, or none, or one out of reach does not."""
    x, facets = surface(dim, rng)
    start, direction = rays(dim, rng)
    found = search(x, facets, start, direction, 3.0, 3.0)
    assert meets(x, facets, start, direction, found, 3.0, 3.0).all()
    other = (found + len(facets) // 2) % len(facets)
    assert not meets(x, facets, start, direction, other, 3.0, 3.0).any()
    assert not meets(x, facets, start, direction, np.full_like(found, -1), 3.0, 3.0).any()
    assert not meets(x, facets, start, -direction, found, 3.0, 3.0).any()
    assert not meets(x, facets, start, direction, found, 3.0, 0.2).any()


@pytest.mark.parametrize("dim", [2, 3])
def test_facets_behind_a_ray_and_out_of_reach_are_not_met(dim, rng):
    x, facets = surface(dim, rng)
    start, direction = rays(dim, rng)
    assert (search(x, facets, start, -direction, 3.0, 3.0) < 0).all()
    assert (search(x, facets, start, direction, 3.0, 0.2) < 0).all()


@pytest.mark.parametrize("dim", [2, 3])
def test_near_facets_suffice(dim, rng, monkeypatch):
    """Trying all facets and trying only the nearest ones find the same facet."""
    from fefoot.mechanics import surface as module

    x, facets = surface(dim, rng)
    start, direction = rays(dim, rng)
    every = search(x, facets, start, direction, 3.0, 3.0)
    everyone = np.broadcast_to(np.arange(len(facets)), (len(start), len(facets)))
    monkeypatch.setattr(module, "_candidates", lambda *a: everyone)
    np.testing.assert_array_equal(search(x, facets, start, direction, 3.0, 3.0), every)

"""Sparsity patterns: where entries are, and where they go when the pattern grows."""

import numpy as np
import scipy.sparse as sp

from fefoot.mechanics.pattern import Pattern


def test_entries_of_a_matrix_in_any_order(rng):
    matrix = sp.random(40, 40, 0.1, random_state=5, format="csr")
    pattern = Pattern(40)
    pattern.add(*matrix.nonzero())
    product = matrix.T @ matrix
    assert pattern.entries(product)[0] is None
    old, keys = np.arange(len(pattern.keys)), pattern.keys
    moved = pattern.add(*product.nonzero())
    np.testing.assert_array_equal(pattern.keys[moved], keys[old])
    slots, values = pattern.entries(product)
    data = np.zeros(len(pattern.keys))
    data[slots] = values
    np.testing.assert_array_equal(pattern.matrix(data).toarray(), product.toarray())
    turned = pattern.matrix(data[pattern.mirror]).toarray()
    np.testing.assert_array_equal(turned, product.toarray().T)
    assert pattern.add(*product.nonzero()) is None


def test_crossing_slots(rng):
    """The slots of some unknowns are those of their rows and columns, and no others."""
    matrix = sp.random(30, 30, 0.2, random_state=3).tocoo()
    pattern = Pattern(30)
    pattern.add(matrix.row, matrix.col)
    data = rng.uniform(1.0, 2.0, len(pattern.keys))
    wanted = pattern.matrix(data).toarray()
    wanted[[4, 17]] = wanted[:, [4, 17]] = 0.0
    data[pattern.crossing(np.array([4, 17]))] = 0.0
    np.testing.assert_array_equal(pattern.matrix(data).toarray(), wanted)


def test_pattern_grows_and_keeps_its_numbers():
    pattern = Pattern(4)
    pattern.add(np.array([0, 1]), np.array([1, 1]))
    assert pattern.version == 1 and len(pattern.keys) == 3
    pattern.add(np.array([1]), np.array([0]))
    assert pattern.version == 1
    pattern.add(np.array([3]), np.array([2]))
    assert pattern.version == 2 and len(pattern.keys) == 5
    assert pattern.positions(np.array([2]), np.array([2])) is None

"""Sparsity patterns: where entries are, and where they go when the pattern grows."""

import numpy as np
import pytest
import scipy.sparse as sp

from fefoot.mechanics.pattern import Pattern


def in_blocks(rng, blocks, block, density):
    """Return a random matrix whose entries come in blocks."""
    rough = sp.random(blocks, blocks, density, random_state=5, format="coo")
    matrix = sp.bsr_matrix(
        (rng.uniform(1.0, 2.0, (rough.nnz, block, block)), rough.tocsr().indices,
         rough.tocsr().indptr), shape=(blocks * block,) * 2)
    return matrix


@pytest.mark.parametrize("block", [1, 3])
def test_entries_of_a_matrix_in_any_order(rng, block):
    matrix = in_blocks(rng, 40, block, 0.1)
    pattern = Pattern(40 * block, block)
    pattern.add(*matrix.nonzero())
    product = (matrix.T @ matrix).tobsr((block, block))
    assert pattern.entries(product) is None
    values = rng.uniform(size=pattern.nnz)
    before = pattern.matrix(values).toarray()
    moved = pattern.add(*product.nonzero())
    grown = np.zeros(pattern.nnz)
    grown[moved] = values
    np.testing.assert_array_equal(pattern.matrix(grown).toarray(), before)
    data = np.zeros(pattern.nnz)
    data[pattern.entries(product)] = product.data
    np.testing.assert_array_equal(pattern.matrix(data).toarray(), product.toarray())
    turned = pattern.matrix(data[pattern.mirror]).toarray()
    np.testing.assert_array_equal(turned, product.toarray().T)
    assert pattern.add(*product.nonzero()) is None


@pytest.mark.parametrize("block", [1, 3])
def test_positions_and_triangle(rng, block):
    """Data put at the places of a matrix's entries is that matrix, whole and as upper triangle."""
    matrix = in_blocks(rng, 12, block, 0.2)
    symmetric = (matrix + matrix.T).tocoo()
    pattern = Pattern(12 * block, block)
    pattern.add(symmetric.row, symmetric.col)
    data = np.zeros(pattern.nnz)
    data[pattern.positions(symmetric.row, symmetric.col)] = symmetric.data
    np.testing.assert_array_equal(pattern.matrix(data).toarray(), symmetric.toarray())
    np.testing.assert_array_equal(
        pattern.upper_matrix(data).toarray(), np.triu(symmetric.toarray()))
    whole = pattern.matrix(data).toarray()
    np.testing.assert_array_equal(data[pattern.diagonal], np.diag(whole)[np.diag(whole) != 0])


@pytest.mark.parametrize("block", [1, 3])
def test_crossing_slots(rng, block):
    """The slots of some unknowns are those of their rows and columns, and no others."""
    matrix = in_blocks(rng, 30 // block, block, 0.2).tocoo()
    pattern = Pattern(30, block)
    pattern.add(matrix.row, matrix.col)
    data = rng.uniform(1.0, 2.0, pattern.nnz)
    wanted = pattern.matrix(data).toarray()
    wanted[[4, 17]] = wanted[:, [4, 17]] = 0.0
    data[pattern.crossing(np.array([4, 17]))] = 0.0
    np.testing.assert_array_equal(pattern.matrix(data).toarray(), wanted)


def test_pattern_grows_and_keeps_its_numbers():
    pattern = Pattern(4)
    pattern.add(np.array([0, 1]), np.array([1, 1]))
    assert pattern.version == 1 and pattern.nnz == 3
    pattern.add(np.array([1]), np.array([0]))
    assert pattern.version == 1
    pattern.add(np.array([3]), np.array([2]))
    assert pattern.version == 2 and pattern.nnz == 5
    assert pattern.positions(np.array([2]), np.array([2])) is None

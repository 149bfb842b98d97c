"""Symmetric sparsity patterns that grow, and the places of entries in their data."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
import scipy.sparse as sp


def distinct(keys: np.ndarray) -> np.ndarray:
    """Return the distinct keys (n,) in rising order; much faster here than a hash table."""
    keys = np.sort(keys)
    return keys[np.diff(keys, prepend=-1) > 0]


@dataclass
class Pattern:
    """A symmetric sparsity pattern in CSR form that grows when new pairs appear.

    Unknowns come in blocks of ``block`` neighbours, each of which holds all its entries with another
    block or none, so that places are found by pairs of blocks. ``keys`` are block row * blocks +
    block column of the pairs in rising order. The *slot* of an entry is its place in the matrix
    data (``nnz``,); ``mirror`` is the slot of the entry with row and column exchanged.
    """

    size: int
    block: int = 1
    keys: np.ndarray = field(default_factory=lambda: np.zeros(0, np.int64))
    version: int = 0

    def __post_init__(self):
        """Lay out the pattern given."""
        self.blocks = self.size // self.block
        self._lay_out()

    @property
    def nnz(self) -> int:
        """Number of entries."""
        return len(self.indices)

    def add(self, rows: np.ndarray, cols: np.ndarray) -> np.ndarray | None:
        """Make sure the pattern holds all pairs of unknowns, and their mirror images.

        Returns the new slots of the old entries, or None when nothing was missing.
        """
        return self.add_blocks(rows // self.block, cols // self.block)

    def add_blocks(self, rows: np.ndarray, cols: np.ndarray) -> np.ndarray | None:
        """Make sure the pattern holds all pairs of blocks, and their mirror images; as `add`."""
        new = distinct(self._key(rows, cols))
        new = new[self._find(new) < 0]
        if not len(new):
            return None
        row, col = np.divmod(new, self.blocks)
        new = distinct(np.concatenate([new, self._key(col, row)]))
        old = self._slots(np.arange(len(self.keys)))
        moved = np.arange(len(self.keys)) + np.searchsorted(new, self.keys)
        keys = np.empty(len(self.keys) + len(new), np.int64)
        free = np.ones(len(keys), bool)
        free[moved] = False
        keys[moved], keys[free] = self.keys, new
        self.keys = keys
        self.version += 1
        self._lay_out()
        slots = np.empty(old.size, np.int32)
        slots[old] = self._slots(moved)
        return slots

    def positions(self, rows: np.ndarray, cols: np.ndarray) -> np.ndarray | None:
        """Return the slot of each pair of unknowns, or None when one is missing."""
        row, i = np.divmod(rows, self.block)
        col, j = np.divmod(cols, self.block)
        at = self._find(self._key(row, col))
        if at.min(initial=0) < 0:
            return None
        return self._first[at] + i * self._width[row] + j

    def entries(self, matrix: sp.bsr_matrix) -> np.ndarray | None:
        """Return the slots (k, block, block) of a matrix's blocks, or None when one is missing."""
        rows = np.repeat(np.arange(self.blocks), np.diff(matrix.indptr))
        at = self._find(self._key(rows, matrix.indices))
        return self._slots(at) if at.min(initial=0) >= 0 else None

    def _key(self, rows, cols):
        return rows.astype(np.int64) * self.blocks + cols

    def _find(self, keys):
        """Return the number of each key, -1 where there is none."""
        if not len(self.keys):
            return np.full(len(keys), -1)
        at = np.searchsorted(self.keys, keys)
        np.minimum(at, len(self.keys) - 1, out=at)
        at[self.keys[at] != keys] = -1
        return at

    def _slots(self, at):
        """Return the slots (k, block, block) of pairs of blocks by their numbers (k,)."""
        within = np.arange(self.block, dtype=np.int32)
        return (self._first[at, None, None] + within
                + within[:, None] * self._width[self._row[at], None, None])

    def _lay_out(self):
        b, pairs = self.block, len(self.keys)
        row, col = np.divmod(self.keys, self.blocks)
        count = np.bincount(row, minlength=self.blocks)
        start = np.concatenate([[0], np.cumsum(count)])
        # entries of a row of the matrix, slot of the first entry of each pair, its row of blocks
        self._width = (b * count).astype(np.int32)
        self._first = (b * (b * start[row] + np.arange(pairs) - start[row])).astype(np.int32)
        self._row = row.astype(np.int32)
        whole = sp.bsr_matrix((np.zeros((pairs, b, b), np.int8), col, start),
                              shape=(self.size, self.size)).tocsr()
        self.indices, self.indptr = whole.indices, whole.indptr
        rows = np.repeat(np.arange(self.size, dtype=np.int32), np.diff(self.indptr))
        self.upper = np.flatnonzero(self.indices >= rows)
        self.upper_indices = self.indices[self.upper]
        self.upper_indptr = np.searchsorted(self.upper, self.indptr).astype(np.int32)
        self.diagonal = np.flatnonzero(self.indices == rows)
        self.mirror = self.matrix(np.arange(self.nnz, dtype=np.int32)).tocsc().data

    def crossing(self, unknowns: np.ndarray) -> np.ndarray:
        """Return the slots of the rows and columns of some unknowns."""
        in_rows = np.concatenate([np.zeros(0, int), *(
            np.arange(self.indptr[i], self.indptr[i + 1]) for i in unknowns)])
        return np.concatenate([in_rows, self.mirror[in_rows]])

    def matrix(self, data: np.ndarray) -> sp.csr_matrix:
        """Return the full matrix with the given data."""
        return sp.csr_matrix((data, self.indices, self.indptr), shape=(self.size, self.size))

    def upper_matrix(self, data: np.ndarray) -> sp.csr_matrix:
        """Return the upper triangle with the given (full) data."""
        return sp.csr_matrix((data[self.upper], self.upper_indices, self.upper_indptr),
                             shape=(self.size, self.size))

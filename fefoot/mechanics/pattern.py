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

    ``keys`` are row * size + column of the entries in rising order; the *slot* of an entry is its
    number among them, and its place in the matrix data. ``mirror`` is the slot of the entry with row
    and column exchanged.
    """

    size: int
    keys: np.ndarray = field(default_factory=lambda: np.zeros(0, np.int64))
    version: int = 0

    def __post_init__(self):
        """Lay out the pattern given."""
        self._lay_out()

    def add(self, rows: np.ndarray, cols: np.ndarray) -> np.ndarray | None:
        """Make sure the pattern holds all pairs, and their mirror images.

        Returns the new slots of the old entries, or None when nothing was missing.
        """
        rows, cols = rows.astype(np.int64), cols.astype(np.int64)
        new = distinct(np.concatenate([rows * self.size + cols, cols * self.size + rows]))
        new = new[self._find(new) < 0]
        if not len(new):
            return None
        moved = np.arange(len(self.keys)) + np.searchsorted(new, self.keys)
        keys = np.empty(len(self.keys) + len(new), np.int64)
        free = np.ones(len(keys), bool)
        free[moved] = False
        keys[moved], keys[free] = self.keys, new
        self.keys = keys
        self.version += 1
        self._lay_out()
        return moved

    def positions(self, rows: np.ndarray, cols: np.ndarray) -> np.ndarray | None:
        """Return the slot of each pair, or None when one is missing; fastest in rising order."""
        at = self._find(rows.astype(np.int64) * self.size + cols)
        return at if at.min(initial=0) >= 0 else None

    def entries(self, matrix: sp.csr_matrix) -> tuple[np.ndarray | None, np.ndarray]:
        """Return the slots (None when one is missing) and values of a sparse matrix's entries."""
        # sorted by columns in linear time, whatever the order within the rows
        turned = matrix.tocsc()
        cols = np.repeat(np.arange(self.size, dtype=np.int64), np.diff(turned.indptr))
        at = self.positions(cols, turned.indices)
        return None if at is None else self.mirror[at], turned.data

    def _find(self, keys):
        """Return the slot of each key, -1 where there is none."""
        if not len(self.keys):
            return np.full(len(keys), -1)
        at = np.searchsorted(self.keys, keys)
        np.minimum(at, len(self.keys) - 1, out=at)
        at[self.keys[at] != keys] = -1
        return at

    def _lay_out(self):
        row = self.keys // self.size
        self.indices = (self.keys - row * self.size).astype(np.int32)
        self.indptr = np.searchsorted(row, np.arange(self.size + 1)).astype(np.int32)
        self.upper = np.flatnonzero(self.indices >= row)
        self.upper_indices = self.indices[self.upper]
        self.upper_indptr = np.searchsorted(
            row[self.upper], np.arange(self.size + 1)).astype(np.int32)
        self.diagonal = np.flatnonzero(self.indices == row)
        self.mirror = self.matrix(np.arange(len(self.keys), dtype=np.int32)).tocsc().data

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

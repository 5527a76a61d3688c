"""The matrix of the solve's steps, laid out once: at each step only its numbers are filled in.

It is the quasi-definite matrix

    [ H   C' ]
    [ C  -e  ]

where H is a sum of small square blocks, of the products of rows with themselves and of the prior's matrix. No
scipy matrix is built on the way, for building one takes longer than filling it.
"""

from collections.abc import Sequence
from typing import Any, Protocol, cast

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
Sparse = sparse.csr_array

__all__ = ["DUAL", "Entries", "Sparse", "StepMatrix", "by_rows", "merged", "spread", "summed"]

DUAL = 1e-7
"""The e of the step's matrix, relative to the conditions' own scale."""


class Entries(Protocol):
    """Where the entries of some rows stand: row and column of each, in the order of the rows."""

    row: Indices
    column: Indices
    count: int


def merged(keys: Indices) -> tuple[Indices, Indices]:
    """Return the different keys in order, and the place of each given one among them."""
    order = np.argsort(keys, kind="stable")
    own = keys[order]
    new = np.diff(own, prepend=-1) != 0
    place = np.empty(len(keys), dtype=np.int64)
    place[order] = np.cumsum(new) - 1
    return own[new], place


def summed(places: Indices, values: Array, size: int) -> Array:
    """Return the sums of the values at each place, shape (size,)."""
    return np.asarray(np.bincount(places, values, size), dtype=np.float64)


def spread(starts: Indices, ends: Indices) -> tuple[Indices, Indices]:
    """Return the numbers of several ranges, one range after another: range of each, and the number."""
    sizes = ends - starts
    which = np.repeat(np.arange(len(sizes)), sizes)
    return which, np.arange(len(which)) + (starts - np.cumsum(sizes) + sizes)[which]


def by_rows(columns: Indices, values: Array, size: int) -> Sparse:
    """Return a matrix of ``size`` columns by what stands in each row; both shape (rows, any), -1 for none."""
    known = columns >= 0
    starts = np.concatenate([[0], np.cumsum(known.sum(axis=1))])
    return sparse.csr_array((values[known], columns[known], starts), shape=(len(columns), size))


class StepMatrix:
    """The step's matrix for a fixed layout.

    Numbers of it are vectors over its places, as ``blocks`` and the others return them; vectors of the parts
    of H add up to H.

    Attributes:
        size: Number of unknowns.
        conditions: Number of rows C.
    """

    def __init__(
        self,
        size: int,
        blocks: Sequence[Indices],
        rows: Entries,
        conditions: Entries,
        prior: Sparse,
    ) -> None:
        """Lay the matrix out.

        Args:
            size: Number of unknowns.
            blocks: Unknowns that the square blocks stand in, each shape (m, w) for m blocks; -1 for none.
            rows: Rows of which H holds the products with themselves.
            conditions: The rows C.
            prior: Rows likewise of H whose numbers do not change, shape (any, size).
        """
        self.size, self.conditions = size, conditions.count
        whole = size + conditions.count
        starts = np.searchsorted(rows.row, rows.row, side="left")
        ends = np.searchsorted(rows.row, rows.row, side="right")
        self._one, self._other = spread(starts, ends)
        squares = cast("Any", sparse.coo_array(prior.T @ prior))
        self._prior = np.asarray(squares.data)
        own = np.arange(whole)
        below = conditions.row + size
        parts = [
            *(_keys(at, whole) for at in blocks),
            rows.column[self._one] * whole + rows.column[self._other],
            squares.col.astype(np.int64) * whole + squares.row,
            conditions.column * whole + below,
            below * whole + conditions.column,
            own * whole + own,
        ]
        # what stands nowhere goes to a place past the end
        keys, place = merged(np.concatenate([*parts, [whole * whole]]))
        split = np.split(place, np.cumsum([len(part) for part in parts]))
        self._blocks = split[: len(blocks)]
        self._squares, self._in_prior, self._right, self._below, self._diagonal, _ = split[len(blocks) :]
        self._column, self._row = np.divmod(keys[:-1], whole)
        self._nonzeros = len(self._row)
        starts = np.searchsorted(self._column, np.arange(whole + 1))
        self._matrix = cast("Any", sparse.csc_matrix)(
            (np.zeros(self._nonzeros), self._row.astype(np.int32), starts.astype(np.int32)),
            shape=(whole, whole),
        )

    def blocks(self, first: int, blocks: Sequence[Array]) -> Array:
        """Return the sum of square blocks: those laid out from the ``first`` on, each shape (m, w, w)."""
        places = self._blocks[first : first + len(blocks)]
        values = np.concatenate([own.reshape(-1) for own in blocks]) if blocks else np.zeros(0)
        at = np.concatenate(places) if places else np.zeros(0, dtype=int)
        return summed(at, values, self._nonzeros + 1)[:-1]

    def squares(self, derivatives: Array) -> Array:
        """Return the sum of the rows' products with themselves, of their entries."""
        products = derivatives[self._one] * derivatives[self._other]
        return summed(self._squares, products, self._nonzeros + 1)[:-1]

    def prior(self, weight: float) -> Array:
        """Return the prior's products with themselves, times a weight."""
        return summed(self._in_prior, weight * self._prior, self._nonzeros + 1)[:-1]

    def times(self, H: Array, vector: Array) -> Array:
        """Return H times a vector, both shape (size,)."""
        filled = np.concatenate([vector, np.zeros(self.conditions)])
        return summed(self._row, H * filled[self._column], len(filled))[: self.size]

    def factorise(self, H: Array, conditions: Array, damping: float = 0.0) -> SuperLU:
        """Factorise the matrix.

        Args:
            H: The numbers of H.
            conditions: The entries of C.
            damping: Added to the diagonal of H.
        """
        data = self._matrix.data
        data[:] = H
        data[self._right] = conditions
        data[self._below] = conditions
        data[self._diagonal[: self.size]] += damping
        data[self._diagonal[self.size :]] = -DUAL
        # rows are exchanged freely: an order that keeps to the diagonal fills up where H is next to nothing
        return cast("SuperLU", splu(self._matrix))


def _keys(at: Indices, whole: int) -> Indices:
    keys = at[:, None, :] * whole + at[:, :, None]
    keys[(at[:, None, :] < 0) | (at[:, :, None] < 0)] = whole * whole
    return keys.reshape(-1)

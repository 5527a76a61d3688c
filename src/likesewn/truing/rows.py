"""Rows of the solve: fixed combinations of primitive quantities, differentiated by the unknowns.

Which unknowns a row depends on never changes, so that its places in the Jacobian are found once; at each
step only the numbers are filled in.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from likesewn.truing.matrices import Sparse, merged, spread, summed
from likesewn.truing.quantities import Primitives, Quantities, Terms

Array = NDArray[np.float64]

__all__ = ["Rows"]


class Rows:
    """Combinations of the primitive quantities.

    Attributes:
        count: Number of rows.
        row: Row of each entry of the Jacobian, in order.
        column: Its column.
    """

    def __init__(
        self, quantities: Quantities, terms: Sequence[Terms], unknown: NDArray[np.int64], size: int
    ) -> None:
        """Find the places.

        Args:
            quantities: The quantities, frozen.
            terms: The combinations.
            unknown: Unknown of each entry of the raw vector, then that of none; -1 for none.
            size: Number of unknowns.
        """
        entries = [(i, *entry) for i, own in enumerate(terms) for entry in quantities.entries(own)]
        row, primitive, factor = zip(*entries, strict=True) if entries else ((), (), ())
        self.count, self._size, self._primitives = len(terms), size, quantities.size
        self._row, self._primitive = np.array(row, dtype=int), np.array(primitive, dtype=int)
        self._factor = np.array(factor, dtype=float)
        starts = quantities.starts
        which, slopes = spread(starts[self._primitive], starts[self._primitive + 1])
        column = unknown[quantities.columns[slopes]]
        known = column >= 0
        which, self._slopes = which[known], slopes[known]
        keys, self._place = merged(self._row[which] * size + column[known])
        self._slope_factor = self._factor[which]
        self.row, self.column = np.divmod(keys, size)

    def values(self, at: Primitives) -> Array:
        """Return the combinations, shape (count,)."""
        return summed(self._row, self._factor * at.values[self._primitive], self.count)

    def derivatives(self, at: Primitives) -> Array:
        """Return the entries of their Jacobian, as ``row`` and ``column``."""
        return summed(self._place, self._slope_factor * at.slopes[self._slopes], len(self.row))

    def forces(self, weights: Array) -> Array:
        """Return the weight of each primitive quantity in the rows' weighted sum."""
        return summed(self._primitive, self._factor * weights[self._row], self._primitives)

    def matrix(self, entries: Array) -> Sparse:
        """Return a matrix of the rows, shape (count, unknowns), by its entries."""
        return sparse.csr_array((entries, (self.row, self.column)), shape=(self.count, self._size))

"""The few sparse operations that the solve needs, typed once."""

from collections.abc import Sequence
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

Array = NDArray[np.float64]

Blocks = tuple[NDArray[np.integer[Any]], Array]
"""Small square blocks of one width w: the columns (and rows) that each stands in, shape (m, w), and the
blocks, shape (m, w, w)."""

__all__ = ["Blocks", "added_blocks", "factor_symmetric", "scaled_rows"]


def scaled_rows(matrix: sparse.csr_array, factors: Array) -> sparse.csr_array:
    """Return the matrix, shape (m, n), with each row times its factor, shape (m,)."""
    data = matrix.data * np.repeat(factors, np.diff(matrix.indptr))
    return sparse.csr_array((data, matrix.indices, matrix.indptr), shape=(len(factors), int(matrix.shape[1])))


def added_blocks(parts: Sequence[Blocks], size: int) -> sparse.csr_array:
    """Return the sum of small square blocks laid into one matrix, shape (size, size).

    Args:
        parts: The blocks.
        size: Size of the matrix.
    """
    i = np.concatenate([np.repeat(at, at.shape[1], axis=1).reshape(-1) for at, _ in parts])
    j = np.concatenate([np.tile(at, (1, at.shape[1])).reshape(-1) for at, _ in parts])
    data = np.concatenate([blocks.reshape(-1) for _, blocks in parts])
    return sparse.csr_array((data, (i, j)), shape=(size, size))


def factor_symmetric(blocks: Sequence[Sequence[object]]) -> SuperLU:
    """Factorise a symmetric quasi-definite matrix given by blocks, without needless pivoting."""
    stacked = sparse.block_array(cast("Any", blocks), format="csc")
    matrix = cast("Any", sparse.csc_matrix)(stacked)
    return cast("Any", splu)(
        matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=1e-3, options={"SymmetricMode": True}
    )

"""The few sparse operations that the solve needs, typed once."""

from collections.abc import Sequence
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.sparse.linalg import SuperLU, splu

Array = NDArray[np.float64]

__all__ = ["empty", "factor_symmetric", "scaled_rows"]


def scaled_rows(matrix: sparse.csr_array, factors: Array) -> sparse.csr_array:
    """Return the matrix, shape (m, n), with each row times its factor, shape (m,)."""
    data = matrix.data * np.repeat(factors, np.diff(matrix.indptr))
    return sparse.csr_array((data, matrix.indices, matrix.indptr), shape=(len(factors), int(matrix.shape[1])))


def empty(rows: int, columns: int) -> sparse.csr_array:
    """Return a sparse matrix of zeros."""
    return sparse.csr_array((rows, columns), dtype=float)


def factor_symmetric(blocks: Sequence[Sequence[object]]) -> SuperLU:
    """Factorise a symmetric quasi-definite matrix given by blocks, without needless pivoting."""
    stacked = sparse.block_array(cast("Any", blocks), format="csc")
    matrix = cast("Any", sparse.csc_matrix)(stacked)
    return cast("Any", splu)(
        matrix, permc_spec="MMD_AT_PLUS_A", diag_pivot_thresh=1e-3, options={"SymmetricMode": True}
    )

"""Rows of a matrix as the solve's layout takes them, made of a dense matrix."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Entries:
    """Row and column of each entry that is not 0, and the number of rows."""

    row: np.ndarray
    column: np.ndarray
    count: int

    @classmethod
    def of(cls, matrix: np.ndarray) -> "Entries":
        row, column = np.nonzero(matrix)
        return cls(row, column, len(matrix))

"""What a reference sheet is: a chequered field with a coded square in every light square.

Up to eight sheets can lie round a garment; no coded square is on two of them. The codes come from OpenCV's
open family of 4 by 4 bits (S. Garrido-Jurado et al., "Generation of fiducial marker dictionaries using mixed
integer linear programming", Pattern Recognition 51, 2016), of which few, large cells are read from farthest.

Sheet frame: mm, origin at the field's top left corner, x to the right and y downward as the sheet is read.
"""

from dataclasses import dataclass
from functools import cache

import cv2
import numpy as np

from likesewn.photo.camera import Floats

__all__ = ["CELL_MM", "MOST_SHEETS", "SHEET_PAPERS", "Sheet", "coded_squares", "sheet"]

MOST_SHEETS = 8
COLUMNS, ROWS = 6, 8
SQUARE_MM = 30.0
CELL_MM = 3.75
"""Side of the smallest black or white cell: a light square is 8 cells, its coded square 6 of them."""

CELLS_PER_SQUARE = 8
FIELD_MM = (COLUMNS * SQUARE_MM, ROWS * SQUARE_MM)
SHEET_PAPERS = ("a4", "letter")

_CODES_PER_SHEET = COLUMNS * ROWS // 2


@cache
def coded_squares() -> cv2.aruco.Dictionary:
    """Return the family of coded squares, just large enough for eight sheets and so the best spaced."""
    return cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_250)


@dataclass(frozen=True, eq=False, slots=True)
class Sheet:
    """One reference sheet.

    Attributes:
        number: 1 to 8, as printed on it.
        codes: Numbers of its coded squares, in reading order.
        code_corners: (m,4,2) mm, each one's corners, clockwise from its top left.
        cells: (64,48) of bool, rows by columns of ``CELL_MM``; True is black.
        corners: (35,2) mm, the inner corners of the chequer, in reading order.
    """

    number: int
    codes: tuple[int, ...]
    code_corners: Floats
    cells: np.ndarray[tuple[int, int], np.dtype[np.bool_]]
    corners: Floats


@cache
def sheet(number: int) -> Sheet:
    """Return the sheet of this number, from 1 to ``MOST_SHEETS``.

    Raises:
        ValueError: There is none.
    """
    if not 1 <= number <= MOST_SHEETS:
        raise ValueError(f"there are sheets 1 to {MOST_SHEETS}, not {number}")
    cells = np.zeros((ROWS * CELLS_PER_SQUARE, COLUMNS * CELLS_PER_SQUARE), dtype=np.bool_)
    codes: list[int] = []
    boxes: list[Floats] = []
    for row in range(ROWS):
        for column in range(COLUMNS):
            top, left = row * CELLS_PER_SQUARE, column * CELLS_PER_SQUARE
            if (row + column) % 2 == 0:
                cells[top : top + CELLS_PER_SQUARE, left : left + CELLS_PER_SQUARE] = True
                continue
            codes.append((number - 1) * _CODES_PER_SHEET + len(codes))
            bits = coded_squares().generateImageMarker(codes[-1], 6)
            cells[top + 1 : top + 7, left + 1 : left + 7] = bits == 0
            box = np.array([(1.0, 1.0), (7.0, 1.0), (7.0, 7.0), (1.0, 7.0)])
            boxes.append((box + np.array([left, top])) * CELL_MM)
    corners = [(c * SQUARE_MM, r * SQUARE_MM) for r in range(1, ROWS) for c in range(1, COLUMNS)]
    return Sheet(number, tuple(codes), np.array(boxes), cells, np.array(corners))


def sheet_of_code(code: int) -> int:
    """Return the number of the sheet that a coded square is on, or 0 where it is on none."""
    number = code // _CODES_PER_SHEET + 1
    return number if number <= MOST_SHEETS else 0

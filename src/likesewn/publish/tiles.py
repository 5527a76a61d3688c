"""Sheets of ordinary paper laid edge over edge: page arithmetic, in mm, before any file is written.

Each sheet shows a *window* of the plane, its paper less a margin that home printers leave blank. The
windows of neighbours overlap. Where they meet is a *join*: the left or upper edge of the later sheet's
window. That sheet is trimmed there and glued over the strip beyond the join on the earlier one.

A sheet's *core* is the part of its window that no sheet to its left or above shows. The cores cover
the plane without overlap, so a sheet is needed just when its core holds some of a piece: its lines, or
its inside, since a paper piece needs its middle too.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from likesewn.errors import InputError, Problem
from likesewn.publish.drawing import Bounds
from likesewn.units import PAPER

__all__ = ["LEAST_WINDOW_MM", "PAPERS", "Tiling", "sheet_name", "sheets_needed", "tiling"]

LEAST_WINDOW_MM = 180.0
"""A window narrower than this has no room for the test squares with the map beside them."""

_LINE_MM = 0.3
_SLIVER_MM2 = 0.05


@dataclass(frozen=True)
class Tiling:
    """How sheets of one paper cover the plane, portrait, from (0, 0) to the right and down.

    Attributes:
        title: The paper's name as printed.
        paper_width: mm.
        paper_height: mm.
        margin: Blank on every side of a sheet, mm.
        overlap: Width of the strip that two neighbours share, mm.
    """

    title: str
    paper_width: float
    paper_height: float
    margin: float
    overlap: float

    @cached_property
    def window_size(self) -> tuple[float, float]:
        """Width and height of what one sheet shows, mm."""
        return self.paper_width - 2 * self.margin, self.paper_height - 2 * self.margin

    @cached_property
    def step(self) -> tuple[float, float]:
        """Distance from one sheet's window to the next, across and down, mm."""
        return self.window_size[0] - self.overlap, self.window_size[1] - self.overlap

    def window(self, row: int, column: int) -> Bounds:
        """Return the part of the plane that a sheet shows."""
        left, top = column * self.step[0], row * self.step[1]
        return left, top, left + self.window_size[0], top + self.window_size[1]

    def core(self, row: int, column: int) -> Bounds:
        """Return the part of the plane that a sheet shows and none to its left or above does."""
        left, top, right, bottom = self.window(row, column)
        return (
            left + self.overlap if column else left,
            top + self.overlap if row else top,
            right,
            bottom,
        )

    def grid(self, right: float, bottom: float) -> tuple[int, int]:
        """Return how many rows and columns cover the plane from (0, 0) to (``right``, ``bottom``)."""
        columns = max(1, int(np.ceil((right - self.overlap) / self.step[0] - 1e-9)))
        rows = max(1, int(np.ceil((bottom - self.overlap) / self.step[1] - 1e-9)))
        return rows, columns


def sheet_name(row: int, column: int) -> str:
    """Return a sheet's name: its row as a letter, its column as a number from 1 (``B3``)."""
    letters = ""
    row += 1
    while row:
        row, digit = divmod(row - 1, 26)
        letters = chr(ord("A") + digit) + letters
    return f"{letters}{column + 1}"


def sheets_needed(
    tiles: Tiling, outlines: Sequence[NDArray[np.float64]]
) -> dict[tuple[int, int], tuple[int, ...]]:
    """Return the sheets that hold a share of the pattern, row by row.

    Args:
        tiles: The sheets.
        outlines: Cut lines of the pieces as they lie on the plane, each shape (n, 2), mm.

    Returns:
        By (row, column): the numbers of the pieces whose lines or inside lie in that sheet's core.
    """
    held: dict[tuple[int, int], list[int]] = {}
    for number, outline in enumerate(outlines):
        polygon = shapely.make_valid(shapely.Polygon(outline)).buffer(_LINE_MM)
        shapely.prepare(polygon)
        left, top, right, bottom = polygon.bounds
        rows, columns = tiles.grid(right, bottom)
        first_row = max(0, int((top - tiles.overlap) // tiles.step[1]))
        first_column = max(0, int((left - tiles.overlap) // tiles.step[0]))
        for row in range(first_row, rows):
            for column in range(first_column, columns):
                core = shapely.box(*tiles.core(row, column))
                if polygon.intersects(core) and polygon.intersection(core).area > _SLIVER_MM2:
                    held.setdefault((row, column), []).append(number)
    return {sheet: tuple(held[sheet]) for sheet in sorted(held)}


PAPERS = {"a4": "A4", "letter": "letter", "legal": "legal", "a3": "A3", "tabloid": "tabloid"}
"""Papers that a pattern is printed on, each with its name as printed."""

_OVERLAP_MOST_MM = 40.0


def tiling(paper: str = "a4", margin: float = 10.0, overlap: float = 10.0) -> Tiling:
    """Return the sheets for a paper that home and office printers take.

    Args:
        paper: ``a4``, ``letter``, ``legal``, ``a3`` or ``tabloid``.
        margin: Blank on every side, mm; 10 suits most home printers.
        overlap: Strip that neighbours share, mm.

    Raises:
        InputError: The paper is not one of these, or margin or overlap leave too little room.
    """
    key = paper.strip().lower()
    if key not in PAPERS:
        near = get_close_matches(key[:40], PAPERS, n=1)
        raise InputError(
            Problem(
                "this paper is not one that the pattern is printed on",
                found=paper,
                key="paper",
                allowed=", ".join(PAPERS),
                nearest=near[0] if near else "",
            )
        )
    size = PAPER[key]
    most_margin = (size.width_mm - LEAST_WINDOW_MM) / 2
    for what, value, most in (
        ("margin", margin, most_margin),
        ("overlap", overlap, _OVERLAP_MOST_MM),
    ):
        if not 0.0 <= value <= most:
            raise InputError(
                Problem(
                    f"this {what} does not suit the paper",
                    found=f"{value:g} mm",
                    key=what,
                    allowed=f"0 to {most:g} mm on {PAPERS[key]}",
                )
            )
    return Tiling(PAPERS[key], float(size.width_mm), float(size.height_mm), margin, overlap)

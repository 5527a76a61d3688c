"""Cut pieces as outlines along the grain, ready to be laid.

Terms. The *grain frame* of a piece is its outline turned so that its grain runs along x, its downward
direction along +x and its right-hand side towards -y, which is how paper lies face up with the top of the
piece at the cloth's start. A *half* is one side of a piece that is the same on both sides of a line along the
grain, so that it can lie with that line on a fold.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from shapely import Polygon, box

from likesewn.cut.cutlist import CutPiece

Array = NDArray[np.float64]

__all__ = ["Shape", "shape_of"]

SAME_AREA = 1e-6
"""Share of a piece's area by which its two sides may differ and still count as the same. A difference of this
size is far below what shears do."""

ALONG_FOLD = 0.01
"""Slope (about half a degree) within which a grain line counts as running along the fold."""


@dataclass(frozen=True, slots=True, eq=False)
class Shape:
    """One cut piece along the grain.

    Attributes:
        piece: Its name.
        title: Its name as printed.
        copies: How many are cut.
        whole: Outline opened out, grain frame, shape (n, 2), mm, least x and y at 0.
        half: Its half on the side of -y, from the fold line at y = 0, or None where its sides differ.
        area_mm2: Area of one whole piece.
        on_fold: True when the piece is meant to lie on a fold and its grain allows it.
    """

    piece: str
    title: str
    copies: int
    whole: Array
    half: Array | None
    area_mm2: float
    on_fold: bool


def shape_of(piece: CutPiece) -> Shape:
    """Return the piece's outline along its grain.

    Raises:
        ValueError: When the piece's outline has no area.
    """
    outline = np.asarray(piece.outline(), dtype=float)
    way = np.asarray(piece.grain.end - piece.grain.start, dtype=float)
    if way[1] < 0 or (way[1] == 0 and way[0] < 0):
        way = -way
    along_fold = piece.on_fold and abs(way[0]) <= ALONG_FOLD * abs(way[1])
    if along_fold:
        way = np.array([0.0, 1.0])
    opened = _opened(outline) if piece.on_fold else outline
    whole = _along_grain(opened, way)
    area = Polygon(whole).area
    if not area > 0:
        raise ValueError(f"the outline of {piece.name!r} has no area")
    half = _along_grain(outline, way) if along_fold else _half(whole)
    if half is not None:
        half = half - np.array([half[:, 0].min(), 0.0])
    return Shape(
        piece=piece.name,
        title=piece.title,
        copies=piece.copies,
        whole=whole - whole.min(axis=0),
        half=half,
        area_mm2=float(area),
        on_fold=along_fold,
    )


def _along_grain(outline: Array, way: Array) -> Array:
    """Turn ``outline`` so that direction ``way`` runs along +x; turned only, never mirrored."""
    c, s = way / np.hypot(*way)
    return outline @ np.array([[c, -s], [s, c]])


def _opened(half: Array) -> Array:
    """Return the whole outline of a half whose fold lies on x = 0."""
    ends = np.roll(half, -1, axis=0)
    on_fold = (np.abs(half[:, 0]) < 1e-6) & (np.abs(ends[:, 0]) < 1e-6)
    lengths = np.where(on_fold, np.abs(ends[:, 1] - half[:, 1]), -1.0)
    last = int(np.argmax(lengths))
    if lengths[last] < 0:
        raise ValueError("a piece on the fold needs an edge on x = 0")
    run = np.roll(half, -(last + 1), axis=0)
    # The run starts and ends on the fold; its two ends are their own mirror images.
    return np.concatenate([run, run[-2:0:-1] * np.array([-1.0, 1.0])])


def _half(whole: Array) -> Array | None:
    """Return the half of an outline in its grain frame whose two sides are the same, or None."""
    shape = Polygon(whole)
    left, low, right, high = shape.bounds
    middle = (low + high) / 2
    mirrored = Polygon(np.column_stack([whole[:, 0], 2 * middle - whole[:, 1]]))
    if not shape.is_valid or shape.symmetric_difference(mirrored).area > SAME_AREA * shape.area:
        return None
    side = shape.intersection(box(left - 1, low - 1, right + 1, middle))
    if not isinstance(side, Polygon) or side.is_empty or len(side.interiors):
        return None
    return np.asarray(side.exterior.coords)[:-1] - np.array([0.0, middle])

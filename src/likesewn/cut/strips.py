"""The pattern piece of a band or binding: a rectangle, its folding lines and its quarter marks.

Its length lies along the direction of greatest stretch, which is across the grain unless the record says
otherwise; the grain line of every piece runs along y.
"""

from collections.abc import Mapping

import numpy as np

from likesewn.cut.bands import Widths
from likesewn.cut.cutlist import Band
from likesewn.cut.notches import Point
from likesewn.garment import Edge, PatternPiece, Record
from likesewn.geometry import Path

__all__ = ["strip_marks", "strip_piece", "strip_points"]

SIDES = ("sewn_edge", "far_end", "other_edge", "near_end")
"""The edges of a strip, in order round it."""


def strip_piece(
    band: Band, widths: Widths, joining: float, record: Record
) -> tuple[PatternPiece, Mapping[str, float]]:
    """Return a strip's piece at its seam line, and its allowances by edge name, mm.

    Args:
        band: The band, for its name and lengths.
        widths: Its widths.
        joining: Allowance of the seam that joins it to a ring, mm.
        record: The record, for the direction of greatest stretch.
    """
    ring, across = band.ring_mm, widths.cut_mm - 2.0 * widths.allowance_mm
    corners = [(0.0, 0.0), (ring, 0.0), (ring, across), (0.0, across)]
    along = record.fabric.stretch_along
    if along is not None and along > (record.fabric.stretch_across or 0.0):
        corners = [(across - y, x) for x, y in corners]
    names = [f"corner_{i}" for i in range(1, 5)]
    edges = tuple(
        Edge(side, side, "", names[i], names[(i + 1) % 4], Path.line(corners[i], corners[(i + 1) % 4]))
        for i, side in enumerate(SIDES)
    )
    piece = PatternPiece(
        name=band.name,
        title=band.title,
        copies=1,
        on_fold=False,
        edges=edges,
        corners={name: np.array(at) for name, at in zip(names, corners, strict=True)},
    )
    long, end = widths.allowance_mm, joining
    return piece, dict(zip(SIDES, (long, end, long, end), strict=True))


def strip_marks(piece: PatternPiece, widths: Widths, *, binding: bool) -> tuple[Path, ...]:
    """Return the folding lines of a strip: a band's middle; a binding's middle and both quarters."""
    corners = list(piece.corners.values())
    across = corners[3] - corners[0]
    width = widths.cut_mm - 2.0 * widths.allowance_mm
    folds = (0.0, 0.5, 1.0) if binding and width > 0.0 else (0.5,)
    return tuple(Path.line(corners[0] + s * across, corners[1] + s * across) for s in folds)


def strip_points(piece: PatternPiece) -> tuple[Point, ...]:
    """Return the quarter marks of a strip, on both its long edges; the joining seam is the first."""
    return tuple(
        (piece.name, side, "quarter mark", share * piece.edge(side).path.length, 1)
        for side in (SIDES[0], SIDES[2])
        for share in (0.25, 0.5, 0.75)
    )

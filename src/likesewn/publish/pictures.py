"""The pattern as SVG: true size for cutters and viewers, and a compact picture for a page."""

from collections.abc import Sequence
from math import sqrt

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import Path
from likesewn.publish.drawing import Area, Drawing, Item, Role, Stroke, moved, walk
from likesewn.publish.lettering_room import Room
from likesewn.publish.pieces import PatternDrawing, PieceDrawing
from likesewn.publish.svg import svg

__all__ = ["ENLARGED", "SCREEN", "SCREEN_UNITS", "overview_svg", "pattern_svg", "side_by_side"]

SCREEN = 900
"""Width of a picture on the screen, CSS pixels."""

SCREEN_UNITS = 420.0
"""A picture this wide, mm, shows lines at their own width."""

ENLARGED = 0.08
"""Factor of lettering in a picture, for each mm of the gap between its pieces."""

_LINES = {Role.CUT, Role.SEAM, Role.FOLD, Role.NOTCH, Role.GRAIN}


def _piece(piece: PieceDrawing, enlarged: float) -> tuple[Item, ...]:
    outline = np.concatenate([piece.outline, piece.outline[:1]])
    lines = [i for i in walk((piece.group,)) if isinstance(i, Stroke) and i.role in _LINES]
    room = Room(piece.outline, enlarged)
    for line in lines:
        if line.role is Role.GRAIN:
            room.keep_clear(line.path)
    return (Area(Path.polyline(outline), "piece"), *lines, *room.put_lines(piece.title, ()))


def pattern_svg(pattern: PatternDrawing) -> str:
    """Return the pattern as an SVG at true size, 1 user unit to the mm, no piece touching another.

    Each piece is ``<g class="piece" data-piece data-copies data-on-fold>``; its paths say what they
    are by ``data-line``, seam and cut lines which edge they follow by ``data-edge``.
    """
    return svg(pattern.sheet())


def overview_svg(pattern: PatternDrawing) -> str:
    """Return the pieces of a pattern side by side, tallest first, as a small SVG picture."""
    boxes = [(piece.outline.min(axis=0), piece.outline.max(axis=0)) for piece in pattern.pieces]
    shifts, (right, deep), gap = side_by_side(boxes)
    enlarged = ENLARGED * gap
    placed = [
        moved(item, 0.0, shift)
        for piece, shift in zip(pattern.pieces, shifts, strict=True)
        for item in _piece(piece, enlarged)
    ]
    drawing = Drawing(
        pattern.garment or "Pattern",
        "Pattern pieces side by side: " + ", ".join(piece.title for piece in pattern.pieces),
        tuple(placed),
        (-gap, -gap, right + gap, deep + gap),
    )
    return svg(drawing, pen=right / SCREEN_UNITS, screen_width=SCREEN)


def side_by_side(
    boxes: Sequence[tuple[NDArray[np.float64], NDArray[np.float64]]],
) -> tuple[list[tuple[float, float]], tuple[float, float], float]:
    """Lay boxes out in rows, tallest first, for a picture about twice as wide as high.

    Args:
        boxes: Least and greatest corner of each, each shape (2,), mm.

    Returns:
        How far to move each, in their order; the right and lower end of all; and the gap between them, mm.
    """
    sizes = [high - low for low, high in boxes]
    side = sqrt(sum(float(wide * high) for wide, high in sizes))
    gap = 0.05 * side
    most = max((2.2 * side, *(float(size[0]) for size in sizes)))
    shifts = [(0.0, 0.0)] * len(boxes)
    x = y = right = deep = 0.0
    for i in sorted(range(len(sizes)), key=lambda i: -sizes[i][1]):
        wide, high = (float(v) for v in sizes[i])
        if x > 0.0 and x + wide > most:
            x, y = 0.0, deep + gap
        shifts[i] = (x - float(boxes[i][0][0]), y - float(boxes[i][0][1]))
        x += wide + gap
        right, deep = max(right, x - gap), max(deep, y + high)
    return shifts, (right, deep), gap

"""The pattern as SVG: true size for cutters and viewers, and a compact picture for a page."""

from math import sqrt

import numpy as np

from likesewn.geometry import Path
from likesewn.publish.drawing import Area, Drawing, Item, Role, Stroke, moved, walk
from likesewn.publish.lettering_room import Room
from likesewn.publish.pieces import PatternDrawing, PieceDrawing
from likesewn.publish.svg import svg

__all__ = ["overview_svg", "pattern_svg"]

_SCREEN = 900
_SCREEN_UNITS = 420.0  # a picture this wide shows lines at their own width
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
    corners = [piece.outline.min(axis=0) for piece in pattern.pieces]
    sizes = [np.ptp(piece.outline, axis=0) for piece in pattern.pieces]
    side = sqrt(sum(float(wide * high) for wide, high in sizes))
    gap, enlarged = 0.05 * side, 0.004 * side
    most = max((2.2 * side, *(float(size[0]) for size in sizes)))
    placed: list[Item] = []
    x = y = right = deep = 0.0
    for i in sorted(range(len(sizes)), key=lambda i: -sizes[i][1]):
        wide, high = (float(v) for v in sizes[i])
        if x > 0.0 and x + wide > most:
            x, y = 0.0, deep + gap
        by = (x - float(corners[i][0]), y - float(corners[i][1]))
        placed += [moved(item, 0.0, by) for item in _piece(pattern.pieces[i], enlarged)]
        x += wide + gap
        right, deep = max(right, x - gap), max(deep, y + high)
    drawing = Drawing(
        pattern.garment or "Pattern",
        "Pattern pieces side by side: " + ", ".join(piece.title for piece in pattern.pieces),
        tuple(placed),
        (-gap, -gap, right + gap, deep + gap),
    )
    return svg(drawing, pen=right / _SCREEN_UNITS, screen_width=_SCREEN)

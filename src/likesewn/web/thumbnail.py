"""A small drawing of a garment's pieces for the shelf."""

import numpy as np

from likesewn.garment import Pattern
from likesewn.geometry import Path
from likesewn.publish.drawing import Area, Drawing, Item, Role, Stroke, moved
from likesewn.publish.pictures import SCREEN_UNITS, side_by_side
from likesewn.publish.piece_lines import sampled
from likesewn.publish.svg import svg

__all__ = ["thumbnail_svg"]

WIDTH = 320
"""Width of the drawing on the screen, CSS pixels."""


def thumbnail_svg(pattern: Pattern, name: str) -> str:
    """Return the seam lines of a pattern's pieces side by side, whole pieces shown whole, as SVG."""
    shapes: list[tuple[np.ndarray, tuple[Item, ...]]] = []
    for piece in pattern.pieces:
        run = np.vstack([sampled(edge.path, 8) for edge in piece.edges if not edge.fold])
        if piece.on_fold:
            run = np.vstack([run, run[::-1] * np.array([-1.0, 1.0])])
        ring = Path.polyline(np.vstack([run, run[:1]]))
        shapes.append((run, (Area(ring, "piece"), Stroke(ring, Role.TRUED, closed=True))))
    boxes = [(run.min(axis=0), run.max(axis=0)) for run, _ in shapes]
    shifts, (right, deep), gap = side_by_side(boxes)
    items = tuple(
        moved(item, 0.0, shift) for (_, group), shift in zip(shapes, shifts, strict=True) for item in group
    )
    drawing = Drawing(
        name or "Garment", "The pieces side by side", items, (-gap, -gap, right + gap, deep + gap)
    )
    return svg(drawing, pen=2.2 * right / SCREEN_UNITS, screen_width=WIDTH)

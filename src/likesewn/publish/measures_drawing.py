"""Pictures of the tape measures: each piece laid flat, and from where to where each measure runs."""

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Kind, Pattern, PatternPiece
from likesewn.garment.kind import Measure
from likesewn.geometry import Path, point_at
from likesewn.publish.drawing import Area, Bounds, Drawing, Item, Label, item_bounds
from likesewn.publish.measure_spans import Span, measure_span, measure_values, span_items, whole_piece
from likesewn.publish.svg import svg

__all__ = ["measure_drawings"]

Array = NDArray[np.float64]

_SCREEN = 420
_PICTURE_UNITS = 130.0  # a picture this wide shows lines and lettering at their own size


def _finished(items: list[Item], title: str, summary: str, detail: float = 1.0) -> str:
    left, top, right, bottom = item_bounds(tuple(items))
    wide = right - left
    rim = 0.06 * wide
    bounds: Bounds = (left - rim, top - rim, right + rim, bottom + rim)
    drawing = Drawing(title, summary, tuple(items), bounds)
    return svg(drawing, pen=wide / (_PICTURE_UNITS * detail), screen_width=_SCREEN)


def _badge(number: int, span: Span, taken: list[Array], size: float) -> list[Item]:
    """A measure's number on its line, where no other number stands."""
    shares = np.array([0.5, 0.7, 0.3, 0.85, 0.15, 0.6, 0.4, 0.95])
    spots = point_at(span.runs[0], shares * span.runs[0].length)
    free = (s for s in spots if all(np.hypot(*(s - t)) > 1.7 * size for t in taken))
    at = next(free, spots[0])
    taken.append(at)
    disc = [at + 0.72 * size * np.array([np.cos(a), np.sin(a)]) for a in np.linspace(0, 2 * np.pi, 25)]
    label = Label(
        str(number),
        (float(at[0]), float(at[1]) + 0.34 * size),
        0.95 * size,
        "middle",
        bold=True,
        tone="brick",
    )
    return [Area(Path.polyline(disc), "paper"), label]


def _overview(piece: PatternPiece, spans: list[tuple[Measure, Span]], size: float) -> str:
    items = whole_piece(piece)
    left, _, _, bottom = item_bounds(tuple(items))
    for _, span in spans:
        items += span_items(span, 0.6 * size)
    taken: list[Array] = []
    y = bottom + 2.4 * size
    # short measures have the fewest places for a number, so they choose first
    for i in sorted(range(len(spans)), key=lambda i: spans[i][1].runs[0].length):
        items += _badge(i + 1, spans[i][1], taken, size)
    for number, (measure, _) in enumerate(spans, start=1):
        items.append(Label(f"{number}  {measure.title}", (left, y), size))
        y += 1.5 * size
    names = ", ".join(measure.title for measure, _ in spans)
    return _finished(items, f"{piece.title}: measures", f"{piece.title} laid flat, with {names}", 2.2)


def measure_drawings(kind: Kind, pattern: Pattern) -> dict[str, str]:
    """Return pictures of a kind's measures as SVG.

    Args:
        kind: The kind whose measures are shown.
        pattern: Pieces to show them on.

    Returns:
        By measure key, a picture of that measure on the first of its pieces; and by ``piece-NAME``,
        a picture of that piece with all its measures numbered. A measure that the pieces cannot show
        is left out.
    """
    pieces = {piece.name: piece for piece in pattern.pieces}
    values = measure_values(kind, pattern)
    pictures: dict[str, str] = {}
    on_piece: dict[str, list[tuple[Measure, Span]]] = {}
    for measure in kind.measures.values():
        for name in measure.pieces:
            span = measure_span(measure, pieces[name], values) if name in pieces else None
            if span is None:
                continue
            on_piece.setdefault(name, []).append((measure, span))
            if measure.key not in pictures:
                whole = whole_piece(pieces[name])
                wide = np.ptp(np.array(item_bounds(tuple(whole)))[[0, 2]])
                items = whole + span_items(span, 3.6 * float(wide) / _PICTURE_UNITS)
                pictures[measure.key] = _finished(items, measure.title, measure.how)
    for name, spans in on_piece.items():
        wide = np.ptp(np.array(item_bounds(tuple(whole_piece(pieces[name]))))[[0, 2]])
        size = 4.2 * float(wide) / _PICTURE_UNITS
        pictures[f"piece-{name}"] = _overview(pieces[name], spans, size)
    return pictures

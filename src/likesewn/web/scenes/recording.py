"""The record: each piece laid flat, and on it from where to where each measure is taken."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Kind, Pattern, PatternPiece
from likesewn.garment.kind import Measure
from likesewn.publish.drawing import Role, Stroke
from likesewn.publish.measure_spans import Span, measure_span, measure_values, span_items
from likesewn.web.scene import Item, Line, Part, Scene
from likesewn.web.scenes.pieces import outline_of
from likesewn.web.scenes.places import polygon_title, spread_out
from likesewn.web.scenes.replay import d_of, ring_of
from likesewn.web.scenes.wording import edge_words, length_words, measure_words, piece_words
from likesewn.web.words import say

__all__ = ["record_scene"]

Array = NDArray[np.float64]
Shift = tuple[float, float]

_HEAD = 0.011
"""Length of an arrow head as a share of the drawing's width."""


def record_scene(
    kind: Kind,
    pattern: Pattern,
    name: str,
    unit: str,
    *,
    taken: Mapping[str, float],
    chosen: str = "",
) -> Scene:
    """Show the pieces laid flat with the measures on them.

    Args:
        kind: The garment's kind.
        pattern: The trued pattern, or ``garment.template.template_pattern`` while there is none.
        name: The garment's name.
        unit: Unit of rulers and words.
        taken: What was measured, mm, by key as in the garment file; other measures are drawn faint.
        chosen: Key of the measure that the drawing is about, or empty.

    Returns:
        The scene; each measure is a line whose id is its key, and each edge one whose id is ``piece.edge``.
    """
    outlines = [_whole(piece) for piece in pattern.pieces]
    places = spread_out(outlines)
    shifts = {piece.name: shift for piece, shift in zip(pattern.pieces, places.shifts, strict=True)}
    pieces = {piece.name: piece for piece in pattern.pieces}
    values = {**measure_values(kind, pattern), **taken}
    head = _HEAD * (places.bounds[2] - places.bounds[0])
    on: dict[str, list[Item]] = {name: [] for name in pieces}
    for key, (measure, where) in _wanted(kind, taken, chosen).items():
        span = measure_span(measure, pieces[where], values) if where in pieces else None
        if span is None:
            continue
        says = measure_words(_title(kind, key, measure, where), values.get(key), unit, taken=key in taken)
        lines = _measure(key, span, shifts[where], head, says, chosen=key == chosen, taken=key in taken)
        # the chosen one lies over all others
        on[where] += lines if key == chosen else []
        on[where][:0] = lines if key != chosen else []
    items: list[Item] = []
    for piece, outline in zip(pattern.pieces, outlines, strict=True):
        shift = shifts[piece.name]
        lines = (*_edges(piece, shift, unit), *on[piece.name])
        # clear of the fold, which runs down the middle
        half = outline_of(piece) * (np.array([-1.0, 1.0]) if piece.on_fold else 1.0)
        title = polygon_title(half, piece.title, shift)
        ring = ring_of(outline, shift)
        items.append(Part(piece.name, piece_words(piece), (*lines, title), ring))
    count = sum(key in taken for key in kind.measures)
    summary = say("scene.measured", count=count, of=len(kind.measures))
    return Scene(f"{name}: measures", summary, places.bounds, tuple(items), unit)


def _wanted(kind: Kind, taken: Mapping[str, float], chosen: str) -> dict[str, tuple[Measure, str]]:
    """Every measure with the piece that it is shown on; a piece's own only where it was taken or chosen."""
    wanted: dict[str, tuple[Measure, str]] = {}
    for measure in kind.measures.values():
        for key, pieces in measure.variants().items():
            if key == measure.key or key in taken or key == chosen:
                wanted[key] = measure, pieces[0]
    return wanted


def _title(kind: Kind, key: str, measure: Measure, piece: str) -> str:
    return (
        measure.title if key == measure.key else f"{measure.title}, {kind.piece(piece).title.lower()} alone"
    )


def _whole(piece: PatternPiece) -> Array:
    """Return a piece's whole outline as a polygon, both halves of one on the fold."""
    half = outline_of(piece)
    if not piece.on_fold:
        return half
    # the fold closes the half, and its mirror image goes back the other way
    return np.concatenate([half, half[::-1] * np.array([-1.0, 1.0])])


def _edges(piece: PatternPiece, shift: Shift, unit: str) -> list[Item]:
    lines: list[Item] = []
    for edge in piece.edges:
        d = d_of(edge.path, by=shift)
        if edge.fold:
            lines.append(Line(d, "fold"))
            continue
        if piece.on_fold:
            d += d_of(edge.path.mirrored(), by=shift)
        says = edge_words(edge.name, piece.title, length_words(edge.path.length, unit))
        lines.append(Line(d, "trued", f"{piece.name}.{edge.name}", says, pick=True))
    return lines


def _measure(
    key: str, span: Span, shift: Shift, head: float, says: str, *, chosen: bool, taken: bool
) -> list[Item]:
    strokes = [item for item in span_items(span, head) if isinstance(item, Stroke)]
    runs = "".join(d_of(stroke.path, by=shift) for stroke in strokes if stroke.role is Role.SHOWN)
    helpers = [Line(d_of(stroke.path, by=shift), "guide") for stroke in strokes if stroke.role is Role.GUIDE]
    look = "shown" if chosen else "measure"
    line = Line(runs, look, key, says, pick=True, faint=not taken and not chosen)
    return [*(helpers if chosen else []), line]

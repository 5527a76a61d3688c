"""How a measure shows on a piece: the whole piece laid flat, and the run from where to where it is taken.

Everything comes from the kind: a measure's operation, corners and edges say what to draw, whatever the
garment. Places on curves are read from points along them, which is exact enough for a picture.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Edge, Kind, Pattern, PatternPiece
from likesewn.garment.kind import Measure
from likesewn.geometry import Path
from likesewn.publish.drawing import Area, Item, Role, Stroke
from likesewn.publish.piece_lines import sampled

__all__ = ["SPANS", "Span", "measure_span", "measure_values", "span_items", "whole_piece"]

Array = NDArray[np.float64]


class _NotThereError(LookupError):
    """A corner that a measure is taken at is not on the piece."""


def _edges(piece: PatternPiece, base: str) -> list[Edge]:
    return [e for e in piece.edges if base in {e.name, e.base}]


def _corner(piece: PatternPiece, name: str) -> Array:
    """A corner by the kind's name; on an opened piece the one of its first half.

    A corner that lay on the fold may be gone from an opened piece, its two edges having become one; then it
    is the place where an edge crosses the line of the fold.

    Raises:
        _NotThereError: The piece has no such place.
    """
    if name in piece.corners:
        return piece.corners[name]
    for key, at in piece.corners.items():
        if key.startswith(f"{name}_"):
            return at
    for edge in piece.edges:
        x, y = sampled(edge.path).T
        if x[0] * x[-1] < 0.0:
            order = np.argsort(x)
            return np.array([0.0, float(np.interp(0.0, x[order], y[order]))])
    raise _NotThereError(name)


def _across(piece: PatternPiece, base: str, level: float) -> float | None:
    """How far from x = 0 an edge is at a level, or None where it does not reach that level."""
    for edge in _edges(piece, base):
        points = sampled(edge.path)
        points = points if points[0, 1] <= points[-1, 1] else points[::-1]
        if points[0, 1] <= level <= points[-1, 1]:
            return float(np.interp(level, points[:, 1], points[:, 0]))
    return None


def _under(piece: PatternPiece, base: str, x: float) -> float | None:
    """How far down an edge is at a distance from x = 0."""
    for edge in _edges(piece, base):
        points = sampled(edge.path)
        order = np.argsort(points[:, 0])
        if points[order[0], 0] <= x <= points[order[-1], 0]:
            return float(np.interp(x, points[order, 0], points[order, 1]))
    return None


@dataclass(frozen=True)
class Span:
    """What a measure looks like: runs to show, and thin helper lines."""

    runs: tuple[Path, ...]
    arrows: bool = True
    helpers: tuple[Path, ...] = ()


def _between(a: Array, b: Array, *helpers: tuple[Array, Array]) -> Span:
    return Span((Path.line(a, b),), helpers=tuple(Path.line(p, q) for p, q in helpers))


def _level(measure: Measure, piece: PatternPiece, values: Mapping[str, float]) -> float | None:
    level = measure.level
    if level is None:
        return None
    start = float(_corner(piece, level.start)[1])
    if level.measure:
        return start + values[level.measure] if level.measure in values else None
    return start + level.share * (float(_corner(piece, level.end)[1]) - start)


_MIRROR = np.array([-1.0, 1.0])


def _along(measure: Measure, piece: PatternPiece, _: Mapping[str, float]) -> Span | None:
    edges = [e for base in measure.edges for e in _edges(piece, base)]
    if not edges:
        return None
    both = measure.times >= 2 * len(measure.pieces) and piece.on_fold
    runs = [e.path for e in edges if e.side == edges[0].side]
    runs += [path.mirrored() for path in runs] if both else []
    return Span(tuple(runs), arrows=False)


def _across_corner(measure: Measure, piece: PatternPiece, _: Mapping[str, float]) -> Span:
    at = _corner(piece, measure.corners[0])
    return _between(at * _MIRROR, at)


def _from_fold(measure: Measure, piece: PatternPiece, _: Mapping[str, float]) -> Span:
    at = _corner(piece, measure.corners[0])
    return _between(np.array([0.0, at[1]]), at)


def _straight(measure: Measure, piece: PatternPiece, _: Mapping[str, float]) -> Span:
    a, b = (_corner(piece, name) for name in measure.corners[:2])
    return _between(a, b)


def _down(measure: Measure, piece: PatternPiece, _: Mapping[str, float]) -> Span:
    a, b = (_corner(piece, name) for name in measure.corners[:2])
    foot = np.array([a[0], b[1]])
    return _between(a, foot, (foot, b))


def _down_to_edge(measure: Measure, piece: PatternPiece, _: Mapping[str, float]) -> Span | None:
    at = _corner(piece, measure.corners[0])
    y = _under(piece, measure.edges[0], float(at[0]))
    return None if y is None else _between(at, np.array([at[0], y]))


def _across_level(measure: Measure, piece: PatternPiece, values: Mapping[str, float]) -> Span | None:
    y = _level(measure, piece, values)
    x = None if y is None else _across(piece, measure.edges[0], y)
    return None if x is None or y is None else _between(np.array([-x, y]), np.array([x, y]))


def _height(measure: Measure, piece: PatternPiece, values: Mapping[str, float]) -> Span | None:
    if measure.key not in values:
        return None
    at = _corner(piece, measure.corners[0])
    foot = at + np.array([0.0, values[measure.key]])
    return _between(at, foot, (foot * _MIRROR, foot))


def _between_edges(measure: Measure, piece: PatternPiece, values: Mapping[str, float]) -> Span | None:
    y = _level(measure, piece, values)
    ends = [None if y is None else _across(piece, edge, y) for edge in measure.edges]
    if y is None or len(ends) != 2 or ends[0] is None or ends[1] is None:
        return None
    return _between(np.array([ends[0], y]), np.array([ends[1], y]))


# One way of showing for each of ``garment.kind.OPERATIONS``. Each returns None where the piece as it
# is cannot show the measure, such as a level that an edge does not reach.
SPANS: Mapping[str, Callable[[Measure, PatternPiece, Mapping[str, float]], Span | None]] = {
    "across": _across_corner,
    "from_fold": _from_fold,
    "down": _down,
    "straight": _straight,
    "along": _along,
    "down_to_edge": _down_to_edge,
    "across_at": _across_level,
    "between": _straight,
    "between_at": _between_edges,
    "level": _height,
}


def measure_span(measure: Measure, piece: PatternPiece, values: Mapping[str, float]) -> Span | None:
    """Return how a measure shows on a piece, in the piece's frame.

    Args:
        measure: The measure.
        piece: A piece that it is taken on.
        values: Measures that others refer to, by key, mm; see ``measure_values``.

    Returns:
        What to draw, or None where the piece as it is cannot show the measure.
    """
    try:
        return SPANS[measure.op](measure, piece, values)
    except _NotThereError:
        return None


def _arrow_heads(path: Path, size: float) -> Iterator[Stroke]:
    a, b = path.start, path.end
    length = float(np.hypot(*(b - a)))
    if length < 1e-6:
        return
    way = (b - a) / length
    side = np.array([-way[1], way[0]])
    head = min(size, 0.35 * length)
    for tip, back in ((a, way), (b, -way)):
        wings = [tip + head * back + s * 0.4 * head * side for s in (-1.0, 1.0)]
        yield Stroke(Path.polyline([wings[0], tip, wings[1]]), Role.SHOWN)


def whole_piece(piece: PatternPiece) -> list[Item]:
    """The piece laid flat: its whole outline, and its middle as a fold line."""
    half = [e.path for e in piece.edges if not e.fold]
    runs = Path.join(half)
    if piece.on_fold:
        runs = Path.join([runs, runs.mirrored().reversed()])
    items: list[Item] = [Area(runs, "piece"), Stroke(runs, Role.MARK, closed=True)]
    if piece.on_fold:
        items.append(Stroke(Path.line(half[0].start, half[-1].end), Role.FOLD))
    return items


def span_items(span: Span, size: float) -> list[Item]:
    """The measure's run with arrow heads of ``size`` mm, and its thin helper lines."""
    items: list[Item] = [Stroke(path, Role.GUIDE) for path in span.helpers]
    for path in span.runs:
        items.append(Stroke(path, Role.SHOWN))
        items += _arrow_heads(path, 1.1 * size) if span.arrows else []
    return items


def measure_values(kind: Kind, pattern: Pattern) -> dict[str, float]:
    """The pattern's measures, and for others what would stand in for them."""
    values = {m.key: m.value_mm for m in pattern.measures}
    for key, measure in kind.measures.items():
        for stand_in in measure.stand_in:
            if key not in values and set(stand_in.terms) <= set(values):
                terms = (factor * values[k] for k, factor in stand_in.terms.items())
                values[key] = stand_in.plus + sum(terms)
    return values

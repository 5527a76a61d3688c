"""Facings: strips that repeat an opening's edge and lie flat behind it.

A facing is cut out of its own piece: the opening's edge, the neighbours' edges as far as the facing
reaches, and a line parallel to the opening. So it fits exactly where it is sewn. Facings that are joined
over a seam take the same length of it: parallels at one depth would meet the two edges at unlike angles,
so each facing is as deep as the one before it asks for.
"""

from dataclasses import dataclass

import numpy as np

from likesewn.cut.edges import Place, words
from likesewn.cut.opening import Opening
from likesewn.garment import Edge, PatternPiece
from likesewn.geometry import Crossing, OffsetError, Path, crossings, cut_out, extend, offset, split_at

__all__ = ["FACING_DEPTH", "INNER", "facings_for"]

FACING_DEPTH = 50.0
"""Depth of a facing, mm (common practice, no source)."""

INNER = "inner_edge"
"""Name of the facing's free edge, which is neatened and sewn to nothing."""

MOST_OF_NEIGHBOUR = 0.7
"""A facing takes at most this share of a neighbouring edge, so that it stays clear of the next seam."""

ALIKE = 1e-3
"""How closely two joined facings agree along their seam, mm."""

ROUNDS = 12
"""Most rounds to find the depth at which they do; two or three are usual."""


@dataclass(frozen=True, slots=True)
class _Reach:
    """A facing's free line at one depth, and where it meets the edges before and after the opening's."""

    line: Path
    at_start: Crossing
    at_end: Crossing
    before: Edge
    after: Edge

    def taken(self, *, at_end: bool) -> float:
        """Return how much of a neighbouring edge belongs to the facing, mm."""
        return self.at_end.along_b if at_end else self.before.path.length - self.at_start.along_b


def facings_for(opening: Opening) -> tuple[PatternPiece | None, ...]:
    """Return the facing behind each edge of an opening, in its order; None where there is no room for one.

    Each is given at its seam line, in the frame of its piece. Their depth is ``FACING_DEPTH`` or, beside a
    short seam, less. Where an opening is closed without a fold, the last facing may differ from the first
    along the seam between them by a fraction of a millimetre.
    """
    depth = min(_depth(place) for place, _ in opening.run)
    facings: list[PatternPiece | None] = []
    last: tuple[Place, float] | None = None
    for place, onward in opening.run:
        reach = _reach(place, depth)
        if reach is not None and last is not None and last[0].piece is not place.piece:
            reach = _joined(place, depth, reach, last[1], at_end=not onward)
        last = None if reach is None else (place, reach.taken(at_end=onward))
        facings.append(None if reach is None else _facing(place, opening.finish.title, reach))
    return tuple(facings)


def _neighbours(place: Place) -> tuple[Edge, Edge]:
    edges = place.piece.edges
    i = edges.index(place.edge)
    return edges[i - 1], edges[(i + 1) % len(edges)]


def _depth(place: Place) -> float:
    return min(FACING_DEPTH, *(MOST_OF_NEIGHBOUR * edge.path.length for edge in _neighbours(place)))


def _reach(place: Place, depth: float) -> _Reach | None:
    before, after = _neighbours(place)
    try:
        line = extend(offset(place.edge.path, -depth), 3.0 * depth, 3.0 * depth)
    except OffsetError:
        return None
    at_start = _first(crossings(line, before.path), place.edge.path.start)
    at_end = _first(crossings(line, after.path), place.edge.path.end)
    if at_start is None or at_end is None or at_end.along_a - at_start.along_a < 1.0:
        return None
    return _Reach(line, at_start, at_end, before, after)


def _joined(place: Place, depth: float, reach: _Reach, wanted: float, *, at_end: bool) -> _Reach:
    """Return the reach at the depth at which it takes ``wanted`` mm of its neighbour."""
    best = reach
    for _ in range(ROUNDS):
        taken = best.taken(at_end=at_end)
        if abs(taken - wanted) <= ALIKE:
            break
        depth *= wanted / taken
        nearer = _reach(place, depth)
        if nearer is None or abs(nearer.taken(at_end=at_end) - wanted) >= abs(taken - wanted):
            break
        best = nearer
    return best


def _facing(place: Place, title: str, reach: _Reach) -> PatternPiece:
    piece, edge, before, after = place.piece, place.edge, reach.before, reach.after
    free = cut_out(reach.line, reach.at_start.along_a, reach.at_end.along_a).reversed()
    lead_out, _ = split_at(after.path, reach.at_end.along_b)
    _, lead_in = split_at(before.path, reach.at_start.along_b)
    edges = [
        edge,
        _part(after, lead_out, edge.end, f"{after.name}_inner"),
        Edge(
            INNER, INNER, "", f"{after.name}_inner", f"{before.name}_inner", _between(lead_out, free, lead_in)
        ),
        _part(before, lead_in, f"{before.name}_inner", edge.start),
    ]
    on_fold = any(e.fold for e in edges)
    while on_fold and not edges[-1].fold:
        edges.append(edges.pop(0))
    corners = {e.start: e.path.start for e in edges}
    named = f"{piece.title} {words(title).lower()} facing"
    return PatternPiece(f"{piece.name}_facing", named, piece.copies, on_fold, tuple(edges), corners)


def _first(found: tuple[Crossing, ...], corner: np.ndarray) -> Crossing | None:
    return min(found, key=lambda c: float(np.hypot(*(c.point - corner))), default=None)


def _part(edge: Edge, path: Path, start: str, end: str) -> Edge:
    return Edge(edge.name, edge.base, edge.side, start, end, path, edge.fold)


def _between(before: Path, path: Path, after: Path) -> Path:
    """Return the path with its ends exactly on its neighbours'."""
    segments = path.segments.copy()
    segments[0, 0], segments[-1, 3] = before.end, after.start
    return Path(segments)

"""Facings: strips that repeat an opening's edge and lie flat behind it.

A facing is cut out of its own piece: the opening's edge, the neighbours' edges as far as the facing
reaches, and a line parallel to the opening. So it fits exactly where it is sewn.
"""

import numpy as np

from likesewn.cut.edges import Place, words
from likesewn.garment import Edge, PatternPiece
from likesewn.garment.kind import FinishKind
from likesewn.geometry import Crossing, OffsetError, Path, crossings, cut_out, extend, offset, split_at

__all__ = ["FACING_DEPTH", "INNER", "facing_for"]

FACING_DEPTH = 50.0
"""Depth of a facing, mm (common practice, no source)."""

INNER = "inner_edge"
"""Name of the facing's free edge, which is neatened and sewn to nothing."""

MOST_OF_NEIGHBOUR = 0.7
"""A facing takes at most this share of a neighbouring edge, so that it stays clear of the next seam."""


def facing_for(place: Place, finish: FinishKind) -> PatternPiece | None:
    """Return the facing behind one edge of an opening, or None where the piece is too small for one.

    Args:
        place: The edge, and its piece.
        finish: The opening, for the facing's title.

    Returns:
        The facing at its seam line, in the frame of its piece. Its depth is ``FACING_DEPTH`` or, beside
        a short seam, less.
    """
    piece, edge = place.piece, place.edge
    i = piece.edges.index(edge)
    before, after = piece.edges[i - 1], piece.edges[(i + 1) % len(piece.edges)]
    shortest = min(e.path.length for e in (before, after))
    depth = min(FACING_DEPTH, MOST_OF_NEIGHBOUR * shortest)
    try:
        inner = extend(offset(edge.path, -depth), 3.0 * depth, 3.0 * depth)
    except OffsetError:
        return None
    at_start = _first(crossings(inner, before.path), edge.path.start)
    at_end = _first(crossings(inner, after.path), edge.path.end)
    if at_start is None or at_end is None or at_end.along_a - at_start.along_a < 1.0:
        return None
    free = cut_out(inner, at_start.along_a, at_end.along_a).reversed()
    lead_out, _ = split_at(after.path, at_end.along_b)
    _, lead_in = split_at(before.path, at_start.along_b)
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
    title = f"{piece.title} {words(finish.title).lower()} facing"
    return PatternPiece(f"{piece.name}_facing", title, piece.copies, on_fold, tuple(edges), corners)


def _first(found: tuple[Crossing, ...], corner: np.ndarray) -> Crossing | None:
    return min(found, key=lambda c: float(np.hypot(*(c.point - corner))), default=None)


def _part(edge: Edge, path: Path, start: str, end: str) -> Edge:
    return Edge(edge.name, edge.base, edge.side, start, end, path, edge.fold)


def _between(before: Path, path: Path, after: Path) -> Path:
    """Return the path with its ends exactly on its neighbours'."""
    segments = path.segments.copy()
    segments[0, 0], segments[-1, 3] = before.end, after.start
    return Path(segments)

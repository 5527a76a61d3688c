"""A kind's own shape as a pattern: what a garment looks like before anything of it was recorded."""

import numpy as np
from numpy.typing import NDArray

from likesewn.garment.kind import EdgeKind, Kind, PieceKind
from likesewn.garment.pattern import Edge, Pattern, PatternPiece
from likesewn.geometry import Path

__all__ = ["template_pattern"]


def template_pattern(kind: Kind) -> Pattern:
    """Return the template's pieces, mm; they are of a usual size, and their seams agree only roughly."""
    pieces = tuple(_piece(piece) for piece in kind.pieces)
    return Pattern(
        kind=kind,
        pieces=pieces,
        measures=(),
        seams=(),
        square_corners=(),
        smooth_joins=(),
        assumptions=(),
        findings=(),
        steps=0,
    )


def _piece(piece: PieceKind) -> PatternPiece:
    at = {corner.name: np.array([corner.x, corner.y]) for corner in piece.corners}
    edges = tuple(
        Edge(
            name=edge.name,
            base=edge.name,
            side="",
            start=edge.start,
            end=edge.end,
            path=_path(edge, at[edge.start], at[edge.end]),
            fold=edge is piece.fold,
        )
        for edge in piece.edges
    )
    return PatternPiece(piece.name, piece.title, piece.copies, piece.on_fold, edges, at)


def _path(edge: EdgeKind, start: NDArray[np.float64], end: NDArray[np.float64]) -> Path:
    if edge.straight:
        return Path.line(start, end)
    along = end - start
    if edge.frame == "box":
        inner = [start + np.array(uv) * along for uv in edge.shape]
    else:
        inner = [start + u * along + v * np.array([-along[1], along[0]]) for u, v in edge.shape]
    points = np.array([start, *inner, end])
    return Path(np.stack([points[i : i + 4] for i in range(0, len(points) - 1, 3)]))

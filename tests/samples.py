"""Values that several tests share: a pattern drawn straight from a kind's template."""

import numpy as np

from likesewn.garment import Edge, Kind, MeasureValue, Pattern, PatternPiece
from likesewn.garment.kind import EdgeKind, PieceKind
from likesewn.garment.kinds import load_kind
from likesewn.geometry import Path


def template_path(piece: PieceKind, edge: EdgeKind) -> Path:
    at = {c.name: np.array([c.x, c.y]) for c in piece.corners}
    start, end = at[edge.start], at[edge.end]
    if edge.straight:
        return Path.line(start, end)
    along = end - start
    if edge.frame == "box":
        inner = [start + np.array(uv) * along for uv in edge.shape]
    else:
        inner = [start + u * along + v * np.array([-along[1], along[0]]) for u, v in edge.shape]
    points = np.array([start, *inner, end])
    return Path(np.stack([points[i : i + 4] for i in range(0, len(points) - 1, 3)]))


def template_piece(piece: PieceKind) -> PatternPiece:
    edges = tuple(
        Edge(
            name=e.name,
            base=e.name,
            side="",
            start=e.start,
            end=e.end,
            path=template_path(piece, e),
            fold=piece.on_fold and e is piece.edges[-1],
        )
        for e in piece.edges
    )
    corners = {c.name: np.array([c.x, c.y]) for c in piece.corners}
    return PatternPiece(piece.name, piece.title, piece.copies, piece.on_fold, edges, corners)


def sample_pattern(kind: Kind | None = None) -> Pattern:
    """Return the kind's own template as a pattern; its seams agree only roughly."""
    kind = kind or load_kind("set-in-sleeve-top")
    measures = tuple(
        MeasureValue(key, kind.measures[key].title, mm, 3.0, mm, 3.0)
        for key, mm in (("body_length", 660.0), ("chest_width", 520.0), ("sleeve_length", 590.0))
        if key in kind.measures
    )
    return Pattern(
        kind=kind,
        pieces=tuple(template_piece(p) for p in kind.pieces),
        measures=measures,
        seams=(),
        square_corners=(),
        smooth_joins=(),
        assumptions=(),
        findings=(),
        steps=0,
    )

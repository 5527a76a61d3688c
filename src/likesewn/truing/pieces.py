"""From the solve's panels to the pattern's pieces: halves on the fold, or both halves put together."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Edge, PatternPiece
from likesewn.garment.kind import EdgeKind, PieceKind
from likesewn.geometry import Path, bezier
from likesewn.truing.panels import Panel, Panels
from likesewn.truing.unknowns import Unknowns

Array = NDArray[np.float64]

__all__ = ["panel_paths", "pattern_pieces"]


def panel_paths(unknowns: Unknowns, ctrl: Array) -> dict[tuple[str, str], Path]:
    """Return the edges as paths by (panel, edge).

    Args:
        unknowns: The unknowns.
        ctrl: Every segment's Bezier points, shape (segments, 4, 2), mm.
    """
    paths: dict[tuple[str, str], Path] = {}
    for key, run in unknowns.runs.items():
        own = ctrl[run.first : run.first + run.count]
        # thirds come out of the map with rounding; an exact line stays an exact line
        paths[key] = Path(bezier.line(own[0, 0], own[-1, 3])[None] if run.edge.straight else own)
    return paths


def pattern_pieces(panels: Panels, paths: Mapping[tuple[str, str], Path]) -> tuple[PatternPiece, ...]:
    """Return the pattern's pieces in the kind's order."""
    return tuple(_piece(panels.of(piece.name), paths) for piece in panels.kind.pieces)


def _piece(halves: tuple[Panel, ...], paths: Mapping[tuple[str, str], Path]) -> PatternPiece:
    piece = halves[0].piece
    edges = _folded(halves[0], paths) if len(halves) == 1 else _opened(halves, paths)
    corners = {edge.start: edge.path.start for edge in edges}
    opened = len(halves) > 1
    return PatternPiece(
        piece.name, piece.title, piece.copies, piece.on_fold and not opened, tuple(edges), corners
    )


def _folded(panel: Panel, paths: Mapping[tuple[str, str], Path]) -> list[Edge]:
    edges = [
        Edge(edge.name, edge.name, "", edge.start, edge.end, paths[panel.name, edge.name])
        for edge in panel.edges
    ]
    fold = panel.piece.fold
    if fold:
        line = Path.line(edges[-1].path.end, edges[0].path.start)
        edges.append(Edge(fold.name, fold.name, "", fold.start, fold.end, line, fold=True))
    return edges


def _opened(halves: tuple[Panel, ...], paths: Mapping[tuple[str, str], Path]) -> list[Edge]:
    """Return the edges all round: the first half as it stands, the second mirrored and walked back."""
    one, two = halves
    edges = [_half_edge(one, edge, paths[one.name, edge.name], edge.start, edge.end) for edge in one.edges]
    for edge in reversed(two.edges):
        path = paths[two.name, edge.name].mirrored().reversed()
        edges.append(_half_edge(two, edge, path, edge.end, edge.start))
    return _merged(edges, one.piece)


def _half_edge(panel: Panel, edge: EdgeKind, path: Path, start: str, end: str) -> Edge:
    name = panel.edge_name(edge)
    side = panel.side if name != edge.name else ""
    return Edge(name, edge.name, side, panel.corner_name(start), panel.corner_name(end), path)


def _merged(edges: list[Edge], piece: PieceKind) -> list[Edge]:
    """Join the two halves of an edge that crosses the old fold at a corner that is not kept."""
    keep = set(piece.opening.keep) if piece.opening else set[str]()
    joined: list[Edge] = []
    for edge in edges:
        last = joined[-1] if joined else None
        if last and last.end == edge.start and edge.start in piece.fold_corners - keep:
            path = Path.join([last.path, edge.path])
            joined[-1] = Edge(last.name, last.base, "", last.start, edge.end, path)
        else:
            joined.append(edge)
    return joined

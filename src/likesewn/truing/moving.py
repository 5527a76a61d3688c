"""Moving edges of a pattern sideways without breaking what sewing demands.

The moved edges, drawn parallel, and all the other edges as they stand are taken as observations of a
second solve over the same panels: an observed edge may be slid along, so that neighbours grow or shrink
to meet a moved one, and the seams, square corners and smooth joins hold throughout.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Edge, Pattern, Record, TracedPoints
from likesewn.geometry import Path, offset, point_at
from likesewn.truing.answer import WEAK, Untrued, solved
from likesewn.truing.checks import walk
from likesewn.truing.panels import Panel, Panels
from likesewn.truing.pieces import panel_paths, pattern_pieces
from likesewn.truing.problem import Problem
from likesewn.truing.splines import bezier_matrix

Array = NDArray[np.float64]

__all__ = ["move_edges"]

POINTS = 40
"""Places at which each edge is held."""

STAY = 0.1
"""Standard deviation with which an edge keeps its place, mm."""

LAY = "as it stands"
"""Name of the lay in which each piece is held."""


def move_edges(pattern: Pattern, moves: Mapping[str, float]) -> Pattern | Untrued:
    """Move edges sideways into their pieces, everything that sewing demands holding.

    Args:
        pattern: A trued pattern.
        moves: How far each edge moves into its piece, mm, by ``piece.edge``; negative moves it out.

    Returns:
        The pattern with the edges moved; its measures stay those of the garment as recorded. Or why
        it cannot be done.

    Raises:
        KeyError: A key names no edge of the pattern.
    """
    panels = _panels(pattern)
    halves = _half_paths(pattern, panels)
    for key in moves:
        piece, edge = key.split(".")
        if (piece, edge) not in {(p.piece.name, e.name) for p in panels.panels for e in p.edges}:
            raise KeyError(key)
    points: list[TracedPoints] = []
    for (name, edge), path in halves.items():
        panel = next(p for p in panels.panels if p.name == name)
        move = moves.get(f"{panel.piece.name}.{edge}", 0.0)
        moved = offset(path, -move) if move else path
        at = point_at(moved, np.linspace(0.0, moved.length, POINTS))
        # a lay of its own lets the piece shift: its level corner may be one that moves
        points.append(TracedPoints(name, edge, at, STAY, lay=LAY))
    points += _folds(panels, halves)
    ease = {s.name: s.ease_mm for s in pattern.seams}
    record = Record("", pattern.kind.name, points=tuple(points), ease=ease)
    problem = Problem(pattern.kind, record, panels)
    start = _unknowns(problem, halves)
    prior = problem.prior(start, WEAK)
    solution = solved(problem, problem.matrix(prior[0]), prior, start, (WEAK,))
    if not solution.converged:
        named = tuple(moves)
        return Untrued(f"these edges cannot be moved so far: {', '.join(named)}", named)
    paths = panel_paths(problem.unknowns, problem.bezier_points(solution.x))
    checks = walk(panels, paths, ease)
    return replace(
        pattern,
        pieces=pattern_pieces(panels, paths),
        seams=checks.seams,
        square_corners=checks.square_corners,
        smooth_joins=checks.smooth_joins,
    )


def _panels(pattern: Pattern) -> Panels:
    """Return the panels that the pattern was solved with."""
    found: list[Panel] = []
    for piece in pattern.kind.pieces:
        edges = pattern.piece(piece.name).edges
        sides = {edge.side for edge in edges if edge.side}
        for side in piece.opening.sides if piece.opening and sides else ("",):
            spans = {
                edge.name: _half_path(edges, edge.name, side).segments.shape[0] for edge in piece.sewn_edges
            }
            found.append(Panel(piece, side, spans))
    opened = {panel.piece.name for panel in found if panel.side}
    apart = tuple(group for group in pattern.kind.alike if opened & set(group.opens))
    alike = tuple(group for group in pattern.kind.alike if group not in apart)
    return Panels(pattern.kind, tuple(found), alike, apart)


def _half_paths(pattern: Pattern, panels: Panels) -> dict[tuple[str, str], Path]:
    return {
        (panel.name, edge.name): _half_path(pattern.piece(panel.piece.name).edges, edge.name, panel.side)
        for panel in panels.panels
        for edge in panel.edges
    }


def _folds(panels: Panels, halves: Mapping[tuple[str, str], Path]) -> list[TracedPoints]:
    """Return the folds held too: without them a piece could slide and turn across its fold."""
    found: list[TracedPoints] = []
    for panel in panels.panels:
        fold = panel.piece.fold
        if fold:
            start = halves[panel.name, panel.edges[-1].name].end
            end = halves[panel.name, panel.edges[0].name].start
            at = np.linspace(start, end, POINTS)
            found.append(TracedPoints(panel.name, fold.name, at, STAY, lay=LAY, off_centre_mm=0.0))
    return found


def _half_path(edges: tuple[Edge, ...], base: str, side: str) -> Path:
    """Return an edge as its panel has it: the second half of an opened piece is drawn mirrored."""
    own = [edge for edge in edges if edge.base == base and edge.side in {side, ""}]
    path = own[0].path
    second = bool(side) and path.segments[:, :, 0].mean() < 0.0
    if own[0].side == side:
        return path.mirrored().reversed() if second else path
    # an edge that crosses the old fold is both halves in one: it was joined there
    at = next(i for i, segment in enumerate(path.segments) if abs(segment[3, 0]) < 1e-9)
    first = Path(path.segments[: at + 1])
    is_first = side == next(edge.side for edge in edges if edge.side)
    return first if is_first else Path(path.segments[at + 1 :]).mirrored().reversed()


def _unknowns(problem: Problem, halves: Mapping[tuple[str, str], Path]) -> Array:
    x = np.zeros(problem.size)
    for key, (index, _) in problem.unknowns.control.items():
        if key not in halves:  # a fold follows from its corners
            continue
        segments = halves[key].segments
        if problem.unknowns.runs[key].edge.straight:
            controls = np.array([segments[0, 0], segments[-1, 3]])
        else:
            matrix = bezier_matrix(len(segments)).reshape(-1, len(segments) + 3)
            controls = np.linalg.lstsq(matrix, segments.reshape(-1, 2), rcond=None)[0]
        known = index >= 0
        x[index[known]] = controls[known]
    return problem.with_lays(x)

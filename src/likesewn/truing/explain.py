"""A pattern with all that can be told of it: how sure it is, what truing moved, what to measure next."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Kind, Pattern, PatternPiece, Record
from likesewn.geometry import bezier
from likesewn.truing.answer import Answer, Untrued, answer
from likesewn.truing.checks import Checks, walk
from likesewn.truing.next_measure import NextMeasure, next_measures
from likesewn.truing.pattern import fitted, pattern_of
from likesewn.truing.places import Places, places
from likesewn.truing.problem import Problem

if TYPE_CHECKING:
    from likesewn.truing.panels import Panel

Array = NDArray[np.float64]

__all__ = [
    "CornerSure",
    "EdgeSure",
    "Explained",
    "Move",
    "Spread",
    "corner_places",
    "edge_lengths",
    "explain",
]

NEAR = 0.2
"""A place within this share of an edge from one of its ends is said to be near the corner there."""


@dataclass(frozen=True, slots=True)
class EdgeSure:
    """The length of an edge and its standard error, mm; ``name`` is ``piece.edge``."""

    name: str
    length_mm: float
    sigma_mm: float


@dataclass(frozen=True, slots=True)
class CornerSure:
    """A corner's place in its piece's frame and the standard errors of its x and y, mm."""

    piece: str
    corner: str
    at: tuple[float, float]
    sigma_mm: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Spread:
    """How sure a seam line's place is along an edge.

    Attributes:
        piece: The piece.
        edge: The edge, as the pattern calls it.
        at: Places on the seam line in the piece's frame, in order, shape (n, 2), mm.
        normal: Unit normals there, shape (n, 2).
        sigma_mm: Standard error of each place, square to the line, shape (n,).
    """

    piece: str
    edge: str
    at: Array
    normal: Array
    sigma_mm: Array


@dataclass(frozen=True, slots=True)
class Move:
    """Where truing moved a seam line most.

    Attributes:
        piece: The piece.
        edge: The edge, as the pattern calls it.
        mm: How far, square to the line; positive out of the piece.
        near: Corner that it is near, or empty in the middle of the edge.
    """

    piece: str
    edge: str
    mm: float
    near: str


@dataclass(frozen=True, slots=True)
class Explained:
    """A pattern and what can be told about it.

    Attributes:
        pattern: The trued pattern.
        edges: Its edges' lengths with their standard errors.
        corners: Its corners' places with their standard errors.
        spreads: How sure each seam line's place is.
        before: Seams, corners and joins of the pieces as recorded, before sewing's demands; None where the
            record alone could not be fitted.
        pieces_before: Those pieces; empty likewise.
        moves: What truing moved, the largest move first.
        next_measures: Which measures would make it surest.
    """

    pattern: Pattern
    edges: tuple[EdgeSure, ...]
    corners: tuple[CornerSure, ...]
    spreads: tuple[Spread, ...]
    before: Checks | None
    pieces_before: tuple[PatternPiece, ...]
    moves: tuple[Move, ...]
    next_measures: tuple[NextMeasure, ...]


def explain(record: Record, kind: Kind) -> Explained | Untrued:
    """True a record and tell everything about the answer.

    Args:
        record: What was observed.
        kind: The garment's kind.

    Returns:
        The pattern and what can be told about it, or why there is none.
    """
    found = fitted(record, kind)
    if isinstance(found, Untrued):
        return found
    problem = found.problem
    at = places(found)
    loose = answer(Problem(kind, record, problem.panels, demands=False))
    before = None if isinstance(loose, Untrued) else loose
    return Explained(
        pattern=pattern_of(found),
        edges=tuple(edge_lengths(found)),
        corners=tuple(corner_places(found)),
        spreads=tuple(_spreads(found, at)),
        before=before and walk(problem.panels, before.paths, record.ease),
        pieces_before=before.pieces if before else (),
        moves=tuple(_moves(found, before, at)) if before else (),
        next_measures=next_measures(found, at),
    )


def edge_lengths(found: Answer) -> Iterable[EdgeSure]:
    """Yield the length of every edge, how sure it is included.

    An edge that crosses an opened piece's fold is two halves in one.
    """
    problem = found.problem
    parts: dict[str, list[tuple[str, str]]] = {}
    for (name, edge), run in problem.unknowns.runs.items():
        if run.panel.piece.fold is not run.edge:
            key = f"{run.panel.piece.name}.{run.panel.edge_name(run.edge)}"
            parts.setdefault(key, []).append((name, edge))
    terms = [
        {k: v for part in own for k, v in problem.quantities.length(problem.unknowns.runs[part]).items()}
        for own in parts.values()
    ]
    sigmas = found.sureness.sigmas(problem.rows(terms, found.solution.x).toarray())
    for (key, own), sigma in zip(parts.items(), sigmas, strict=True):
        yield EdgeSure(key, sum(found.paths[part].length for part in own), float(sigma))


def corner_places(found: Answer) -> Iterable[CornerSure]:
    """Yield the place of every corner, how sure it is included."""
    problem = found.problem
    named: list[tuple[Panel, str, int]] = []
    seen: set[tuple[str, str]] = set()
    for panel in problem.panels.panels:
        for corner in panel.piece.corners:
            name = panel.corner_name(corner.name)
            if (panel.piece.name, name) not in seen:
                seen.add((panel.piece.name, name))
                named.append((panel, corner.name, problem.unknowns.corner(panel, corner.name)))
    terms = [problem.quantities.coordinate(at + axis) for _, _, at in named for axis in (0, 1)]
    sigmas = found.sureness.sigmas(problem.rows(terms, found.solution.x).toarray()).reshape(-1, 2)
    raw = problem.raw(found.solution.x)
    for (panel, corner, i), (sx, sy) in zip(named, sigmas, strict=True):
        at = float(raw[i]) * panel.hand, float(raw[i + 1])
        yield CornerSure(panel.piece.name, panel.corner_name(corner), at, (float(sx), float(sy)))


def _spreads(found: Answer, at: Places) -> Iterable[Spread]:
    sigmas = found.sureness.sigmas(at.rows.toarray())
    for i, run in enumerate(at.runs):
        mine = at.run == i
        flip = np.array([run.panel.hand, 1.0])
        yield Spread(
            run.panel.piece.name,
            run.panel.edge_name(run.edge),
            at.at[mine] * flip,
            at.normal[mine] * flip,
            sigmas[mine],
        )


def _moves(found: Answer, before: Answer, at: Places) -> Iterable[Move]:
    """Return how far the seam lines moved from the record's own shapes, the largest move of each edge."""
    was = found.problem.bezier_points(found.solution.x) - before.problem.bezier_points(before.solution.x)
    moves: list[Move] = []
    for i, run in enumerate(at.runs):
        mine = np.flatnonzero(at.run == i)
        on_span = len(mine) // run.count
        t = np.tile((np.arange(on_span) + 0.5) / on_span, run.count)
        own = np.repeat(was[run.first : run.first + run.count], on_span, axis=0)
        out = (bezier.position(own, t) * at.normal[mine]).sum(axis=1)
        most = int(np.argmax(np.abs(out)))
        along = (np.cumsum(at.length[mine]) - at.length[mine] / 2) / at.length[mine].sum()
        near = run.edge.start if along[most] < NEAR else run.edge.end if along[most] > 1.0 - NEAR else ""
        panel = run.panel
        name = panel.corner_name(near) if near else ""
        moves.append(Move(panel.piece.name, panel.edge_name(run.edge), float(out[most]), name))
    return sorted(moves, key=lambda m: -abs(m.mm))

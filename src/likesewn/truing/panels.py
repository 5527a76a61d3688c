"""Which panels a record leaves to solve for: halves on the fold, opened out where halves differ.

A panel is a piece as it stands on its fold, or one half of a piece that opens out (drawn as the first
half is, so that both halves are solved alike), or a whole piece without a fold.
"""

import math
from dataclasses import dataclass
from itertools import combinations

from likesewn.garment import Kind, Record
from likesewn.garment.kind import Alike, EdgeKind, PieceKind

__all__ = ["Panel", "Panels", "panels"]

POINTS_PER_SPAN = 16
"""Traced points that justify one more span: fewer would let a curve follow the noise of its points."""

POINTS_ENOUGH = 8
"""Traced points from which an edge's spans follow its points and no longer the kind."""

MOST_SPANS = 8
"""Enough for any garment edge at sewing accuracy; more only follows noise."""

APART = 2.0
"""Standard deviations by which the same measure of two pieces must differ to tell them apart: less is what a
tape would give on two pieces cut alike."""


@dataclass(frozen=True, slots=True)
class Panel:
    """One flat half (or whole) to solve for.

    Attributes:
        piece: The piece it belongs to.
        side: Half of an opened piece, or empty.
        spans: Number of spans by edge name.
    """

    piece: PieceKind
    side: str
    spans: dict[str, int]

    @property
    def name(self) -> str:
        """Piece name, with the side where there is one."""
        return f"{self.piece.name}:{self.side}" if self.side else self.piece.name

    def edge_name(self, edge: EdgeKind) -> str:
        """Return the edge's name as printed: with its side where an opened piece has two of them."""
        return self.piece.half_name(edge, self.side)

    @property
    def hand(self) -> float:
        """Which way its x counts in the piece's frame: -1 for the second half of an opened piece, else 1."""
        opening = self.piece.opening
        return -1.0 if opening and self.side == opening.sides[1] else 1.0

    def corner_name(self, corner: str) -> str:
        """Return the corner's name as printed: with its side where an opened piece has two of them."""
        return f"{corner}_{self.side}" if self.side and corner not in self.piece.fold_corners else corner

    @property
    def edges(self) -> tuple[EdgeKind, ...]:
        """The edges to solve for: all but the fold, which follows from its corners."""
        return self.piece.sewn_edges


@dataclass(frozen=True, slots=True)
class Panels:
    """The panels of a garment.

    Attributes:
        kind: The kind.
        panels: All panels, opened halves side by side.
        alike: The alike groups whose pieces the record does not tell apart; they share unknowns.
        apart: The alike groups that it does tell apart; they are only drawn towards one another.
    """

    kind: Kind
    panels: tuple[Panel, ...]
    alike: tuple[Alike, ...]
    apart: tuple[Alike, ...]

    def of(self, piece: str, side: str = "") -> tuple[Panel, ...]:
        """Return the panels of a piece: the half meant by ``side`` where it is opened, else all."""
        found = tuple(p for p in self.panels if p.piece.name == piece)
        chosen = tuple(p for p in found if side and p.side == side)
        return chosen or found


def _told_apart(group: Alike, record: Record, kind: Kind) -> bool:
    """Return whether the record tells the group's two pieces apart along their common edges.

    It does when it gives a measure for one of them by name, gives the same measure of each with figures
    that differ by more than a tape's error, or traces one half of a piece that opens out for their sake.
    """
    figures: dict[object, list[tuple[float, float]]] = {}
    keys = kind.tape_keys()
    for key, figure in record.tape.items():
        measure = keys.get(key)
        if measure is None:
            continue
        if key != measure.key and set(measure.variants()[key]) & set(group.pieces):
            return True
        if len(measure.pieces) == 1 and set(measure.edges) & set(group.edges):
            same = (measure.op, measure.corners, measure.edges, measure.level)
            figures.setdefault(same, []).append((figure.mm, figure.sigma_mm or measure.sigma))
    for pairs in figures.values():
        if any(abs(a - b) > APART * math.hypot(s, t) for (a, s), (b, t) in combinations(pairs, 2)):
            return True
    halves = {
        (name, half)
        for name in group.opens
        for edge in kind.piece(name).sewn_edges
        for half in _halves(kind.piece(name), edge)
    }
    return bool({(p.piece, p.edge) for p in record.points} & halves)


def _both_traced(group: Alike, record: Record) -> bool:
    """Return whether both pieces of the group were traced along one of their common edges."""
    traced = {(p.piece, p.edge) for p in record.points}
    return any(all((piece, edge) in traced for piece in group.pieces) for edge in group.edges)


def _halves(piece: PieceKind, edge: EdgeKind) -> set[str]:
    """Return the edge's names on the halves of the piece opened out, where they differ from its own."""
    sides = piece.opening.sides if piece.opening else ()
    return {piece.half_name(edge, side) for side in sides} - {edge.name}


def panels(kind: Kind, record: Record, *, alike_if_traced: bool = False) -> Panels:
    """Return the panels that the record leaves to solve for.

    Args:
        kind: The garment's kind.
        record: What was observed of it.
        alike_if_traced: Take pieces that are usually alike for alike though both were traced.

    Returns:
        The panels, with the alike groups that hold exactly and those that do not.
    """
    apart = tuple(
        group
        for group in kind.alike
        if _told_apart(group, record, kind) or (not alike_if_traced and _both_traced(group, record))
    )
    # what is usually alike in an uneven kind is said edge by edge, and only drawn towards one another
    alike = () if kind.halves else tuple(group for group in kind.alike if group not in apart)
    opened = {name for group in apart for name in group.opens}
    found: list[Panel] = []
    for piece in kind.pieces:
        sides = piece.opening.sides if piece.name in opened and piece.opening else ("",)
        found.extend(Panel(piece, side, _spans(kind, piece, side, record)) for side in sides)
    return Panels(kind, tuple(found), alike, apart)


def _spans(kind: Kind, piece: PieceKind, side: str, record: Record) -> dict[str, int]:
    counted = {piece.name} | {p for g in kind.alike if piece.name in g.pieces for p in g.pieces}
    spans: dict[str, int] = {}
    for edge in piece.edges:
        names = {edge.name, piece.half_name(edge, side)}
        shared = {g for g in kind.alike if piece.name in g.pieces and edge.name in g.edges}
        points = sum(
            len(p.at)
            for p in record.points
            if p.edge in names and (p.piece == piece.name or (shared and p.piece in counted))
        )
        own = min(edge.spans, 2) if points >= POINTS_ENOUGH else edge.spans
        spans[edge.name] = min(max(own, points // POINTS_PER_SPAN), MOST_SPANS)
    return spans

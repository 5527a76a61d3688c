"""Which edge of a pattern a kind's name means, which way it runs, and what it is finished with.

The kind names an edge once (``sleeve.cap``); a pattern may hold it as one edge of a piece on the fold, as
two edges of a piece that is opened out (the half at x < 0 walked the other way), or as one edge over both
halves. Everything here reads the kind and the pattern; nothing knows a name by itself.
"""

from dataclasses import dataclass

from likesewn.garment import Edge, Kind, Pattern, PatternPiece, Record
from likesewn.garment.kind import FinishKind

__all__ = ["Place", "base_corner", "find", "finish_at", "finish_chosen", "forward", "is_turned", "words"]


@dataclass(frozen=True, slots=True)
class Place:
    """An edge and the piece that it belongs to."""

    piece: PatternPiece
    edge: Edge

    @property
    def name(self) -> str:
        """``piece.edge``, as in allowances and findings."""
        return f"{self.piece.name}.{self.edge.name}"


def words(name: str) -> str:
    """Return a name from a kind as words: ``neck_centre`` as ``neck centre``."""
    return name.replace("_", " ")


def find(pattern: Pattern, name: str, side: str = "") -> Place | None:
    """Return the edge that a kind means by ``piece.edge``, on the half ``side`` of an opened piece.

    Where no half is named and the piece is opened, its first half is meant. None where the pattern has
    no such edge.
    """
    piece_name, _, base = name.partition(".")
    for piece in pattern.pieces:
        if piece.name != piece_name:
            continue
        found = [edge for edge in piece.edges if edge.base == base]
        fitting = [edge for edge in found if edge.side in ("", side)] or ([] if side else found)
        if fitting:
            return Place(piece, fitting[0])
    return None


def forward(kind: Kind, place: Place) -> bool:
    """Say whether the edge runs as the kind draws it: false on the second half of an opened piece."""
    opening = kind.piece(place.piece.name).opening
    return opening is None or place.edge.side != opening.sides[1]


def base_corner(kind: Kind, place: Place, *, at_end: bool) -> str:
    """Return the kind's name of the corner at the edge's start, or at its end."""
    for drawn in kind.piece(place.piece.name).edges:
        if drawn.name == place.edge.base:
            opened = not place.piece.on_fold and kind.piece(place.piece.name).on_fold
            if opened and not place.edge.side:
                return drawn.start  # one edge over both halves: both its ends are the same corner
            return drawn.end if at_end == forward(kind, place) else drawn.start
    return place.edge.end if at_end else place.edge.start


def finish_chosen(finish: FinishKind, record: Record) -> str:
    """Return what the opening will be finished with: the record's choice, or the kind's usual one."""
    return record.finish.get(finish.name, {}).get("finish") or finish.finishes[0]


def finish_at(kind: Kind, place: Place) -> FinishKind | None:
    """Return the finished opening that the edge belongs to, or None."""
    name = f"{place.piece.name}.{place.edge.base}"
    return next((finish for finish in kind.finishes if name in finish.edges), None)


def is_turned(kind: Kind, place: Place, record: Record) -> bool:
    """Say whether the edge's allowance is folded up against the garment when it is sewn."""
    finish = finish_at(kind, place)
    if finish is not None:
        return finish_chosen(finish, record) == "turned"
    return place.edge.base in kind.turned

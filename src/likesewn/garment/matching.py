"""Points at which stripes can meet at a seam: the ends of seams, and the matching points on them."""

from dataclasses import dataclass

from likesewn.garment.kind import Kind

__all__ = ["MatchPoint", "match_points"]


@dataclass(frozen=True, slots=True)
class MatchPoint:
    """One point of a seam between two pieces, on either of its edges.

    Attributes:
        name: What it is called in the garment file, such as ``front notch`` or ``side at underarm``.
        left: Piece and edge on one side, and the half it lies on when the piece is opened out, or empty.
        right: The same on the other side.
        ends: Which end of either edge it is, ``start`` or ``end``; empty for a matching point.
        notch: Name of the matching point, or empty for the end of the seam.
    """

    name: str
    left: tuple[str, str, str]
    right: tuple[str, str, str]
    ends: tuple[str, str] = ("", "")
    notch: str = ""


def match_points(kind: Kind) -> tuple[MatchPoint, ...]:
    """Return the points at which stripes can be matched on this kind of garment, each name once."""
    found: dict[str, MatchPoint] = {}
    for seam in kind.seams:
        left_piece, left_edge = seam.left.split(".")
        right_piece, right_edge = seam.right.split(".")
        if left_piece == right_piece:
            continue
        left = left_piece, left_edge, seam.left_side
        right = right_piece, right_edge, seam.right_side
        edge = kind.piece(left_piece).edge(left_edge)
        for end, corner in (("start", edge.start), ("end", edge.end)):
            name = f"{seam.name} at {corner.replace('_', ' ')}"
            found.setdefault(name, MatchPoint(name, left, right, (end, seam.right_end(end))))
        for notch in kind.notches:
            if notch.seam == seam.name and notch.name:
                found.setdefault(notch.name, MatchPoint(notch.name, left, right, notch=notch.name))
    return tuple(found.values())

"""Matching stripes and checks: where along its length each piece has to lie within the repeat.

Two pieces are matched at a point of the seam between them when that point falls at the same place of the
repeat on both. Pieces that are matched with one another form a *set*; within it one figure for each piece,
its *mark*, says where along the piece the set's common line runs, so that all marks lie whole repeats apart.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from likesewn.cut.cutlist import CutPiece
from likesewn.garment.matching import MatchPoint
from likesewn.geometry import point_at

__all__ = ["Marks", "Match", "marks_of", "matches_of", "place_along"]

AGREE = 1.0
"""Distance within which two ways to match a piece agree, mm."""


@dataclass(frozen=True, slots=True)
class Match:
    """One point that two pieces share.

    Attributes:
        name: What it is called.
        first: The first piece, and how far along its grain from the piece's start the point lies, mm.
        second: The same of the second piece.
    """

    name: str
    first: tuple[str, float]
    second: tuple[str, float]


@dataclass(frozen=True, slots=True)
class Marks:
    """Where the line of its set runs along each piece.

    Attributes:
        repeat: How often the pattern repeats along the cloth, mm.
        marks: For each piece the number of its set and its mark, mm from the piece's start.
        unmet: Names of points that cannot be matched together with those before them.
    """

    repeat: float = 0.0
    marks: Mapping[str, tuple[int, float]] = field(default_factory=dict[str, tuple[int, float]])
    unmet: tuple[str, ...] = ()


def matches_of(pieces: Sequence[CutPiece], points: Sequence[MatchPoint]) -> tuple[Match, ...]:
    """Return the points that are on two of the pieces, in the order of ``points``."""
    by_name = {piece.name: piece for piece in pieces}
    found: list[Match] = []
    for point in points:
        places = [
            _place(by_name.get(edge[0]), edge, point, end)
            for edge, end in ((point.left, point.ends[0]), (point.right, point.ends[1]))
        ]
        first, second = places
        if first is not None and second is not None:
            found.append(Match(point.name, (point.left[0], first), (point.right[0], second)))
    return tuple(found)


def _place(piece: CutPiece | None, edge: tuple[str, str, str], point: MatchPoint, end: str) -> float | None:
    """Return how far along the grain a point of an edge lies from the piece's start, mm."""
    if piece is None:
        return None
    _, base, side = edge
    for own in piece.seam:
        if own.base != base or (own.side and side and own.side != side):
            continue
        if end:
            return place_along(piece, own.path.start if end == "start" else own.path.end)
        for notch in piece.notches:
            if point.notch in notch.name.split(" and ") and notch.edge == own.name:
                return place_along(piece, point_at(own.path, notch.along_mm))
    return None


def place_along(piece: CutPiece, point: NDArray[np.float64]) -> float:
    """Return how far a point of a piece lies along its grain from the piece's start, mm."""
    way = np.asarray(piece.grain.end - piece.grain.start, dtype=float)
    if way[1] < 0 or (way[1] == 0 and way[0] < 0):
        way = -way
    way = way / np.hypot(*way)
    return float(np.reshape(point, 2) @ way - (piece.outline() @ way).min())


def marks_of(matches: Sequence[Match], repeat: float) -> Marks:
    """Return the marks that bring all matches about as far as they agree with one another.

    Args:
        matches: What is to be matched, the most important first.
        repeat: How often the pattern repeats along the cloth, mm, more than 0.
    """
    marks: dict[str, tuple[int, float]] = {}
    unmet: list[str] = []
    for number, match in enumerate(matches):
        (first, at_first), (second, at_second) = match.first, match.second
        if first not in marks and second not in marks:
            marks[first], marks[second] = (number, at_first), (number, at_second)
        elif first not in marks or second not in marks:
            new, at_new, old, at_old = (
                (first, at_first, second, at_second)
                if second in marks
                else (second, at_second, first, at_first)
            )
            own, mark = marks[old]
            marks[new] = own, mark + at_new - at_old
        else:
            (one, mark), (other, its) = marks[first], marks[second]
            shift = (mark - at_first) - (its - at_second)
            if one != other:
                marks |= {name: (one, m + shift) for name, (own, m) in marks.items() if own == other}
            elif abs(shift - repeat * round(shift / repeat)) > AGREE:
                unmet.append(match.name)
    return Marks(repeat, marks, tuple(unmet))

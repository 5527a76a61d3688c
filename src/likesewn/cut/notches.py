"""Matching points: where two edges are pinned together, and the strokes that mark them.

A seam's notch lies at the same share of both its edges, so that ease is spread evenly between notches;
shares are counted from the ends that meet. Strokes run from the cut line inward, square to the seam line.
"""

from collections.abc import Iterable, Mapping
from itertools import islice

import numpy as np
from numpy.typing import NDArray

from likesewn.cut.cutlist import Notch
from likesewn.cut.edges import Place, base_corner, find, forward, words
from likesewn.cut.opening import Opening
from likesewn.garment import Edge, Finding, Pattern, PatternPiece, Weight
from likesewn.garment.kind import NotchKind, Seam
from likesewn.garment.uneven import even_title
from likesewn.geometry import Path, crossings, distances, point_at, tangent_at
from likesewn.units import format_length

__all__ = ["STROKE", "STROKE_APART", "Point", "draw", "opening_points", "seam_points", "top_points"]

Array = NDArray[np.float64]

STROKE = 5.0
"""Length of a notch's stroke, mm (common practice, no source)."""

STROKE_APART = 6.0
"""Distance between the two strokes of a double notch, mm (common practice, no source)."""

SAME_PLACE = 0.5
"""Matching points of one edge that are nearer than this are one point, mm."""

ON_LINE = 0.02
"""A stroke's start that is nearer to the cut line than this, mm, lies on it."""

CLEAR = 3.0
"""A notch keeps at least this far from the corner's allowance, mm, or the snip would spoil the corner."""

Point = tuple[str, str, str, float, int]
"""Piece, edge, name, distance along the edge from its start in mm, number of strokes."""


def _point(place: Place, name: str, along: float, marks: int = 1) -> Point:
    return (place.piece.name, place.edge.name, name, along, marks)


def seam_points(pattern: Pattern) -> tuple[Point, ...]:
    """Return the matching points that the kind wants on its seams, on both edges of each."""
    seams = {seam.name: seam for seam in pattern.kind.seams}
    found: list[Point] = []
    for notch in pattern.kind.notches:
        seam = seams[notch.seam]
        found += _pair(pattern, notch, seam)
    return tuple(found)


def _pair(pattern: Pattern, notch: NotchKind, seam: Seam) -> Iterable[Point]:
    for name, side, share in (
        (seam.left, seam.left_side, notch.share),
        (seam.right, seam.right_side, 1.0 - notch.share if seam.reverse else notch.share),
    ):
        place = find(pattern, name, side)
        if place is None:
            continue
        onward = share if forward(pattern.kind, place) else 1.0 - share
        yield _point(place, notch.name or notch.seam, onward * place.edge.path.length, notch.marks)


def top_points(pattern: Pattern) -> tuple[Point, ...]:
    """Return the points where one piece's edge meets the seam between two others, as at a sleeve's top.

    They lie where an edge that is sewn to two different pieces comes to its piece's fold, or where the
    two halves of such an edge come together on a piece that is opened out.
    """
    partners: dict[str, set[str]] = {}
    for seam in pattern.kind.seams:
        for mine, theirs in ((seam.left, seam.right), (seam.right, seam.left)):
            partners.setdefault(mine, set()).add(theirs.partition(".")[0])
    found: list[Point] = []
    for piece in pattern.pieces:
        folds = {corner for edge in piece.edges if edge.fold for corner in (edge.start, edge.end)}
        for i, edge in enumerate(piece.edges):
            if edge.fold or len(partners.get(f"{piece.name}.{edge.base}", ())) < 2:
                continue
            place = Place(piece, edge)
            if edge.start in folds or piece.edges[i - 1].base == edge.base:
                found.append(_point(place, _top_name(pattern, place, at_end=False), 0.0))
            elif edge.end in folds:
                found.append(_point(place, _top_name(pattern, place, at_end=True), edge.path.length))
    return tuple(found)


def _top_name(pattern: Pattern, place: Place, *, at_end: bool) -> str:
    """Return ``sleeve top`` for the corner ``cap_top`` of a sleeve's edge ``cap``."""
    corner = base_corner(pattern.kind, place, at_end=at_end).removeprefix(f"{place.edge.base}_")
    return f"{even_title(place.piece.title).lower()} {words(corner)}"


def opening_points(pattern: Pattern, opening: Opening) -> tuple[Point, ...]:
    """Return the centre and quarter marks of a finished opening."""
    found: list[Point] = []
    for place, _ in opening.run:
        folds = {corner for edge in place.piece.edges if edge.fold for corner in (edge.start, edge.end)}
        for corner, at_end in ((place.edge.start, False), (place.edge.end, True)):
            if corner in folds:
                name = base_corner(pattern.kind, place, at_end=at_end)
                along = place.edge.path.length if at_end else 0.0
                found.append(_point(place, f"{even_title(place.piece.title).lower()} {words(name)}", along))
    ends = (0.0, opening.length_mm / 2.0) if opening.halved else ()
    for along in opening.quarters_mm:
        if all(abs(along - end) > SAME_PLACE for end in ends):
            mark = opening.at(along)
            found.append(_point(mark.place, "quarter mark", mark.along_mm))
    return tuple(found)


def draw(
    piece: PatternPiece,
    points: Iterable[Point],
    cut: Mapping[str, Path],
    allowances: Mapping[str, float],
    unit: str = "mm",
) -> tuple[tuple[Notch, ...], tuple[Finding, ...]]:
    """Draw the matching points of one piece.

    Args:
        piece: The piece at its seam line.
        points: Matching points; those of other pieces are passed over.
        cut: Cut line by edge name.
        allowances: Allowance by edge name, mm.
        unit: Unit for lengths in findings.

    Returns:
        The notches, points at one place drawn once (with the fewer strokes, and both names); and a
        finding for each that cannot be drawn because it would fall into a corner.
    """
    merged: dict[str, list[Point]] = {}
    for point in points:
        if point[0] == piece.name:
            _merge(merged.setdefault(point[1], []), point)
    notches: list[Notch] = []
    findings: list[Finding] = []
    for edge in piece.edges:
        kept: list[Point] = []
        for point in sorted(merged.get(edge.name, []), key=lambda p: p[3]):
            _, _, name, along, marks = point
            if _in_corner(piece, edge, along, marks, allowances):
                findings.append(_too_near(piece, edge, name, along, unit))
            else:
                kept.append(point)
        if not kept:
            continue
        places = [s for *_, along, marks in kept for s in _places(along, marks, edge.path.length)]
        strokes = iter(_strokes(edge.path, np.array(places), cut[edge.name], allowances[edge.name]))
        notches += [
            Notch(name, edge.name, along, marks, tuple(islice(strokes, marks)))
            for _, _, name, along, marks in kept
        ]
    return tuple(notches), tuple(findings)


def _merge(points: list[Point], new: Point) -> None:
    for i, (piece, edge, name, along, marks) in enumerate(points):
        if abs(along - new[3]) <= SAME_PLACE:
            both = name if new[2] in name.split(" and ") else f"{name} and {new[2]}"
            points[i] = (piece, edge, both, along, min(marks, new[4]))
            return
    points.append(new)


def _in_corner(
    piece: PatternPiece, edge: Edge, along: float, marks: int, allowances: Mapping[str, float]
) -> bool:
    """Say whether strokes would fall into a corner; a point right at a fold or a kept corner may."""
    length = edge.path.length
    i = piece.edges.index(edge)
    count = len(piece.edges)
    half = STROKE_APART / 2.0 if marks > 1 else 0.0
    for away, other in ((along, piece.edges[i - 1]), (length - along, piece.edges[(i + 1) % count])):
        if other.fold or other.base == edge.base:
            if away > SAME_PLACE and away < half:
                return True
        elif away < allowances[other.name] + CLEAR + half:
            return True
    return False


def _too_near(piece: PatternPiece, edge: Edge, name: str, along: float, unit: str) -> Finding:
    away = min(along, edge.path.length - along)
    return Finding(
        code="mark-at-corner",
        weight=Weight.NOTE,
        where=f"{piece.title}, {words(edge.name)}",
        message=f"The {name} falls {format_length(away, unit)} from a corner, too near to be snipped.",
        amount=away,
        unit="mm",
        todo="Match it from the corner, which is a matching point by itself.",
    )


def _places(along: float, marks: int, length: float) -> tuple[float, ...]:
    half = STROKE_APART / 2.0
    return (along,) if marks == 1 else (max(along - half, 0.0), min(along + half, length))


def _strokes(seam: Path, places: Array, cut: Path, allowance: float) -> list[Path]:
    at, way = point_at(seam, places), tangent_at(seam, places)
    out = np.stack([way[:, 1], -way[:, 0]], axis=-1)
    starts = at + allowance * out
    # where a neighbour has cut the parallel short, a stroke starts where the cut line truly is
    for i in np.flatnonzero(distances(cut, starts) > ON_LINE):
        ray = Path.line(at[i] - out[i], at[i] + (allowance + STROKE) * out[i])
        met = [float((m.point - at[i]) @ out[i]) for m in crossings(ray, cut)]
        if met:
            starts[i] = at[i] + min(met, key=lambda d: abs(d - allowance)) * out[i]
    return [Path.line(start, start - STROKE * o) for start, o in zip(starts, out, strict=True)]

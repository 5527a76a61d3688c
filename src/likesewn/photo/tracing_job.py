"""The whole way from photographs of one lay to traced edges: scale, tracing, seams, and edges put by hand.

The command line and the workbench both trace through here; they only read what a person typed or drew.
What is asked for is checked against the kind here too, so that both refuse the same things.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from likesewn.errors import InputError, Problem
from likesewn.garment import Finding, Kind, TracedPoints
from likesewn.garment.keys import traced_edges
from likesewn.photo.hints import NO_HINT, Hint
from likesewn.photo.known import Known, known_length, rectify_known
from likesewn.photo.plane import Plane
from likesewn.photo.reading import Picture
from likesewn.photo.rectify import PrintScale, Rectified, rectify
from likesewn.photo.trace import Tracing, add_seam, corner_names, measured_between, scaled, trace
from likesewn.units import UnitError, parse_length

__all__ = [
    "EdgeName",
    "Lay",
    "LayTraced",
    "Seam",
    "check_lay",
    "edge_name",
    "find_garment",
    "read_length",
    "trace_lay",
    "with_lines",
]

Array = NDArray[np.float64]
EdgeName = tuple[str, str, str]
"""Piece, edge and side, as in ``TracedPoints``."""

PLACED_SIGMA_PX = 2.0
"""How exactly a person puts a point on an edge under a magnifier, px; the edge itself is about as soft."""

MOST_PLACED = 200
"""Points that one edge put by hand may have."""

_RULER_MM = (190.0, 210.0)
"""What a printed 200 mm ruler can measure on any printer that works at all."""


@dataclass(frozen=True, slots=True)
class Seam:
    """A seam inside the garment to be followed.

    Attributes:
        piece: The piece that it belongs to.
        edge: The edge's name.
        picked: Two points on it or more, in order, shape (n, 2), px.
    """

    piece: str
    edge: str
    picked: Array


@dataclass(frozen=True, slots=True)
class Lay:
    """What a person says about photographs of one lay.

    Attributes:
        kind: The kind of garment, or None for the outline alone.
        face: The piece that faces up; empty means the kind's usual one.
        hint: What was shown in the photograph.
        thickness: Height of the cloth above the table and its sigma, mm, or None where nobody measured.
        usual_thickness: What holds where nobody measured, mm and sigma.
        rulers_mm: Lengths of a sheet's printed 200 mm rulers as measured, along and then across.
        thing: Something of known size that stands in for reference sheets.
        measure: A tape measure that stands in for them: its key and the figure as typed; empty for none.
        seams: Seams to be followed.
        placed: Edges put by hand, in place of what was traced: points in order along each, px.
        photo: Place of the photograph that all of this was drawn in, from 0, which then is the one that is
            traced; None for the one taken most squarely.
    """

    kind: Kind | None = None
    face: str = ""
    hint: Hint = NO_HINT
    thickness: tuple[float, float] | None = None
    usual_thickness: tuple[float, float] = (0.0, 0.0)
    rulers_mm: tuple[float, ...] = ()
    thing: Known | None = None
    measure: tuple[str, str] = ("", "")
    seams: tuple[Seam, ...] = ()
    placed: Mapping[EdgeName, Array] = field(default_factory=dict[EdgeName, Array])
    photo: int | None = None


@dataclass(frozen=True, slots=True)
class LayTraced:
    """What came of it.

    Attributes:
        tracing: The tracing of the photograph that was drawn in, or that looks down most squarely of those
            that were taken from the same side as the first one.
        picture: That photograph.
        findings: What is worth a look, of all photographs.
        photo: The photograph's place among them, from 0.
    """

    tracing: Tracing
    picture: Picture
    findings: tuple[Finding, ...]
    photo: int = 0


def read_length(text: str, key: str) -> tuple[float, float]:
    """Return a length and its sigma, mm, as typed; the sigma is 0.3 of it where none is said.

    Raises:
        InputError: It is no length.
    """
    try:
        length = parse_length(text, "mm")
    except UnitError as error:
        raise InputError(Problem(error.message, found=text, key=key, allowed=error.allowed)) from None
    return length.mm, 0.3 * abs(length.mm) if length.sigma_mm is None else length.sigma_mm


def edge_name(points: TracedPoints) -> EdgeName:
    """Return the name of the edge along which points lie."""
    return points.piece, points.edge, points.side


def trace_lay(pictures: Sequence[Picture], asked: Lay, key: Callable[[str], str] = str) -> LayTraced:
    """Trace the garment in photographs of one lay.

    Args:
        pictures: One photograph or more; the first one, garment upright, gives the table's directions.
        asked: What a person says about them.
        key: Turns a word of ``Lay`` or ``Hint`` into what it is called where it was typed, for messages.

    Raises:
        InputError: Something asked for does not fit the kind, or the photograph.
    """
    check_lay(asked, key)
    return with_lines(find_garment(pictures, asked, key), asked, key)


def find_garment(
    pictures: Sequence[Picture],
    asked: Lay,
    key: Callable[[str], str] = str,
    sheets: Callable[[Sequence[Picture], PrintScale | None], Rectified] = rectify,
) -> LayTraced:
    """Trace the garment but for what a person drew along its seams and edges.

    Args:
        pictures: As for ``trace_lay``.
        asked: What ``check_lay`` let pass.
        key: As for ``trace_lay``.
        sheets: Finds the reference sheets; ``rectify``, or one that remembers.

    Raises:
        InputError: A corner, the line drawn round the garment or the thing of known size lies outside the
            photograph, the known measure is none that corners give, or there are fewer photographs.
    """
    if asked.photo is not None and not 0 <= asked.photo < len(pictures):
        allowed = f"0 to {len(pictures) - 1}"
        raise InputError(
            Problem("there is no such photograph", found=str(asked.photo), key=key("photo"), allowed=allowed)
        )
    planes, notes = _planes(pictures, asked, sheets)
    best = asked.photo
    if best is None:
        best = min(range(len(pictures)), key=lambda i: _awry(planes[i]))
    plane, picture = planes[best], pictures[best]
    hint = asked.hint
    shown = {"corner": [np.array([place]) for place in hint.corners.values()]}
    _check_inside(shown | {"round": [] if hint.drawn is None else [hint.drawn]}, picture, key)
    if plane is not None:
        plane = plane.raised(*(asked.thickness or asked.usual_thickness))
    traced = trace(picture, plane, asked.kind, asked.face, asked.hint)
    if plane is None and asked.measure[0]:
        traced, note = _by_measure(traced, picture, asked, key)
        notes = [*(n for n in notes if n.code != "no-sheet"), *note]
    return LayTraced(traced, picture, (*notes, *traced.findings), best)


def with_lines(found: LayTraced, asked: Lay, key: Callable[[str], str] = str) -> LayTraced:
    """Return what was traced with the seams followed, and the edges put by hand in place of those found.

    Raises:
        InputError: A point lies outside the photograph.
    """
    lines = {"seam": [seam.picked for seam in asked.seams], "edge": list(asked.placed.values())}
    _check_inside(lines, found.picture, key)
    traced = found.tracing
    for seam in asked.seams:
        traced = add_seam(traced, found.picture, seam.piece, seam.edge, seam.picked)
    return replace(found, tracing=_with_placed(traced, asked, key))


def check_lay(asked: Lay, key: Callable[[str], str] = str) -> None:
    """Refuse what does not fit the kind, or means nothing by itself.

    Raises:
        InputError: The kind has no corners to look for, or has no such face, corner or edge; or
            a line that was drawn round the garment does not tell its inside.
    """
    kind = asked.kind
    if kind is not None and kind.silhouette is None:
        raise InputError(
            Problem("photographs cannot tell this kind's corners yet", found=kind.name, allowed="none")
        )
    faces = kind.silhouette.faces if kind and kind.silhouette else ()
    problems: list[Problem] = []
    if asked.face and asked.face not in faces:
        allowed = ", ".join(faces) or "none without a kind"
        problem = Problem("this piece does not face up", found=asked.face, key=key("face"), allowed=allowed)
        raise InputError(problem)
    known = corner_names(kind, asked.face) if kind else ()
    for name in asked.hint.corners:
        if name not in known:
            allowed = ", ".join(known) or "none without a kind"
            problems.append(
                Problem("there is no such corner", found=name, key=key("corner"), allowed=allowed)
            )
    if asked.hint.drawn is not None:
        from likesewn.photo.drawn_line import line_problem  # noqa: PLC0415 - see ``Hint.line``

        problem = line_problem(asked.hint.drawn, key("round"))
        problems += [problem] if problem else []
    edges = [("seam", seam.piece, seam.edge, seam.picked, 2) for seam in asked.seams]
    edges += [("edge", piece, edge, px, 3) for (piece, edge, _), px in asked.placed.items()]
    for word, piece, edge, px, least in edges:
        problems += _edge_problems(kind, piece, edge, px, least, key(word))
    problems += [
        Problem("an edge lies left or right", found=side, key=key("edge"), allowed="left, right")
        for _, _, side in asked.placed
        if side not in {"left", "right"}
    ]
    problems += [
        Problem(
            "this cannot be a printed 200 mm ruler",
            found=f"{mm:g} mm",
            key=key("printed_ruler"),
            allowed=f"{_RULER_MM[0]:g} mm to {_RULER_MM[1]:g} mm",
        )
        for mm in asked.rulers_mm
        if not _RULER_MM[0] <= mm <= _RULER_MM[1]
    ]
    if problems:
        raise InputError(*problems)


def _edge_problems(
    kind: Kind | None, piece: str, edge: str, px: Array, least: int, key: str
) -> list[Problem]:
    pieces = {p.name for p in kind.pieces} if kind else set[str]()
    if kind is None or piece not in pieces or edge not in traced_edges(kind, piece):
        allowed = "PIECE.EDGE of the kind, such as front.armhole"
        return [Problem("there is no such edge", found=f"{piece}.{edge}", key=key, allowed=allowed)]
    if not least <= len(px) <= MOST_PLACED:
        allowed = f"{least} to {MOST_PLACED} points"
        return [
            Problem("this edge has too few points, or too many", found=str(len(px)), key=key, allowed=allowed)
        ]
    return []


def _check_inside(lines: Mapping[str, Sequence[Array]], picture: Picture, key: Callable[[str], str]) -> None:
    height, width = picture.rgb.shape[:2]
    for word, px in ((word, px) for word, all_px in lines.items() for px in all_px):
        beyond = ((px < -0.5) | (px > (width - 0.5, height - 0.5))).any(axis=1)
        if beyond.any():
            found = ", ".join(f"({x:.0f}, {y:.0f})" for x, y in px[beyond][:4])
            allowed = f"x from 0 to {width - 1}, y from 0 to {height - 1}"
            raise InputError(
                Problem("a point lies outside the photograph", found=found, key=key(word), allowed=allowed)
            )


def _planes(
    pictures: Sequence[Picture],
    asked: Lay,
    sheets: Callable[[Sequence[Picture], PrintScale | None], Rectified],
) -> tuple[list[Plane | None], list[Finding]]:
    if asked.thing is not None:
        seen_in = asked.photo or 0
        plane = rectify_known(pictures[seen_in], asked.thing)
        return [plane if i == seen_in else None for i in range(len(pictures))], list(plane.findings)
    scale = PrintScale.measured(*asked.rulers_mm[:2]) if asked.rulers_mm else None
    found = sheets(pictures, scale)
    return list(found.planes), [note for notes in found.findings for note in notes]


def _awry(plane: Plane | None) -> tuple[bool, float]:
    """Return whether a photograph shows the lay from another side than the first one, and its tilt, degrees.

    Corners are told apart by which way is up, so that a garment lying on its side is traced badly.
    """
    if plane is None:
        return True, 90.0
    right = plane.rotation[:2, 0]
    return bool(right[0] < abs(right[1])), plane.tilt_degrees


def _by_measure(
    traced: Tracing, picture: Picture, asked: Lay, key: Callable[[str], str]
) -> tuple[Tracing, list[Finding]]:
    (name, text), kind = asked.measure, asked.kind
    where = key("known")
    if kind is None:
        raise InputError(
            Problem("a known measure needs a kind", found=name, key=where, todo=f"Add {key('kind')}.")
        )
    ends = measured_between(traced, kind, name)
    if ends is None:
        allowed = ", ".join(m for m in kind.measures if measured_between(traced, kind, m) is not None)
        raise InputError(Problem("no two corners give this measure", found=name, key=where, allowed=allowed))
    mm, sigma = read_length(text, where)
    if "+-" not in text and "±" not in text:
        sigma = kind.measures[name].sigma
    raised = asked.thickness[0] if asked.thickness else 0.0
    plane = rectify_known(
        picture, known_length(ends, mm, sigma, name=kind.measures[name].title.lower(), height_mm=raised)
    )
    if asked.thickness is not None:
        plane = plane.raised(*asked.thickness)
    return scaled(traced, plane, kind), list(plane.findings)


def _with_placed(traced: Tracing, asked: Lay, key: Callable[[str], str]) -> Tracing:
    """Return a tracing with the edges that a person put by hand in place of those that were found.

    Nothing is changed where there is no scale: an edge is handed on in millimetres.
    """
    plane, kind = traced.plane, asked.kind
    if plane is None or kind is None or kind.silhouette is None or not asked.placed:
        return traced
    behind = traced.face != kind.silhouette.faces[0]
    edges = list(traced.edges)
    for (piece, edge, side), px in asked.placed.items():
        mm = plane.to_plane(px)
        if not np.isfinite(mm).all():
            raise InputError(Problem("a point lies beyond the table", key=key("edge")))
        sigma = float(np.hypot(np.median(plane.sigma(mm)), PLACED_SIGMA_PX * np.median(plane.mm_per_px(px))))
        seen = {"left": "right", "right": "left"}[side] if behind else side
        lay = traced.name if piece == traced.face else f"{traced.name}, {seen} {piece}"
        own = TracedPoints(piece, edge, mm, round(sigma, 3), lay, side)
        at = [i for i, old in enumerate(edges) if edge_name(old) == (piece, edge, side)]
        if at:
            own = replace(own, lay=edges[at[0]].lay)
            edges[at[0]] = own
            edges = [old for i, old in enumerate(edges) if i not in at[1:]]
        else:
            edges.append(own)
    return replace(traced, edges=tuple(edges))

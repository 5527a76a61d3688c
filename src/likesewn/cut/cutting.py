"""From a trued pattern to the cut list: the one function of this stage."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from functools import lru_cache

import numpy as np
from shapely import LineString, Polygon

from likesewn.cut import labels, notches
from likesewn.cut.allowances import check_allowances, edge_allowances, hem_findings, seam_allowance
from likesewn.cut.bands import band_for, strip_widths
from likesewn.cut.body import body_girth, passes
from likesewn.cut.cut_line import CutLine, CutLineError, cut_line
from likesewn.cut.cutlist import Band, CutList, CutPiece
from likesewn.cut.edges import Place, finish_at, finish_chosen, is_turned, words
from likesewn.cut.facings import INNER, facings_for
from likesewn.cut.finish import apply_finishes
from likesewn.cut.opening import Opening, opening_of
from likesewn.cut.proof import Fault, faults
from likesewn.cut.strips import strip_marks, strip_piece, strip_points
from likesewn.garment import Finding, Kind, Pattern, PatternPiece, Record, Weight
from likesewn.geometry import Path, flatten
from likesewn.units import format_length

__all__ = ["cut"]


@dataclass(slots=True)
class _Job:
    """A piece on its way to being a cut piece."""

    piece: PatternPiece
    allowances: Mapping[str, float]
    turned: frozenset[str] = frozenset()
    points: tuple[notches.Point, ...] = ()
    marks: tuple[Path, ...] = ()
    notes: list[str] = field(default_factory=list[str])


def cut(pattern: Pattern, record: Record, *, today: date | None = None) -> CutList:
    """Say what to cut for one garment.

    Args:
        pattern: The trued pattern, its openings where they were recorded.
        record: The record: allowances, finishes, fabric, wearer, unit.
        today: Date to print on the pieces, or None for none.

    Returns:
        The pieces with their cut lines, notches, grain and labels (bands and facings among them), what
        each band is made of, what each finished opening rests on, and findings. A piece whose allowances
        cannot be cut keeps its seam line as its cut line and comes with a finding that stops the work.

    Raises:
        InputError: An allowance is no length.
    """
    check_allowances(record)
    finished = apply_finishes(pattern, record)
    pattern = finished.pattern
    findings = [*finished.findings, *hem_findings(pattern, record)]
    openings = [o for o in (opening_of(pattern, finish) for finish in pattern.kind.finishes) if o is not None]
    points = [*notches.seam_points(pattern), *notches.top_points(pattern)]
    for opening in openings:
        points += notches.opening_points(pattern, opening)
    jobs = [_pattern_job(pattern, piece, record, tuple(points)) for piece in pattern.pieces]
    bands: list[Band] = []
    for opening in openings:
        more, band, found = _finishing(pattern, opening, record)
        jobs += more
        bands += band
        findings += found
    pieces: list[CutPiece] = []
    for i, job in enumerate(jobs):
        piece, found = _cut_piece(pattern.kind, job, record, (i + 1, len(jobs)), today)
        pieces.append(piece)
        findings += found
    return CutList(record.name, tuple(pieces), tuple(bands), finished.rules, tuple(findings))


def _pattern_job(
    pattern: Pattern, piece: PatternPiece, record: Record, points: tuple[notches.Point, ...]
) -> _Job:
    return _Job(
        piece,
        edge_allowances(pattern, piece, record),
        frozenset(e.name for e in piece.edges if is_turned(pattern.kind, Place(piece, e), record)),
        points,
    )


def _finishing(
    pattern: Pattern, opening: Opening, record: Record
) -> tuple[list[_Job], list[Band], list[Finding]]:
    """Return the further pieces that an opening's finish needs, its band, and findings about them."""
    chosen = finish_chosen(opening.finish, record)
    girth = body_girth(opening.finish, record)
    if chosen in {"band", "binding"}:
        band, found = band_for(pattern, opening, record, girth.mm)
        findings = [*found, *passes(opening, record, girth, band.ring_mm)]
        if any(f.weight is Weight.STOP for f in found):
            return [], [band], findings
        widths = strip_widths(pattern.kind, opening.finish, record)
        joining = seam_allowance(pattern.kind, record)
        piece, allowances = strip_piece(band, widths, joining, record)
        notes = ["The greatest stretch runs along its length"]
        if record.fabric.construction == "woven":
            notes = ["Cut it on the bias, at 45 degrees to the grain line"]
        marks = strip_marks(piece, widths, binding=chosen == "binding")
        return [_Job(piece, allowances, frozenset(), strip_points(piece), marks, notes)], [band], findings
    findings = list(passes(opening, record, girth, opening.length_mm))
    if chosen != "facing":
        return [], [], findings
    jobs: list[_Job] = []
    for (place, _), facing in zip(opening.run, facings_for(opening), strict=True):
        if facing is None:
            findings.append(_no_facing(place))
            continue
        own = edge_allowances(pattern, place.piece, record)
        included = {e.name: own.get(e.name, 0.0) for e in facing.edges if not e.fold}
        points = tuple(
            (facing.name, *point[1:])
            for point in notches.opening_points(pattern, opening)
            if point[:2] == (place.piece.name, place.edge.name)
        )
        jobs.append(_Job(facing, included, points=points))
    return jobs, [], findings


def _no_facing(place: Place) -> Finding:
    return Finding(
        code="no-room-for-facing",
        weight=Weight.LOOK,
        where=f"{place.piece.title}, {words(place.edge.name)}",
        message="The piece is too small for a facing here.",
        todo="Choose a binding or a turned edge instead.",
    )


def _cut_piece(
    kind: Kind, job: _Job, record: Record, place: tuple[int, int], today: date | None
) -> tuple[CutPiece, list[Finding]]:
    piece, allowances = job.piece, job.allowances
    line, findings = _proved(job, record)
    if any(f.weight is Weight.STOP for f in findings):
        allowances = dict.fromkeys(allowances, 0.0)
    drawn, missed = notches.draw(piece, job.points, line.paths, allowances, record.unit)
    findings += missed
    notes = [*job.notes]
    notes += [f"Its halves are alike: one notch serves as {n.name}" for n in drawn if " and " in n.name]
    if any(finish_at(kind, Place(piece, e)) and allowances.get(e.name) == 0.0 for e in piece.edges):
        notes.append("Snip no deeper than 3 mm (1/8 in) where nothing is included")
    cloth = piece.name if piece.name in record.cloths else "main"
    plain = seam_allowance(kind, record)
    sewn = replace(piece, edges=tuple(e for e in piece.edges if e.base != INNER))
    return (
        CutPiece(
            name=piece.name,
            title=piece.title,
            copies=piece.copies,
            on_fold=piece.on_fold,
            cloth=cloth,
            seam=piece.edges,
            cut=line.paths,
            allowances=allowances,
            notches=drawn,
            grain=_grain(piece),
            labels=labels.piece_labels(
                piece,
                record,
                included=labels.allowance_line(kind, sewn, allowances, record, plain),
                cloth=cloth,
                place=place,
                today=today,
                notes=notes,
            ),
            marks=job.marks,
        ),
        findings,
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Asked:
    """What a cut line depends on, equal where all of it is: what an edit leaves be keeps its line."""

    piece: PatternPiece
    allowances: Mapping[str, float]
    turned: frozenset[str]

    @property
    def key(self) -> tuple[object, ...]:
        piece = self.piece
        edges = tuple((e.name, e.start, e.end, e.fold, e.path.segments.tobytes()) for e in piece.edges)
        return piece.on_fold, edges, tuple(self.allowances.items()), self.turned

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Asked) and self.key == other.key

    def __hash__(self) -> int:
        return hash(self.key)


@lru_cache(maxsize=64)
def _lined(asked: _Asked) -> tuple[CutLine | None, tuple[Fault, ...]]:
    """Return a cut line and what a check from scratch finds wrong with it; None where there is none."""
    try:
        line = cut_line(asked.piece, asked.allowances, asked.turned)
    except CutLineError as error:
        return None, ((error.edge, error.reason, None),)
    return line, tuple(faults(asked.piece, asked.allowances, line))


def _proved(job: _Job, record: Record) -> tuple[CutLine, list[Finding]]:
    """Return the cut line, or the seam line and what stops it from being cut further out."""
    piece = job.piece
    line, found = _lined(_Asked(piece, job.allowances, job.turned))
    if line is not None and not found:
        return line, []
    widest = max(job.allowances, key=lambda name: job.allowances[name])
    findings = [
        Finding(
            code="allowance-too-large",
            weight=Weight.STOP,
            where=f"{piece.title}, {words(edge or widest)}",
            message=f"The piece cannot take an allowance of "
            f"{format_length(job.allowances[edge or widest], record.unit)} here: {reason}.",
            amount=amount,
            unit="" if amount is None else "mm",
            todo="Give a smaller allowance for this edge or for its neighbours.",
        )
        for edge, reason, amount in found
    ]
    plain = {edge.name: edge.path for edge in piece.edges if not edge.fold}
    return CutLine(plain, {name: (0.0, path.length) for name, path in plain.items()}), findings


def _grain(piece: PatternPiece) -> Path:
    """Return the grain line: along y, beside the middle, where the lettering stands, 60 % of the height."""
    outline = np.concatenate([flatten(edge.path)[:-1] for edge in piece.edges])
    shape = Polygon(outline).buffer(0.0)
    low_x, low_y, high_x, high_y = shape.bounds
    best: tuple[float, float, float] = (0.0, 0.0, 0.0)
    for share in (1 / 3, 2 / 3, 1 / 2, 1 / 6, 5 / 6):
        x = low_x + share * (high_x - low_x)
        inside = shape.intersection(LineString([(x, low_y - 1.0), (x, high_y + 1.0)]))
        for part in getattr(inside, "geoms", [inside]):
            _, top, _, bottom = part.bounds
            if bottom - top > 1.1 * (best[2] - best[1]):
                best = (x, top, bottom)
    x, top, bottom = best
    half = 0.5 * min(0.6 * (high_y - low_y), 0.9 * (bottom - top))
    middle = 0.5 * (top + bottom)
    return Path.line((x, middle - half), (x, middle + half))

"""From a photograph and its plane to traced edges in millimetres: outline, corners and the runs between.

``trace`` puts the parts together. What it hands on are ``TracedPoints`` for truing, each edge of each piece
in a frame of its own lay, with a sigma that comes from the picture and from the plane.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Finding, Kind, TracedPoints
from likesewn.garment.silhouette import Silhouette
from likesewn.photo.colours import ColourTable
from likesewn.photo.corners import EVEN, FoundCorners, find_corners, run_between
from likesewn.photo.dip import FoundDip, find_dip
from likesewn.photo.hints import NO_HINT, Hint
from likesewn.photo.hollows import follow_gap
from likesewn.photo.outline import Outline, refine_outline, rough_outline
from likesewn.photo.plane import Plane
from likesewn.photo.reading import Picture
from likesewn.photo.seams import follow_seam
from likesewn.photo.segment import Segmentation, segment, segment_otherwise
from likesewn.photo.straights import moved_to_straights
from likesewn.photo.tracing_findings import DOUBTFUL_CORNERS, FAINT, judge_dip, judge_outline

if TYPE_CHECKING:
    from likesewn.photo.drawn_line import DrawnLine

__all__ = ["Tracing", "add_seam", "corner_names", "measured_between", "scaled", "trace"]

Array = NDArray[np.float64]

POINTS_AN_EDGE = 40
"""Points handed on for one edge: truing gains nothing from more, since neighbours err together."""

DIP_SIGMA_MM = 8.0
"""Sigma, mm, of an edge inside the outline: it is found as a plain curve, and a band shows two of them."""

LEAST_DIP = 1.0
"""Change of colour across an edge inside the outline, CIELAB units per px, below which it is left out."""

SEAM_SIGMA_PX = 2.0
"""How exactly a followed seam lies, px: about half the width of a line of stitches."""

CORNER_SHARE = 0.04
"""Share of a run left out at each end: an outline rounds its corners."""


@dataclass(frozen=True, slots=True)
class Tracing:
    """What one photograph says about the garment.

    Attributes:
        name: The photograph's name.
        outline: The outline in the photograph.
        corners_px: Corners by name with the viewer's side, px; the face's own corner on the middle line by
            ``face_corner``.
        plane: The garment's plane, or None where nothing gave a scale.
        outline_mm: The outline on the plane, shape (n, 2), mm, or None.
        sigma_mm: Standard uncertainty of each point of it across the edge, shape (n,), mm, or None.
        corners_mm: The corners on the plane, mm; empty without scale.
        edges: Edges in millimetres; empty without scale or kind.
        measures: Tape measures that the corners give, mm and sigma, by key.
        findings: What is worth a look.
        found: The corners on the outline, or None without a kind.
        dip: The edge inside the outline, or None.
        face: The piece that faces up, or empty.
        seams_px: Seams followed inside the garment, each (n, 2), px.
    """

    name: str
    outline: Outline
    corners_px: Mapping[str, tuple[float, float]]
    plane: Plane | None = None
    outline_mm: Array | None = None
    sigma_mm: Array | None = None
    corners_mm: Mapping[str, tuple[float, float]] = field(default_factory=dict[str, tuple[float, float]])
    edges: tuple[TracedPoints, ...] = ()
    measures: Mapping[str, tuple[float, float]] = field(default_factory=dict[str, tuple[float, float]])
    findings: tuple[Finding, ...] = ()
    found: FoundCorners | None = None
    dip: FoundDip | None = None
    face: str = ""
    seams_px: tuple[Array, ...] = ()


def trace(
    picture: Picture, plane: Plane | None, kind: Kind | None = None, face: str = "", hint: Hint = NO_HINT
) -> Tracing:
    """Trace the garment in a photograph.

    Args:
        picture: The photograph.
        plane: The table as it sees it, raised to the cloth where its thickness is known; None without scale.
        kind: The kind of garment, or None for the outline alone.
        face: The piece that faces up; empty means the kind's usual one.
        hint: What a person showed.
    """
    silhouette = kind.silhouette if kind else None
    drawn = hint.line()
    keep_out = _sheets_mask(picture, plane)
    segmented = segment(picture.rgb, hint, keep_out)
    outline = refine_outline(picture.rgb, rough_outline(segmented), segmented.colours, drawn)
    found: FoundCorners | None = None
    dip: FoundDip | None = None
    corners: dict[str, tuple[float, float]] = {}
    if silhouette is not None:
        face = face or silhouette.faces[0]
        if drawn is not None:
            drawn = drawn.as_rough_as_seen(outline.px, outline.step > FAINT)
        found = find_corners(outline.px, silhouette, hint.corners, drawn)
        if found.cost > DOUBTFUL_CORNERS and drawn is None:
            segmented, outline, found = _another_way(
                picture, silhouette, hint, keep_out, (segmented, outline, found)
            )
        followed = _followed(picture, outline, found, silhouette, segmented.colours, hint, drawn)
        found = moved_to_straights(
            outline.px, found, silhouette, {*hint.corners, *followed}, partial(_as_drawn, drawn)
        )
        corners = dict(found.px) | followed
        dip = _dip(picture, outline, found, silhouette, face, hint)
        if dip is not None and silhouette.dip is not None:
            name = middle_corner(silhouette, face)
            corners[name] = hint.corners.get(name, dip.corner)
    tracing = Tracing(picture.name, outline, corners, found=found, dip=dip, face=face)
    if kind is not None and plane is not None:
        tracing = scaled(tracing, plane, kind)
    elif plane is not None:
        tracing = scaled(tracing, plane, None)
    notes = judge_outline(picture, segmented, outline, found, plane)
    if dip is not None and len(dip.px) > 1 and silhouette is not None:
        notes += (judge_dip(picture.name, middle_corner(silhouette, face), seen=dip.strength >= LEAST_DIP),)
    return replace(tracing, findings=notes)


def _another_way(
    picture: Picture,
    silhouette: Silhouette,
    hint: Hint,
    keep_out: NDArray[np.bool_] | None,
    first: tuple[Segmentation, Outline, FoundCorners],
) -> tuple[Segmentation, Outline, FoundCorners]:
    """Return the garment told from the table in another way where only that looks like the kind."""
    segmented = segment_otherwise(picture.rgb, first[0], hint, keep_out)
    if segmented is None:
        return first
    outline = refine_outline(picture.rgb, rough_outline(segmented), segmented.colours)
    found = find_corners(outline.px, silhouette, hint.corners)
    return (segmented, outline, found) if found.cost < DOUBTFUL_CORNERS else first


def middle_corner(silhouette: Silhouette, face: str) -> str:
    """Return what the lowest point of the edge inside the outline is called."""
    return f"{face}_{silhouette.dip.corner}" if silhouette.dip else ""


def corner_names(kind: Kind, face: str = "") -> tuple[str, ...]:
    """Return the names of the corners that a photograph of this kind shows, each with its side."""
    silhouette = kind.silhouette
    if silhouette is None:
        return ()
    face = face or silhouette.faces[0]
    middle = [middle_corner(silhouette, face)] if silhouette.dip and face in silhouette.dip.faces else []
    closing = [silhouette.closing_corner] if silhouette.closing_corner else []
    sides = [f"{corner.name}_{side}" for corner in silhouette.corners for side in ("left", "right")]
    return (*sides, *middle, *closing)


def measured_between(tracing: Tracing, kind: Kind, key: str) -> Array | None:
    """Return the two places, px, between which a tape measure of the kind runs, or None where none do.

    Args:
        tracing: A tracing with corners.
        kind: Its kind.
        key: The measure's key.
    """
    measure = kind.measures.get(key)
    if measure is None or measure.op != "across" or len(measure.corners) != 1:
        return None
    ends = [tracing.corners_px.get(f"{measure.corners[0]}_{side}") for side in ("left", "right")]
    return None if None in ends else np.array(ends, dtype=np.float64)


def add_seam(tracing: Tracing, picture: Picture, piece: str, edge: str, picked: Array) -> Tracing:
    """Return a tracing with a seam inside the garment, followed between picked points.

    Args:
        tracing: The tracing.
        picture: Its photograph.
        piece: The piece that the edge belongs to.
        edge: The edge's name.
        picked: Points on the seam, in order, shape (n, 2), px.
    """
    path = follow_seam(picture.rgb, [(float(x), float(y)) for x, y in picked])
    seams = (*tracing.seams_px, path)
    if tracing.plane is None:
        return replace(tracing, seams_px=seams)
    run = np.unique(np.linspace(0, len(path) - 1, POINTS_AN_EDGE).astype(int))
    mm = tracing.plane.to_plane(path[run])
    sigma = float(
        np.hypot(
            np.median(tracing.plane.sigma(mm)),
            SEAM_SIGMA_PX * np.median(tracing.plane.mm_per_px(path[run])),
        )
    )
    side, lay = "right", tracing.name
    if tracing.found is not None:
        point, down = tracing.found.middle
        side = "right" if float((path.mean(axis=0) - point) @ [down[1], -down[0]]) > 0 else "left"
    points = TracedPoints(piece, edge, mm, round(max(sigma, 1.0), 3), lay, side)
    return replace(tracing, seams_px=seams, edges=(*tracing.edges, points))


def _sheets_mask(picture: Picture, plane: Plane | None) -> NDArray[np.bool_] | None:
    sheets = [s.outline_px for s in plane.sheets if len(s.outline_px)] if plane else []
    if not sheets:
        return None
    mask = np.zeros(picture.rgb.shape[:2], np.uint8)
    for outline in sheets:
        cv2.fillPoly(mask, [np.round(outline).astype(np.int32).reshape(-1, 1, 2)], 1)
    return mask > 0


def _followed(
    picture: Picture,
    outline: Outline,
    found: FoundCorners,
    silhouette: Silhouette,
    colours: ColourTable,
    hint: Hint,
    drawn: "DrawnLine | None",
) -> dict[str, tuple[float, float]]:
    """Return those hollow corners that lead up gaps that the outline is too coarse for, at the gaps' ends.

    A stripe or a print that starts at the edge looks like a gap. So a way up on one side has to bring the two
    sides nearer to each other's mirror image, unless they stay within two spreads of even. And where a line
    was drawn round the garment, it has to bring the corner nearer to one of the line's, or keep it as near as
    the line is exact.
    """
    point, down = found.middle
    right = np.array([down[1], -down[0]])
    height = float(np.ptp(outline.px @ down))

    def apart(one: Array, other: Array) -> float:
        across, along = (one - point) @ right + (other - point) @ right, (one - other) @ down
        return max(float(np.hypot(across, along)), 2 * EVEN * height)

    out: dict[str, tuple[float, float]] = {}
    for corner in silhouette.corners:
        names = [f"{corner.name}_{side}" for side in ("left", "right")]
        if corner.turn[0] >= 0:
            continue
        at = [np.array(found.px[name]) for name in names]
        free = [name not in hint.corners for name in names]
        ends = [
            follow_gap(picture.rgb, outline.px, found.index[name], height, colours) if may else here
            for name, here, may in zip(names, at, free, strict=True)
        ]
        ends = [end if _as_drawn(drawn, end, here) else here for end, here in zip(ends, at, strict=True)]
        # each: how far apart the sides then are, and how much is left to follow
        ways = [
            (apart(a, b), float(np.hypot(*(a - ends[0])) + np.hypot(*(b - ends[1]))), a, b)
            for a in (at[0], ends[0])
            for b in (at[1], ends[1])
        ]
        _, _, *best = min(ways, key=lambda way: way[:2])
        for name, here, (x, y) in zip(names, at, best, strict=True):
            if (x, y) != tuple(here):
                out[name] = float(x), float(y)
    return out


def _as_drawn(drawn: "DrawnLine | None", way: Array, here: Array) -> bool:
    """Return whether a corner may move: nearer to one of a drawn line's, or no farther than that is exact."""
    if drawn is None:
        return True
    to, stay = (float(np.hypot(*(drawn.corners - px).T).min()) for px in (way, here))
    return to <= max(stay, drawn.spread)


def _dip(
    picture: Picture,
    outline: Outline,
    found: FoundCorners,
    silhouette: Silhouette,
    face: str,
    hint: Hint,
) -> FoundDip | None:
    if silhouette.dip is None or face not in silhouette.dip.faces:
        return None
    first = silhouette.corners[0].name
    ends = np.array(found.px[f"{first}_left"]), np.array(found.px[f"{first}_right"])
    down = found.middle[1]
    depth = outline.px @ down
    height = float(np.ptp(depth))
    sought = silhouette.dip
    put = hint.corners.get(middle_corner(silhouette, face))
    if put is not None:
        width = float(np.hypot(*(ends[1] - ends[0])))
        drop = float((np.array(put) - (ends[0] + ends[1]) / 2) @ down) / max(width, 1.0)
        if drop > 0.02:
            sought = replace(sought, drop=(drop, 0.02))
    standing = float((ends[0] + ends[1]) @ down / 2 - _top(outline.px, found, height))
    if (
        put is None and standing > 0.04 * height
    ):  # a collar stands: its top edge is the opening, and it lies on the outline
        at = _on_middle(outline.px, (ends[0] + ends[1]) / 2, down, top=True)
        x, y = outline.px[at]
        return FoundDip((float(x), float(y)), outline.px[[at]], 0.0)
    return find_dip(picture.rgb, outline.px, ends, down, height, sought)


def _top(px: Array, found: FoundCorners, height: float) -> float:
    point, down = found.middle
    right = np.array([down[1], -down[0]])
    near = np.abs((px - point) @ right) < 0.05 * height
    return float((px[near] @ down).min()) if near.any() else float((px @ down).min())


def _on_middle(px: Array, point: Array, down: Array, *, top: bool) -> int:
    """Return the point of the outline on the line through a point, at its top or its bottom.

    Where corners put in place by hand take the line past the outline, it is the point nearest to the line.
    """
    right = np.array([down[1], -down[0]])
    off = px - point
    side = off @ right > 0
    crosses = np.nonzero(side != np.roll(side, -1))[0]
    if not len(crosses):
        return int(np.argmin(np.abs(off @ right)))
    depth = (off @ down)[crosses]
    return int(crosses[np.argmin(depth) if top else np.argmax(depth)])


def scaled(tracing: Tracing, plane: Plane, kind: Kind | None) -> Tracing:
    """Return a tracing with everything in millimetres on a plane.

    Args:
        tracing: A tracing in pixels.
        plane: The plane, raised to the cloth where its thickness is known.
        kind: The kind whose corners were found, or None.
    """
    px = tracing.outline.px
    mm = plane.to_plane(px)
    plane = plane.about(mm[:: max(1, len(mm) // 200)])
    scale = plane.mm_per_px(px)
    sigma = np.hypot(plane.sigma_across(mm), tracing.outline.sigma_px * scale)
    names = list(tracing.corners_px)
    places = plane.to_plane(np.array([tracing.corners_px[n] for n in names])) if names else np.zeros((0, 2))
    corners = {n: (float(x), float(y)) for n, (x, y) in zip(names, places, strict=True)}
    found, silhouette = tracing.found, kind.silhouette if kind else None
    edges: tuple[TracedPoints, ...] = ()
    measures: dict[str, tuple[float, float]] = {}
    if kind is not None and found is not None and silhouette is not None:
        edges = tuple(_edges(tracing, mm, sigma, plane, silhouette, found))
        last = silhouette.corners[-1].name
        start, end = found.index[f"{last}_right"], found.index[f"{last}_left"]
        closing = mm[run_between(len(mm), start, end)]
        measures = _measures(kind, silhouette, tracing.face, corners, closing, _root_mean_square(sigma))
    return replace(
        tracing,
        plane=plane,
        outline_mm=mm,
        sigma_mm=sigma,
        corners_mm=corners,
        edges=edges,
        measures=measures,
    )


@dataclass(frozen=True, slots=True)
class _Runs:
    """Makes traced edges of runs along one outline."""

    tracing: Tracing
    mm: Array
    sigma: Array
    seen_from_behind: bool

    def between(self, start: int, end: int, side: str) -> NDArray[np.int64]:
        """Return the points of the outline from ``start`` down one side to ``end``."""
        return run_between(len(self.mm), start, end, -1 if side == "left" else 1)

    def edge(self, piece: str, edge: str, side: str, run: NDArray[np.int64]) -> list[TracedPoints]:
        """Return the edge that lies along a run; none where the run is too short to say anything."""
        trim = round(CORNER_SHARE * len(run))
        run = run[trim : len(run) - trim]
        if len(run) < 4:
            return []
        picked = run[np.unique(np.linspace(0, len(run) - 1, POINTS_AN_EDGE).astype(int))]
        name = self.tracing.name
        lay = name if piece == self.tracing.face else f"{name}, {side} {piece}"
        # one figure for the whole edge, in which a few doubtful places count
        sigma = round(_root_mean_square(self.sigma[run]), 3)
        if piece != self.tracing.face and self.seen_from_behind:
            side = "left" if side == "right" else "right"  # of the whole garment, as one looks at its front
        return [TracedPoints(piece, edge, self.mm[picked], sigma, lay, side)]


def _edges(
    tracing: Tracing,
    mm: Array,
    sigma: Array,
    plane: Plane,
    silhouette: Silhouette,
    found: FoundCorners,
) -> list[TracedPoints]:
    face = tracing.face
    runs = _Runs(tracing, mm, sigma, face != silhouette.faces[0])
    out: list[TracedPoints] = []
    for before, corner in pairwise(silhouette.corners):
        piece, _, edge = corner.edge.rpartition(".")
        for side in ("left", "right") if corner.edge else ():
            run = runs.between(
                found.index[f"{before.name}_{side}"], found.index[f"{corner.name}_{side}"], side
            )
            out += runs.edge(piece or face, edge, side, run)
    if silhouette.closing_edge:
        middle = _on_middle(tracing.outline.px, *found.middle, top=False)
        last = silhouette.corners[-1].name
        for side in ("left", "right"):
            run = runs.between(found.index[f"{last}_{side}"], middle, side)
            out += runs.edge(face, silhouette.closing_edge, side, run)
    return out + _dip_edges(tracing, plane, silhouette, found)


def _dip_edges(
    tracing: Tracing, plane: Plane, silhouette: Silhouette, found: FoundCorners
) -> list[TracedPoints]:
    dip = tracing.dip
    if dip is None or silhouette.dip is None or len(dip.px) < 8 or dip.strength < LEAST_DIP:
        return []
    out: list[TracedPoints] = []
    curve = plane.to_plane(dip.px)
    lowest = int(np.argmax(dip.px @ found.middle[1]))
    for side, part in (("left", curve[: lowest + 1]), ("right", curve[lowest:])):
        picked = part[np.unique(np.linspace(0, len(part) - 1, POINTS_AN_EDGE // 2).astype(int))]
        if len(picked) >= 3:
            edge = silhouette.dip.edge
            out.append(TracedPoints(tracing.face, edge, picked, DIP_SIGMA_MM, tracing.name, side))
    return out


def _root_mean_square(values: Array) -> float:
    return float(np.sqrt(np.mean(values**2)))


def _measures(
    kind: Kind,
    silhouette: Silhouette,
    face: str,
    corners: Mapping[str, tuple[float, float]],
    closing: Array,
    sigma: float,
) -> dict[str, tuple[float, float]]:
    """Return the needed tape measures that corners give, mm and sigma."""
    sides = {
        c.name: (np.array(corners[f"{c.name}_left"]), np.array(corners[f"{c.name}_right"]))
        for c in silhouette.corners
    }
    first, last = (sides[silhouette.corners[i].name] for i in (0, -1))
    down = last[0] + last[1] - first[0] - first[1]
    down = down / max(float(np.hypot(*down)), 1e-9)
    right = np.array([down[1], -down[0]])
    sure = max(2.0, 2.0 * sigma)
    out: dict[str, tuple[float, float]] = {}
    for key, measure in kind.measures.items():
        if not measure.needed or face not in measure.pieces or measure.corners[0] not in sides:
            continue
        a, b = sides[measure.corners[0]]
        if measure.op == "across":
            out[key] = float(np.hypot(*(a - b))), sure
        elif measure.op == "down_to_edge" and measure.edges == (silhouette.closing_edge,):
            below = [closing[int(np.argmin(np.abs((closing - p) @ right)))] for p in (a, b)]
            out[key] = float(np.mean([(q - p) @ down for p, q in zip((a, b), below, strict=True)])), sure
    return out

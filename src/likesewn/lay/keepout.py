"""Where one outline may not lie beside another.

Terms. The *keep-out* of outlines A and B is the set of moves v for which B moved by v overlaps A: the
Minkowski sum of A and of B turned about the origin (de Berg et al., Computational Geometry, 3rd ed.,
section 13.3). *Slices* are what a keep-out takes up along x at given y.

Outlines are grown by half of ``SAFETY_GAP`` and simplified outward first: two that touch keep the gap.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

Array = NDArray[np.float64]

__all__ = ["COARSE", "Slices", "Standing", "convex_parts", "grown", "slices", "standing_parts", "stretches"]

COARSE = 0.25
"""Distance by which an outline may grow in being simplified, mm: coarser is quicker and lays less close."""

LEVEL = 1e-6
"""Change of y that keeps a side from lying level, mm."""

TOUCH = 1e-7
"""Moves nearer than this to the rim of a keep-out count as touching, mm."""


def grown(outline: Array, gap: float, tolerance: float = COARSE) -> Array:
    """Return an outline grown by ``gap`` and simplified outward, so that it never grows by less.

    Args:
        outline: Closed polygon, shape (n, 2), mm, first point not repeated.
        gap: Distance to grow by, mm.
        tolerance: How much further it may grow at a corner that is left out, mm.

    Returns:
        The polygon, shape (m, 2), mm; its holes, should growing close a gap to one, are filled.
    """
    polygon = shapely.Polygon(outline)
    if not polygon.is_valid:
        polygon = polygon.buffer(0)
    # A mitre may reach far beyond a sharp corner, so it is cut off soon after the round corner it holds.
    around = polygon.buffer(gap, join_style="mitre", mitre_limit=1.25).simplify(1e-3)
    if not isinstance(around, shapely.Polygon):
        around = shapely.Polygon(_ring(around.convex_hull))
    ring = _ring(around)
    simple = _simplified(ring if shapely.LinearRing(ring).is_ccw else ring[::-1], tolerance)
    shape = shapely.Polygon(simple)
    return simple if shape.is_valid and shape.area > 0 else ring


def _ring(shape: BaseGeometry) -> Array:
    """Return the corners of a polygon, shape (n, 2), mm."""
    if not isinstance(shape, shapely.Polygon):
        raise TypeError(f"{shape.geom_type} has no outline")
    return np.asarray(shape.exterior.coords, dtype=np.float64)[:-1]


def _simplified(ring: Array, tolerance: float) -> Array:
    """Return a counter-clockwise polygon with fewer corners that covers ``ring``.

    An inner corner is left out, or the two outer corners of a side become the one where its neighbours meet,
    for as long as what is added reaches no further than ``tolerance``, least first.
    """
    points = [(float(x), float(y)) for x, y in ring]
    spent = [0.0] * len(points)
    changed = True
    while changed and len(points) > 4:
        changed = False
        i = 0
        while i < len(points) and len(points) > 4:
            a, b, c, d = (
                points[i - 1],
                points[i],
                points[(i + 1) % len(points)],
                points[(i + 2) % len(points)],
            )
            at_b, at_c = _turn(a, b, c), _turn(b, c, d)
            j = (i + 1) % len(points)
            if at_b <= 0:
                reach = max(spent[i - 1], spent[j], spent[i] + _off(a, b, c))
                if reach <= tolerance:
                    spent[i - 1] = spent[j] = reach
                    del points[i], spent[i]
                    changed = True
                    continue
            elif at_c > 0:
                tip = _meet(a, b, c, d)
                reach = max(spent[i], spent[j]) + (_off(b, tip, c) if tip else tolerance + 1)
                if tip is not None and reach <= tolerance:
                    points[i], spent[i] = tip, reach
                    del points[j], spent[j]
                    changed = True
                    continue
            i += 1
    return np.array(points)


Point = tuple[float, float]


def _turn(a: Point, b: Point, c: Point) -> float:
    return (b[0] - a[0]) * (c[1] - b[1]) - (b[1] - a[1]) * (c[0] - b[0])


def _off(a: Point, b: Point, c: Point) -> float:
    """Return the distance of b from the line through a and c."""
    long = ((c[0] - a[0]) ** 2 + (c[1] - a[1]) ** 2) ** 0.5
    return abs(_turn(a, b, c)) / long if long > 1e-12 else 0.0


def _meet(a: Point, b: Point, c: Point, d: Point) -> Point | None:
    """Return where a to b, run on, meets d to c, run on; None where they do not or nearly run alike."""
    ux, uy, vx, vy = b[0] - a[0], b[1] - a[1], d[0] - c[0], d[1] - c[1]
    cross = ux * vy - uy * vx
    if cross <= 1e-3 * ((ux * ux + uy * uy) * (vx * vx + vy * vy)) ** 0.5:
        return None
    along = ((c[0] - a[0]) * vy - (c[1] - a[1]) * vx) / cross
    return a[0] + along * ux, a[1] + along * uy


def convex_parts(polygon: Array | shapely.Polygon) -> tuple[Array, ...]:
    """Return convex polygons, counter-clockwise as drawn with y upward, that make up ``polygon``.

    The polygon is triangulated, then triangles are joined for as long as they stay convex (Hertel and
    Mehlhorn, 1983): at most four times as many parts as need be.
    """
    shape = polygon if isinstance(polygon, shapely.Polygon) else shapely.Polygon(polygon)
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(shape))
    corners: dict[tuple[float, float], int] = {}
    faces: list[list[int]] = []
    for triangle in triangles:
        ring = [(float(x), float(y)) for x, y in np.asarray(triangle.exterior.coords)[:-1]]
        (ax, ay), (bx, by), (cx, cy) = ring
        turn = (bx - ax) * (cy - ay) - (by - ay) * (cx - ax)
        if turn == 0:
            continue
        if turn < 0:
            ring.reverse()
        faces.append([corners.setdefault(at, len(corners)) for at in ring])
    points = list(corners)
    owner = {(f[i - 1], f[i]): k for k, f in enumerate(faces) for i in range(3)}
    live: list[list[int] | None] = list(faces)

    def bends_in(a: int, b: int, c: int) -> bool:
        (ax, ay), (bx, by), (cx, cy) = points[a], points[b], points[c]
        return (bx - ax) * (cy - by) - (by - ay) * (cx - bx) < 0

    # Longest shared sides first: what is left over are then few and stout parts.
    shared = [side for side in owner if side[0] < side[1] and (side[1], side[0]) in owner]
    shared.sort(
        key=lambda s: -((points[s[0]][0] - points[s[1]][0]) ** 2 + (points[s[0]][1] - points[s[1]][1]) ** 2)
    )
    for a, b in shared:
        one, two = owner[a, b], owner[b, a]
        first, second = live[one], live[two]
        if one == two or first is None or second is None:
            continue
        i, j = first.index(b), second.index(a)
        # from b round the first face to a, then from a round the second one back to b
        ring = [*first[i:], *first[:i]]
        other = [*second[j:], *second[:j]]
        joined = ring + other[1:-1]
        before, after = ring[-2], other[1]
        if bends_in(before, a, after) or bends_in(other[-2], b, ring[1]):
            continue
        live[one], live[two] = joined, None
        for k in range(len(joined)):
            owner[joined[k - 1], joined[k]] = one
    return tuple(np.array([points[i] for i in face]) for face in live if face is not None)


@dataclass(frozen=True, slots=True, eq=False)
class Slices:
    """What a keep-out takes up along x in each of a run of rows.

    Attributes:
        first: Number of the first row.
        low: Start of each stretch in each row, shape (stretches, rows), mm; infinite where there is none.
        high: End of each stretch, likewise; minus infinity where there is none.
    """

    first: int
    low: Array
    high: Array

    def at(self, rows: NDArray[np.intp]) -> tuple[Array, Array]:
        """Return start and end of the stretches in ``rows``, shapes (stretches, len(rows))."""
        index = rows - self.first
        count = self.low.shape[1]
        inside = (index >= 0) & (index < count)
        index = np.where(inside, index, 0)
        return np.where(inside, self.low[:, index], np.inf), np.where(inside, self.high[:, index], -np.inf)

    def turned(self) -> "Slices":
        """Return the slices of the keep-out with the two outlines exchanged, for rows through y = 0."""
        last = self.first + self.low.shape[1] - 1
        return Slices(-last, -self.high[::-1, ::-1], -self.low[::-1, ::-1])


@dataclass(frozen=True, slots=True, eq=False)
class Standing:
    """A part of an outline that every line along x crosses in one stretch.

    Attributes:
        left: Its side of least x as y and x, each shape (n,), mm, y rising.
        right: Its side of greatest x, likewise.
    """

    left: tuple[Array, Array]
    right: tuple[Array, Array]


def standing_parts(polygon: Array) -> tuple[Standing, ...]:
    """Cut a polygon, shape (n, 2), at its inner corners that are highest or lowest about them."""
    shape = shapely.make_valid(shapely.Polygon(polygon))
    polygon = _without_level_sides(polygon)
    y = polygon[:, 1]
    before, after = np.roll(y, 1), np.roll(y, -1)
    ends = ((y > before) & (y > after)) | ((y < before) & (y < after))
    if np.count_nonzero(ends) == 2:
        return (_standing(polygon),)
    left, low, right, high = shape.bounds
    back, ahead = polygon - np.roll(polygon, 1, axis=0), np.roll(polygon, -1, axis=0) - polygon
    area = float(np.sum(polygon[:, 0] * np.roll(y, -1) - np.roll(polygon[:, 0], -1) * y))
    inner = (back[:, 0] * ahead[:, 1] - back[:, 1] * ahead[:, 0]) * np.sign(area) < 0
    cuts = [low - 1, *np.unique(y[ends & inner]), high + 1]
    bands = [shapely.box(left - 1, a, right + 1, b) for a, b in pairwise(cuts)]
    found = [part for band in bands for part in shapely.get_parts(shape.intersection(band))]
    rings = [
        np.asarray(part.exterior.coords)[:-1]
        for part in found
        if isinstance(part, shapely.Polygon) and not part.is_empty
    ]
    return tuple(_standing(_without_level_sides(ring)) for ring in rings if np.ptp(ring[:, 1]) > 10 * LEVEL)


def _without_level_sides(polygon: Array) -> Array:
    """Return the polygon with y changed by up to ``LEVEL`` a step, so that no side lies level."""
    y = polygon[:, 1].copy()
    for _ in range(3):
        level = np.abs(np.roll(y, -1) - y) < LEVEL / 2
        if not level.any():
            break
        y[level] += LEVEL * (1 + np.arange(np.count_nonzero(level)) % 7)
    return np.column_stack([polygon[:, 0], y])


def _standing(ring: Array) -> Standing:
    low, high = int(np.argmin(ring[:, 1])), int(np.argmax(ring[:, 1]))
    ring, high = np.roll(ring, -low, axis=0), (high - low) % len(ring)
    one, other = ring[: high + 1], np.concatenate([ring[:1], ring[: high - 1 : -1]])
    sides: list[tuple[Array, Array]] = [
        (np.asarray(np.maximum.accumulate(side[:, 1]), dtype=np.float64), side[:, 0]) for side in (one, other)
    ]
    middle = float(ring[0, 1] + ring[high, 1]) / 2
    sides.sort(key=lambda side: float(np.interp(middle, *side)))
    return Standing(sides[0], sides[1])


def slices(fixed: tuple[Standing, ...], moving: tuple[Standing, ...], step: float, phase: float) -> Slices:
    """Return what the keep-out of two outlines takes up along x at y = ``phase`` + k ``step``."""
    low_y = min(a.left[0][0] for a in fixed) - max(b.left[0][-1] for b in moving)
    high_y = max(a.left[0][-1] for a in fixed) - min(b.left[0][0] for b in moving)
    first = int(np.floor((low_y - phase) / step)) + 1
    count = max(int(np.ceil((high_y - phase) / step)) - first, 0)
    shifts = phase + step * np.arange(first, first + count, dtype=np.float64)
    return Slices(first, *stretches(fixed, moving, shifts))


def stretches(fixed: tuple[Standing, ...], moving: tuple[Standing, ...], shift: Array) -> tuple[Array, Array]:
    """Return what the keep-out of two outlines takes up along x at each y of ``shift``, see ``Slices``.

    In a part that stands, the stretch along x changes steadily with y; so a move along x meets it over one
    stretch, whose ends come from the corners of the two parts alone.
    """
    pairs = [(a, b) for a in fixed for b in moving]
    low = np.full((len(pairs), len(shift)), np.inf)
    high = np.full((len(pairs), len(shift)), -np.inf)
    for k, (a, b) in enumerate(pairs):
        low[k] = _least(a.left, b.right, shift)
        high[k] = -_least((a.right[0], -a.right[1]), (b.left[0], -b.left[1]), shift)
    return merged(low, high)


def _least(a: tuple[Array, Array], b: tuple[Array, Array], shift: Array) -> Array:
    """Return the least of a(y) - b(y - shift) over the y at which both are, for each shift."""
    (ya, xa), (yb, xb) = a, b
    at = ya[:, None] - shift
    there = (at >= yb[0]) & (at <= yb[-1])
    at_a = np.where(there, xa[:, None] - np.interp(at, yb, xb), np.inf)
    at = yb[:, None] + shift
    there = (at >= ya[0]) & (at <= ya[-1])
    at_b = np.where(there, np.interp(at, ya, xa) - xb[:, None], np.inf)
    return np.minimum(at_a.min(axis=0), at_b.min(axis=0))


def merged(low: Array, high: Array) -> tuple[Array, Array]:
    """Return stretches, shape (n, rows), with those that overlap in a row made one; as few as need be."""
    order = np.argsort(low, axis=0)
    low = np.take_along_axis(low, order, axis=0)
    high = np.take_along_axis(high, order, axis=0)
    reach = np.maximum.accumulate(high, axis=0)
    starts = np.ones(low.shape, dtype=bool)
    starts[1:] = low[1:] > reach[:-1] + TOUCH
    starts &= np.isfinite(low)
    group = np.cumsum(starts, axis=0) - 1
    count = max(int(group.max(initial=-1)) + 1, 1)
    out_low = np.full((count, low.shape[1]), np.inf)
    out_high = np.full((count, low.shape[1]), -np.inf)
    row: NDArray[np.intp] = np.zeros(low.shape, dtype=np.intp) + np.arange(low.shape[1], dtype=np.intp)
    some = np.isfinite(low)
    out_low[group[starts], row[starts]] = low[starts]
    np.maximum.at(out_high, (group[some], row[some]), reach[some])
    return out_low, out_high

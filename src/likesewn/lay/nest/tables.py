"""What the search works out beforehand about every two attitudes: where they overlap, and how deep.

Terms. An *attitude* is a part in one of its turns, the least x and y of its outline at 0; its *spot* is where
that corner lies. The *keep-out* of attitudes A and B is the set of moves, spot of B less spot of A, for which
they overlap: the union of the Minkowski sums of the convex parts of A and of those of B turned about (de Berg
et al., Computational Geometry, 3rd ed., section 13.3). A move's *depth* is its distance from the rim of the
keep-out, 0 outside it. A *depth map* holds depths at moves that are whole cells.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray
from shapely import Polygon

from likesewn.lay.keepout import convex_parts
from likesewn.lay.nest.parts import Part, turned
from likesewn.lay.sides import Parts, parts_of

Array = NDArray[np.float64]
Map = NDArray[np.float32]

Placed = tuple[Map, int, int]
"""A depth map, and the cells along and across from its corner to the move 0."""

__all__ = ["Attitude", "Map", "Maps", "Planes", "Tables"]

CELLS = 25.0
"""Cells along the side of a square as large as the mean part. More find tighter fits and are slower: on the
published garment sets 22 and 28 did alike, 20 and 36 worse."""

MOST_MAP_CELLS = 10_000_000
"""Cells of all depth maps together, roughly (four bytes each, held twice while they are made); where there
are many attitudes, cells grow instead."""

TOLERATED = 1.0
"""Depth that counts as none, cells: half a cell for where the rim lies between cells and half for what
pressing together can mend. With 0.8 fits are missed, with 1.2 too many cannot be mended."""

SIZE_POWER = 0.375
"""Depths are scaled by the areas of both parts' boxes to this power, so that large parts settle first and
small ones go round them. Without it (0) lays came out 2 % longer on the published garment sets."""

FINE = 16.0
"""Depths are kept in whole parts of this, so that sums of them in single precision are exact."""

SUBPIXEL_BITS = 8

DRAWN = 0.1
"""How far from the outline maps may be drawn, cells: far below what counts as no depth."""

MOST_LINES = 1_500_000
"""Lines round keep-outs that are remembered, some 50 bytes each; beyond it they are worked out again."""


@dataclass(frozen=True, slots=True, eq=False)
class Attitude:
    """A part in one of its turns.

    Attributes:
        part: Index of the part.
        turn: Angle, degrees.
        shift: Least x and y of the turned outline in the part's own frame, mm.
        size: Extent along x and y, mm.
    """

    part: int
    turn: float
    shift: Array
    size: Array


@dataclass(frozen=True, slots=True, eq=False)
class Planes:
    """Lines round each convex part of a keep-out, one after another.

    A move v is clear of a convex part when ``normal . v >= least`` for one of its lines.

    Attributes:
        normal: Shape (n, 2), outward.
        least: Shape (n,), mm.
        start: Index of the first line of each convex part.
        count: Lines of each convex part.
    """

    normal: Array
    least: Array
    start: NDArray[np.intp]
    count: NDArray[np.intp]


@dataclass(frozen=True, slots=True, eq=False)
class Maps:
    """The depth maps of all pairs of attitudes, one after another in one row of numbers.

    Arrays have shape (attitudes, attitudes), the attitude that lies still first.

    Attributes:
        depths: All depths.
        start: Where each map begins among them.
        long: Cells of each map along the strip.
        wide: Cells of each map across.
        ahead: Cells along the strip from each map's corner to the move 0.
        beside: The same across.
        views: Each map with ahead, beside, long and wide, for reading one at a time; here the attitude that
            moves comes first.
    """

    depths: Map
    start: NDArray[np.intp]
    long: NDArray[np.intp]
    wide: NDArray[np.intp]
    ahead: NDArray[np.intp]
    beside: NDArray[np.intp]
    views: list[list[tuple[Map, int, int, int, int]]]

    @classmethod
    def of(cls, maps: Sequence[Sequence[Placed]]) -> "Maps":
        """Put maps in one row; each is given with the cells from its corner to the move 0."""
        flat = [one for row in maps for one in row]
        size = np.array([depth.size for depth, _, _ in flat], dtype=np.intp)
        start = np.cumsum(size) - size
        depths = np.empty(int(size.sum()), np.float32)
        views: list[tuple[Map, int, int, int, int]] = []
        for at, (depth, ahead, beside) in zip(start.tolist(), flat, strict=True):
            view = depths[at : at + depth.size].reshape(depth.shape)
            view[:] = depth
            views.append((view, ahead, beside, *depth.shape))
        n = len(maps)
        columns = np.array([view[1:] for view in views], dtype=np.intp).reshape(-1, 4).T
        ahead, beside, long, wide = (column.reshape(n, -1) for column in columns)
        rows = [views[k::n] for k in range(n)]
        return cls(depths, start.reshape(n, -1), long, wide, ahead, beside, rows)


@dataclass(slots=True)
class Tables:
    """Everything known about the parts before the search.

    Attributes:
        width: Width of the strip, mm.
        cell: Side of a cell, mm; the width is a whole number of cells.
        rows: Cells across the strip.
        attitudes: All attitudes that fit the width, those of a part one after another.
        of_part: Indices of each part's attitudes.
        copies: Index of the part of each copy.
        size: Extents of the attitudes, shape (attitudes, 2), mm.
        area: Area of all copies, mm2.
        maps: The depth maps of all pairs of attitudes.
    """

    width: float
    cell: float
    rows: int
    attitudes: list[Attitude]
    of_part: list[list[int]]
    copies: list[int]
    size: Array
    area: float
    maps: "Maps"
    _convex: list[Parts]
    _planes: dict[tuple[int, int], Planes] = field(default_factory=dict[tuple[int, int], Planes])
    _lines: int = 0

    @classmethod
    def of(cls, parts: Sequence[Part], width: float) -> "Tables":
        """Work out the tables for ``parts``, each of which fits ``width`` in one of its turns."""
        attitudes: list[Attitude] = []
        of_part: list[list[int]] = []
        for k, part in enumerate(parts):
            own: list[int] = []
            for turn in dict.fromkeys(part.turns):
                outline = turned(part.outline, turn)
                shift = outline.min(axis=0)
                size = outline.max(axis=0) - shift
                if size[1] <= width:
                    own.append(len(attitudes))
                    attitudes.append(Attitude(k, turn, shift, size))
            of_part.append(own)
        copies = [k for k, part in enumerate(parts) for _ in range(part.copies)]
        areas = [float(Polygon(part.outline).area) for part in parts]
        area = sum(areas[k] for k in copies)
        mean = area / len(copies)
        cells = min(CELLS, math.sqrt(MOST_MAP_CELLS / 4.0) / len(attitudes))
        rows = max(4, round(width / math.sqrt(mean) * cells))
        tables = cls(
            width=width,
            cell=width / rows,
            rows=rows,
            attitudes=attitudes,
            of_part=of_part,
            copies=copies,
            size=np.array([attitude.size for attitude in attitudes]),
            area=area,
            maps=Maps.of([[]]),
            _convex=[parts_of(convex_parts(part.outline)) for part in parts],
        )
        shapes = [Polygon(part.outline).simplify(DRAWN * tables.cell) for part in parts]
        drawn = [parts_of(convex_parts(shape)) for shape in shapes if isinstance(shape, Polygon)]
        tables.maps = Maps.of(tables._all_maps(drawn, mean))
        return tables

    @property
    def bound(self) -> float:
        """Length that no lay can go below, mm: by the area, and by each part the way it is shortest."""
        shortest = (self.size[own, 0].min() for own in self.of_part)
        return max(self.area / self.width, *(float(length) for length in shortest))

    def planes(self, i: int, j: int) -> Planes:
        """Return the lines round the keep-out of attitudes i and j."""
        if (i, j) not in self._planes:
            if self._lines > MOST_LINES:
                self._planes.clear()
                self._lines = 0
            self._planes[i, j] = planes = _planes_round(self._keep_out(i, j, self._convex))
            self._lines += len(planes.least)
        return self._planes[i, j]

    def _keep_out(self, i: int, j: int, convex: Sequence[Parts]) -> Array:
        """Return the convex parts of a keep-out, shape (parts, corners, 2), mm; corners may repeat."""
        a, b = self.attitudes[i], self.attitudes[j]
        first, second = turned(convex[a.part].corners, a.turn), turned(convex[b.part].corners, b.turn)
        return _sums(first, second) + (b.shift - a.shift)

    def _all_maps(self, convex: Sequence[Parts], mean: float) -> list[list[Placed]]:
        boxes = (self.size.prod(axis=1) / mean) ** SIZE_POWER
        rows: list[list[Placed]] = [[] for _ in self.attitudes]
        for i, row in enumerate(rows):
            for j in range(len(rows)):
                # The keep-out seen from B is that seen from A, turned about.
                row.append(
                    self._map(i, j, convex, float(boxes[i] * boxes[j]))
                    if i <= j
                    else _turned_about(rows[j][i])
                )
        return rows

    def _map(self, i: int, j: int, convex: Sequence[Parts], scale: float) -> Placed:
        before = [math.ceil(v / self.cell) + 1 for v in self.size[j].tolist()]
        after = [math.ceil(v / self.cell) + 1 for v in self.size[i].tolist()]
        mask = np.zeros((before[0] + after[0] + 1, before[1] + after[1] + 1), np.uint8)
        corners = self._keep_out(i, j, convex)[:, :, ::-1] / self.cell + np.array([before[1], before[0]])
        for ring in np.round(corners * (1 << SUBPIXEL_BITS)).astype(np.int32):
            cv2.fillConvexPoly(mask, ring, 1, shift=SUBPIXEL_BITS)
        if i == j:
            # Which of two alike is said to lie still must not matter, whatever way the rim was drawn.
            mask |= mask[::-1, ::-1]
        depth = np.maximum(cv2.distanceTransform(mask, cv2.DIST_L2, 5) - TOLERATED, 0.0) * scale
        # What little is left of a depth must not round to none.
        return (np.ceil(depth * FINE) / FINE).astype(np.float32), before[0], before[1]


def _turned_about(placed: Placed) -> Placed:
    depth, ahead, beside = placed
    long, wide = depth.shape
    return np.ascontiguousarray(depth[::-1, ::-1]), long - 1 - ahead, wide - 1 - beside


def _sums(first: Array, second: Array) -> Array:
    """Return the Minkowski sums of every polygon of ``first`` and every one of ``second`` turned about.

    Both are convex and counter-clockwise, shapes (p, m, 2) and (q, n, 2), corners may repeat; the sums have
    shape (p q, m + n, 2). Sides of both, sorted by direction, follow one another round the sum.
    """
    p, m, _ = first.shape
    q, n, _ = second.shape
    other = -second
    sides = np.empty((p, q, m + n, 2))
    sides[:, :, :m] = (np.roll(first, -1, axis=1) - first)[:, None]
    sides[:, :, m:] = (np.roll(other, -1, axis=1) - other)[None]
    direction = np.arctan2(sides[..., 1], sides[..., 0]) % (2.0 * np.pi)
    order = np.argsort(direction, axis=-1, kind="stable")
    ordered = np.take_along_axis(sides, order[..., None], axis=2)
    lowest = _lowest(first)[:, None] + _lowest(other)[None]
    ring = lowest[:, :, None] + np.cumsum(ordered, axis=2)
    return ring.reshape(p * q, m + n, 2)


def _lowest(polygons: Array) -> Array:
    """Return the corner of least y, and of least x among those, of each polygon, shape (p, 2)."""
    least = polygons[..., 1].min(axis=1, keepdims=True)
    x = np.where(polygons[..., 1] == least, polygons[..., 0], np.inf)
    at = x.argmin(axis=1)
    return polygons[np.arange(len(polygons)), at]


def _planes_round(keep_out: Array) -> Planes:
    along = np.roll(keep_out, -1, axis=1) - keep_out
    long = np.hypot(along[..., 0], along[..., 1])
    real = long > 1e-9
    normal = np.stack([along[..., 1], -along[..., 0]], axis=-1)[real] / long[real][:, None]
    count = real.sum(axis=1)
    return Planes(
        normal=normal,
        least=(normal * keep_out[real]).sum(axis=1),
        start=np.cumsum(count) - count,
        count=count,
    )

"""A line that a person drew roughly round a garment: what it says of each place, and what is wrong with it.

The garment's edge lies where the line does, give or take the hand's error. That error is normal, with one
spread all along a line of many points; between two points far apart it is wider, since an edge may bow there
while the line runs straight. ``depth`` counts in these spreads, and beyond ``BAND`` of them nothing is open.
"""

from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.spatial import cKDTree
from shapely import LineString, Polygon
from shapely.ops import polygonize

from likesewn.errors import Problem
from likesewn.photo.hints import BAND

__all__ = ["SPREAD", "DrawnLine", "line_problem"]

Array = NDArray[np.float64]

SPREAD = 0.02
"""Spread of a hand's error across the line, as a share of the garment's height."""

BOW = 0.03
"""Spread of an edge's bow between two points, as a share of the distance between them."""

STRAYS = 0.008
"""How far a line may stray from the run between two of its corners, as a share of the height: what a finger
trembles by turns no corner."""

APART = 0.025
"""Usual distance between points, as a share of the height, from which each was tapped on its own."""

STEP = 0.7
"""Distance between the places of the line that stand for it, px: errs by less than a tenth of a pixel
wherever that matters."""

FEWEST_SEEN = 8
"""Points of the line beside a clear edge, below which they do not tell how rough the line is."""

LEAST_SPREAD = 0.25
"""Least part of the usual spread: nobody draws more exactly, and an edge followed by mistake agrees."""

LEAST_SIDE = 8.0
"""Sides of a box round the line, px, below which it is a slip of the hand."""

LEAST_AREA = 0.03
"""Share of that box below which the line goes round nothing."""

ONCE = (0.75, 1.25)
"""Area by the line's own sense of turning over the area that it encloses: 1 where it goes round once, more
where it goes round again, less where a part of it is turned inside out by a crossing."""


@dataclass(frozen=True, slots=True)
class DrawnLine:
    """A closed line round the garment.

    Attributes:
        px: Its points, shape (n, 2), px, the inside on the right hand, from the topmost one on, so that
            where it was begun and which way round it went says nothing.
        spread: Spread of the hand's error in each direction, px.
        corners: Those of its points at which it turns, shape (m, 2), px.
    """

    px: Array
    spread: float
    corners: Array
    _region: Polygon
    _tree: cKDTree
    _spreads: Array
    _places: Array

    @classmethod
    def through(cls, points: Array) -> "DrawnLine":
        """Return the line through points, (n, 2) px, that ``line_problem`` finds nothing wrong with."""
        px = _in_order(_without_repeats(np.asarray(points, dtype=np.float64)))
        height = float(np.ptp(px[:, 1]))
        ahead = np.roll(px, -1, axis=0) - px
        long = np.hypot(*ahead.T)
        counts = np.maximum(np.ceil(long / STEP).astype(np.int64), 1)
        which = np.repeat(np.arange(len(px)), counts)
        share = (np.arange(len(which)) - np.repeat(np.cumsum(counts) - counts, counts)) / counts[which]
        places = px[which] + share[:, None] * ahead[which]
        spreads = np.hypot(SPREAD * height, BOW * long[which] * 4.0 * share * (1.0 - share))
        corners = px[_turning(px, height)]
        region = _enclosed(px)
        shapely.prepare(region)
        return cls(px, SPREAD * height, corners, region, cKDTree(places), spreads, places)

    def scaled(self, factor: Array) -> "DrawnLine":
        """Return the line in a picture of another size: ``factor`` (2,) new pixels for each pixel."""
        return DrawnLine.through((self.px + 0.5) * factor - 0.5)

    def depth(self, at: Array) -> Array:
        """Return how deep places (n, 2), px, lie inside the line, in spreads, (n,); below 0 outside."""
        far, nearest = self._tree.query(at)
        inside = shapely.contains_xy(self._region, at[:, 0], at[:, 1])
        return np.where(inside, far, -far) / self._spreads[nearest]

    def depth_of_pixels(self, shape: tuple[int, int]) -> Array:
        """Return the depth of each pixel of a picture; beyond the band only on which side it lies."""
        rows, columns = shape
        most = BAND * float(self._spreads.max()) + 1.0
        y, x = np.mgrid[:rows, :columns]
        at = np.stack([x.ravel(), y.ravel()], axis=1).astype(np.float64)
        far, nearest = self._tree.query(at, distance_upper_bound=most)
        beyond = np.isinf(far)
        depth = np.where(beyond, 2.0 * BAND, far / self._spreads[np.where(beyond, 0, nearest)])
        inside = shapely.contains_xy(self._region, at[:, 0], at[:, 1])
        return np.where(inside, depth, -depth).reshape(shape)

    def as_rough_as_seen(self, outline: Array, clear: NDArray[np.bool_]) -> "DrawnLine":
        """Return the line with the spread that a found outline shows, where enough of it is clear to tell.

        Args:
            outline: The outline, shape (n, 2), px.
            clear: At which of its points the picture itself shows an edge, shape (n,).
        """
        far, nearest = cKDTree(outline).query(self.px)
        seen = np.asarray(far, dtype=np.float64)[clear[nearest]]
        if len(seen) < FEWEST_SEEN:
            return self
        spread = float(np.sqrt(np.mean(seen**2)))
        return replace(self, spread=float(np.clip(spread, LEAST_SPREAD * self.spread, self.spread)))

    def held(self, at: Array) -> Array:
        """Return places (n, 2), px, each drawn back to the rim of the band where it lies beyond it."""
        far, nearest = self._tree.query(at)
        most = BAND * self._spreads[nearest]
        share = np.minimum(1.0, most / np.maximum(far, 1e-9))[:, None]
        base = self._places[nearest]
        return base + share * (at - base)


def line_problem(points: Array, key: str) -> Problem | None:
    """Return what makes a drawn line useless, or None.

    Args:
        points: Its points as drawn, shape (n, 2), px.
        key: What the line is called where it was drawn, for the message.
    """
    px = _without_repeats(np.asarray(points, dtype=np.float64))
    if len(px) < 3:
        allowed = "3 points or more round the whole garment"
        return Problem("a line round something has more points", found=str(len(px)), key=key, allowed=allowed)
    wide, high = np.ptp(px, axis=0)
    area = float(_enclosed(px).area)
    if min(wide, high) < LEAST_SIDE or area < LEAST_AREA * wide * high:
        return Problem(
            "this line goes round nothing",
            found=f"{wide:.0f} by {high:.0f} px",
            key=key,
            allowed="a line round the whole garment",
            todo="Go once round the garment, from corner to corner.",
        )
    if not ONCE[0] <= abs(_signed_area(px)) / area <= ONCE[1]:
        return Problem(
            "this line crosses itself, so it does not tell inside from outside",
            key=key,
            allowed="a line once round the garment; it may cross itself a little where it was begun",
            todo="Put the points in their order along the edge.",
        )
    return None


def _without_repeats(px: Array) -> Array:
    """Return the points without those that lie where the one before lies; the first follows the last."""
    return px[np.hypot(*(px - np.roll(px, 1, axis=0)).T) > 1e-6]


def _signed_area(px: Array) -> float:
    x, y = (px - px.mean(axis=0)).T
    return 0.5 * float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())


def _in_order(px: Array) -> Array:
    px = px if _signed_area(px) > 0 else px[::-1]
    return np.roll(px, -int(np.lexsort(px.T)[0]), axis=0)


def _enclosed(px: Array) -> Polygon:
    """Return all that a line encloses, crossings or not; a loop beside the largest part is left away."""
    line = shapely.union_all([LineString(np.vstack([px, px[:1]]))])
    whole = shapely.union_all(list(polygonize(line)))
    parts = [part for part in shapely.get_parts(whole) if isinstance(part, Polygon)]
    return max(parts, key=lambda part: part.area, default=Polygon())


def _turning(px: Array, height: float) -> NDArray[np.int64]:
    """Return which points of a line may be corners: those tapped one by one, and where a finger's line turns.

    A finger's line turns at the points of the shortest line that stays within ``STRAYS`` of it.
    """
    ahead = np.hypot(*(np.roll(px, -1, axis=0) - px).T)
    if np.median(ahead) > APART * height:
        return np.arange(len(px))
    turns = np.zeros(len(px), bool)
    far = int(np.argmax(np.hypot(*(px - px[0]).T)))
    halves = (np.arange(far + 1), np.append(np.arange(far, len(px)), 0))
    for half in halves:
        kept = shapely.get_coordinates(LineString(px[half]).simplify(STRAYS * height))
        turns[half[cKDTree(px[half]).query(kept)[1]]] = True
    return np.nonzero(turns)[0]

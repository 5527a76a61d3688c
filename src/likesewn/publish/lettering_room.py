"""Where lettering goes on a piece: inside the seam line, clear of lines and of other lettering.

The piece's free room is a polygon that shrinks with everything put into it. A block of lines, a scale
bar or an edge's name is tried in many places at once and goes to the best of those that are free. Where the
piece is printed on several sheets, places that lie on one sheet come first.
"""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from likesewn.geometry import Path, point_at, tangent_at
from likesewn.publish import lettering
from likesewn.publish.drawing import Item, Label, moved
from likesewn.publish.piece_lines import sampled

__all__ = ["Room"]

_CLEAR_MM = 2.5
# narrow pieces would rather have their lines run on than much smaller
_SCALES = ((1.0, 0.85, 0.7), (0.55, 0.42), (0.36, 0.32), (0.25,))
_TITLE_MM = 11.0
_BODY_MM = 5.4
_LEADING = 1.4
_AT_ONCE = 50
"""Places of a box that are looked at together, the best ones first."""


class Room:
    """The free room of one piece."""

    def __init__(
        self, outline: NDArray[np.float64], enlarged: float = 1.0, joins: Sequence[BaseGeometry] = ()
    ) -> None:
        """Take a polygon as the room to write in.

        Args:
            outline: The polygon, shape (n, 2), mm.
            enlarged: Factor for lettering and clearances, for drawings that are looked at reduced.
            joins: What to keep off where there is room elsewhere, such as the joins of sheets; the wish that
                matters most last.
        """
        polygon = shapely.make_valid(shapely.Polygon(outline))
        self._enlarged = enlarged
        self._clear = _CLEAR_MM * enlarged
        self._free: BaseGeometry = polygon.buffer(-self._clear)
        self._joins = (*joins, shapely.Polygon())
        # the middle of the widest part, where a title looks at home
        circle = shapely.maximum_inscribed_circle(polygon)  # pyright: ignore[reportCallIssue, reportArgumentType] - the stubs know no polygons here
        self._home = np.array(circle.coords[0])

    def keep_clear(self, path: Path) -> None:
        """Keep lettering away from a line."""
        self._take(shapely.LineString(sampled(path)).buffer(self._clear))

    def keep_label_clear(self, label: Label) -> None:
        """Keep other lettering away from a label that is placed already."""
        self._take(shapely.Polygon(label.corners()).buffer(1.0))

    def _take(self, shape: BaseGeometry) -> None:
        self._free = self._free.difference(shape)

    def _place(self, width: float, height: float, free: BaseGeometry) -> tuple[float, float] | None:
        """Return the left top corner of the free box nearest to home, or None."""
        if free.is_empty:
            return None
        left, top, right, bottom = free.bounds
        if right - left < width or bottom - top < height:
            return None
        xs = np.linspace(left, right - width, 40)
        ys = np.linspace(top, bottom - height, 60)
        x, y = (v.ravel() for v in np.meshgrid(xs, ys))
        far = np.hypot(x + width / 2 - self._home[0], y + height / 2 - self._home[1])
        left_over = np.argsort(far, kind="stable")
        shapely.prepare(free)
        # a box can lie within only where its corners do, which is quick to tell
        for over in (0.0, width):
            for under in (0.0, height):
                within = shapely.intersects_xy(free, x[left_over] + over, y[left_over] + under)
                left_over = left_over[within]
        for some in np.array_split(left_over, range(_AT_ONCE, len(left_over), _AT_ONCE)):
            boxes = shapely.box(x[some], y[some], x[some] + width, y[some] + height)
            inside = np.flatnonzero(shapely.contains(free, boxes))
            if len(inside):
                best = some[inside[0]]
                return float(x[best]), float(y[best])
        return None

    def put(self, items: tuple[Item, ...], width: float, height: float) -> tuple[Item, ...]:
        """Return ``items`` moved to the best free place, upright or turned; empty if there is none.

        Args:
            items: What to place; its box runs from (0, 0) to (``width``, ``height``), mm.
            width: Width of that box, mm.
            height: Height of that box, mm.
        """
        tries = (self._put(items, width, height, join) for join in self._joins)
        return next(filter(None, tries), ())

    def _put(
        self, items: tuple[Item, ...], width: float, height: float, join: BaseGeometry
    ) -> tuple[Item, ...]:
        free = self._free.difference(join)
        upright = self._place(width, height, free)
        if upright is not None:
            self._take(shapely.box(*upright, upright[0] + width, upright[1] + height).buffer(self._clear))
            return tuple(moved(item, 0.0, upright) for item in items)
        turned = self._place(height, width, free)
        if turned is None:
            return ()
        self._take(shapely.box(*turned, turned[0] + height, turned[1] + width).buffer(self._clear))
        return tuple(moved(item, -90.0, (turned[0], turned[1] + width)) for item in items)

    def put_lines(self, title: str, body: tuple[str, ...]) -> tuple[Item, ...]:
        """Return a title with lines under it, as large as the room allows.

        Smaller lettering on one sheet comes before larger lettering across a join, except the smallest. Where
        not even the smallest block fits, the title alone is written small at the widest place.
        """
        if not (title.split() or any(line.split() for line in body)):
            return ()
        running = (" · ".join(body),) if len(body) > 1 else body
        *legible, smallest = _SCALES
        joins = self._joins
        tries = [(join, scales) for join in joins[:-1] for scales in legible]
        tries += [(joins[-1], scales) for scales in legible] + [(join, smallest) for join in joins]
        for join, scales in tries:
            for lines, longest in ((body, 26.0), (running, 44.0), (running, 80.0), (running, 28.0)):
                for scale in scales:
                    placed = self._put(*_block(title, lines, scale * self._enlarged, longest), join)
                    if placed:
                        return placed
        size = 2.2 * self._enlarged
        label = Label(lettering.shorten(title, size, 18.0 * size), (0.0, 0.0), size, "middle", bold=True)
        at = (float(self._home[0]), float(self._home[1]) + size * 0.3)
        return (replace(label, at=at),)

    def put_beside(self, path: Path, text: str, size: float) -> Label | None:
        """Return ``text`` written along the inner side of an edge, or None where it does not fit."""
        for join in self._joins:
            free = self._free.difference(join)
            shapely.prepare(free)
            for share in (0.5, 0.42, 0.58, 0.34, 0.66, 0.26, 0.74, 0.18, 0.82):
                label = self._beside(path, text, size, share)
                if shapely.contains(free, shapely.Polygon(label.corners())):
                    self.keep_label_clear(label)
                    return label
        return None

    def _beside(self, path: Path, text: str, size: float, share: float) -> Label:
        at, way = point_at(path, share * path.length), tangent_at(path, share * path.length)
        inward = np.array([-way[1], way[0]])
        angle = float(np.degrees(np.arctan2(way[1], way[0])))
        # read left to right, or from the bottom up
        flip = not -90.0 - 1e-6 <= angle < 90.0 - 1e-6
        inset = lettering.DESCENT if flip else lettering.ASCENT
        place = at + inward * (self._clear + 0.6 + inset * size)
        angle = angle + 180.0 if flip else angle
        return Label(text, (float(place[0]), float(place[1])), size, "middle", angle)


def _block(
    title: str, body: tuple[str, ...], scale: float, longest: float
) -> tuple[tuple[Item, ...], float, float]:
    """Lay out a title over lines, centred; returns the items, width and height.

    Lines are broken at ``longest`` sizes of the body.
    """
    longest *= _BODY_MM * scale
    big, small = _TITLE_MM * scale, _BODY_MM * scale
    rows = [(line, big, True) for line in lettering.fold(title, big, longest, bold=True)]
    rows += [(line, small, False) for text in body for line in lettering.fold(text, small, longest)]
    width = max(lettering.width(text, size, bold=bold) for text, size, bold in rows)
    items: list[Item] = []
    y = 0.0
    for text, size, bold in rows:
        y += size * lettering.ASCENT
        items.append(Label(text, (width / 2, y), size, "middle", bold=bold))
        y += size * (_LEADING - lettering.ASCENT)
    return tuple(items), width, y

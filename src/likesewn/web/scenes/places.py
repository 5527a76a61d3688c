"""Where the pieces of a scene lie: side by side, each with its title in the middle of its widest part."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from likesewn.publish.pictures import side_by_side
from likesewn.web.scene import Bounds, Text

__all__ = ["Places", "polygon_title", "spread_out"]

Array = NDArray[np.float64]

_RIM = 0.02
_TITLE_PX = 15.0
_UPRIGHT = 4.0  # a title stands upright where the piece is this much higher than wide
_STRIP = 3.0  # a piece that is this much wider than high lies below the others, or all would be shown small
_NEAR = 0.03  # a title's place is sought to this share of the piece's size


@dataclass(frozen=True, slots=True)
class Places:
    """Where each piece goes, mm, in the pieces' order, and the bounds of all."""

    shifts: tuple[tuple[float, float], ...]
    bounds: Bounds


def spread_out(outlines: Sequence[Array]) -> Places:
    """Return where pieces go that lie side by side, strips such as bands in lines below them.

    Args:
        outlines: Polygons, each shape (n, 2), mm.
    """
    if not outlines:
        return Places((), (0.0, 0.0, 100.0, 100.0))
    boxes = [(outline.min(axis=0), outline.max(axis=0)) for outline in outlines]
    strips = [i for i, (low, far) in enumerate(boxes) if far[0] - low[0] > _STRIP * (far[1] - low[1])]
    row = [i for i in range(len(boxes)) if i not in strips] or strips
    placed, (right, deep), gap = side_by_side([boxes[i] for i in row])
    shifts = dict(zip(row, placed, strict=True))
    for i in strips if len(row) < len(boxes) else ():
        low, far = boxes[i]
        shifts[i] = (-float(low[0]), deep + gap - float(low[1]))
        right, deep = max(right, float(far[0] - low[0])), deep + gap + float(far[1] - low[1])
    rim = _RIM * max(right, deep)
    return Places(tuple(shifts[i] for i in range(len(boxes))), (-rim, -rim, right + rim, deep + rim))


def polygon_title(outline: Array, title: str, shift: tuple[float, float] = (0.0, 0.0)) -> Text:
    """Return a title in the middle of a polygon's widest part, of one size however near one looks."""
    polygon = shapely.Polygon(outline)
    if not polygon.is_valid:
        polygon = shapely.make_valid(polygon)
    tolerance = _NEAR * float(np.ptp(outline, axis=0).max())
    circle = shapely.maximum_inscribed_circle(polygon, tolerance)  # pyright: ignore[reportCallIssue, reportArgumentType] - the stubs know no polygons here
    x, y = (float(v) for v in circle.coords[0])
    wide, high = _chord(polygon, (x, y), 0), _chord(polygon, (x, y), 1)
    upright = high[1] - high[0] > _UPRIGHT * (wide[1] - wide[0])
    if upright:
        y = 0.5 * (high[0] + high[1])
    else:
        x = 0.5 * (wide[0] + wide[1])
    low, far = high if upright else wide
    at = (x + shift[0], y + shift[1])
    angle = -90.0 if upright else 0.0
    return Text(at, title, _TITLE_PX, "middle", angle, bold=True, fixed=True, room=far - low)


def _chord(polygon: BaseGeometry, at: tuple[float, float], axis: int) -> tuple[float, float]:
    """Return from where to where a polygon reaches through a point, along x (axis 0) or y (axis 1)."""
    low, far = polygon.bounds[axis], polygon.bounds[axis + 2]
    ends = [(low, at[1]), (far, at[1])] if axis == 0 else [(at[0], low), (at[0], far)]
    for part in shapely.get_parts(polygon.intersection(shapely.LineString(ends))):
        if part.bounds[axis] <= at[axis] <= part.bounds[axis + 2]:
            return float(part.bounds[axis]), float(part.bounds[axis + 2])
    return at[axis], at[axis]

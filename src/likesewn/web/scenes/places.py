"""Where the pieces of a scene lie: side by side, each with its title in the middle of its widest part."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

from likesewn.publish.pictures import side_by_side
from likesewn.web.scene import Bounds, Text

__all__ = ["Places", "polygon_title", "spread_out"]

Array = NDArray[np.float64]

_RIM = 0.02
_TITLE_PX = 15.0


@dataclass(frozen=True, slots=True)
class Places:
    """Where each piece goes, mm, in the pieces' order, and the bounds of all."""

    shifts: tuple[tuple[float, float], ...]
    bounds: Bounds


def spread_out(outlines: Sequence[Array]) -> Places:
    """Return where pieces go that lie side by side; ``outlines`` are polygons, each shape (n, 2), mm."""
    if not outlines:
        return Places((), (0.0, 0.0, 100.0, 100.0))
    boxes = [(outline.min(axis=0), outline.max(axis=0)) for outline in outlines]
    shifts, (right, deep), _ = side_by_side(boxes)
    rim = _RIM * max(right, deep)
    return Places(tuple(shifts), (-rim, -rim, right + rim, deep + rim))


def polygon_title(outline: Array, title: str, shift: tuple[float, float] = (0.0, 0.0)) -> Text:
    """Return a title in the middle of a polygon's widest part, of one size however near one looks."""
    polygon = shapely.make_valid(shapely.Polygon(outline))
    tolerance = 0.02 * float(np.ptp(outline, axis=0).max())
    (x, y), (far_x, far_y) = shapely.maximum_inscribed_circle(polygon, tolerance).coords[:2]  # pyright: ignore[reportCallIssue, reportArgumentType] - the stubs know no polygons here
    radius = float(np.hypot(far_x - x, far_y - y))
    at = (float(x) + shift[0], float(y) + shift[1])
    return Text(at, title, _TITLE_PX, "middle", bold=True, fixed=True, room=2.4 * radius)

"""Curves through a few points to take hold of: made of a traced edge, and turned back into one."""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import ArrayLike, NDArray

__all__ = ["LEAST", "curve_points", "curve_through", "with_point"]

Array = NDArray[np.float64]

LEAST = 3
"""Points that a curve has at least."""

MOST_HANDLES = 12
FINE = 40
"""Points along a curve that is handed on, as many as a traced edge has."""


def curve_points(line: ArrayLike, near: float) -> Array:
    """Return a few of a line's points through which a curve runs that keeps near the line.

    Args:
        line: Points along the line, shape (n, 2), n at least 3.
        near: How far the curve may stray, in the line's unit.
    """
    line = np.asarray(line, dtype=np.float64)
    picked = sorted({0, len(line) // 2, len(line) - 1})
    while len(picked) < min(MOST_HANDLES, len(line)):
        curve = shapely.LineString(curve_through(line[picked], 4 * FINE))
        off = np.asarray(shapely.distance(shapely.points(line), curve))
        worst = int(np.argmax(off))
        if off[worst] <= near or worst in picked:
            break
        picked = sorted([*picked, worst])
    return line[picked]


def curve_through(points: ArrayLike, count: int = FINE) -> Array:
    """Return points along a smooth curve through points: cubics that meet in place and direction.

    The direction at a point is that of a parabola through it and its neighbours, so a point that is moved
    moves the curve no further than to the second point on each side.

    Args:
        points: Shape (n, 2), n at least 2.
        count: How many to return; the given points are among them as nearly as the spacing lets.
    """
    points = np.asarray(points, dtype=np.float64)
    steps = np.maximum(np.hypot(*np.diff(points, axis=0).T), 1e-9)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    slopes = np.diff(points, axis=0) / steps[:, None]
    tangents = np.empty_like(points)
    if len(points) == 2:
        tangents[:] = slopes[0]
    else:
        a, b = steps[:-1, None], steps[1:, None]
        tangents[1:-1] = (b * slopes[:-1] + a * slopes[1:]) / (a + b)
        tangents[0] = 2 * slopes[0] - tangents[1]
        tangents[-1] = 2 * slopes[-1] - tangents[-2]
    at = np.linspace(0.0, along[-1], count)
    i = np.clip(np.searchsorted(along, at, side="right") - 1, 0, len(steps) - 1)
    h = steps[i][:, None]
    t = ((at - along[i]) / steps[i])[:, None]
    return (
        (1 + 2 * t) * (1 - t) ** 2 * points[i]
        + t * (1 - t) ** 2 * h * tangents[i]
        + t**2 * (3 - 2 * t) * points[i + 1]
        + t**2 * (t - 1) * h * tangents[i + 1]
    )


def with_point(
    points: Sequence[tuple[float, float]], at: tuple[float, float]
) -> tuple[list[tuple[float, float]], int]:
    """Return points with one more, where it makes the way least longer, and its place among them."""
    line, new = np.asarray(points, dtype=np.float64), np.asarray(at, dtype=np.float64)
    to = np.hypot(*(line - new).T)
    longer = to[:-1] + to[1:] - np.hypot(*np.diff(line, axis=0).T)
    # before the first and after the last it grows by the whole way there
    where = int(np.argmin([to[0], *longer, to[-1]])) if len(line) > 1 else 1
    return [*points[:where], at, *points[where:]], where

"""The point of a path nearest to each of many points.

Every candidate is bounded from both sides by the chords of a fixed subdivision, so that the nearest part
cannot be missed; within a part the stationary places of the distance are the roots of a polynomial of
degree five, all of which ``roots`` isolates.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from likesewn.geometry import bezier
from likesewn.geometry.path import Path
from likesewn.geometry.roots import product, roots

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

__all__ = ["Closest", "closest", "distances"]

_CHORDS = 16
"""Chords for each segment: more of them bound more tightly but cost a distance each for every point."""

_BATCH = 200_000
"""Most distances to chords computed at once: keeps the working arrays within a processor's cache."""


@dataclass(frozen=True, eq=False, slots=True)
class Closest:
    """Where a path comes closest to each of n points.

    Attributes:
        distance: Distance from each point to the path, shape (n,), mm.
        along: Distance of the nearest place from the path's start, shape (n,), mm.
        point: The nearest point of the path, shape (n, 2), mm.
    """

    distance: Array
    along: Array
    point: Array


def _candidates(path: Path, points: Array) -> tuple[Indices, Indices, Array, Array]:
    """Return the parts of the path that may hold the nearest point: point, segment, start, end."""
    ctrl = path.segments
    chords = np.where(path.straight, 1, _CHORDS)
    segment = np.repeat(np.arange(len(ctrl)), chords)
    step = np.arange(len(segment)) - np.repeat(np.cumsum(chords) - chords, chords)
    width = 1.0 / chords[segment]
    first, last = step * width, (step + 1) * width
    a, b = bezier.position(ctrl[segment], first), bezier.position(ctrl[segment], last)
    bend = 6.0 * (ctrl[:, 2:] - 2.0 * ctrl[:, 1:-1] + ctrl[:, :-2])
    # the chord error h² max|P''| / 8, and a little for rounding
    slack = np.hypot(bend[..., 0], bend[..., 1]).max(axis=1)[segment] * width**2 / 8.0
    slack = slack + 1e-13 * float(np.abs(ctrl).max())
    along = b - a
    square = along[:, 0] ** 2 + along[:, 1] ** 2
    inverse = np.divide(1.0, square, out=np.zeros_like(square), where=square > 1e-200)
    found_point: list[Indices] = []
    found_part: list[Indices] = []
    batch = max(_BATCH // len(segment), 1)
    # the place on a chord is u = (q - a) . along / along²; what a costs in it is the same for all points
    scaled = along * inverse[:, None]
    before = np.sum(a * scaled, axis=1)
    for start in range(0, len(points), batch):
        q = points[start : start + batch]
        u = q @ scaled.T
        u -= before
        np.clip(u, 0.0, 1.0, out=u)
        x, y = q[:, :1] - a[:, 0], q[:, 1:] - a[:, 1]
        x -= u * along[:, 0]
        y -= u * along[:, 1]
        x *= x
        y *= y
        x += y
        distance = np.sqrt(x, out=x)
        # a place u that rounding has moved costs the distance no more than rounding
        least = (distance + slack).min(axis=1, keepdims=True)
        at, part = np.nonzero(distance - slack <= least)
        found_point.append(at + start)
        found_part.append(part)
    part = np.concatenate(found_part)
    return np.concatenate(found_point), segment[part], first[part], last[part]


def closest(path: Path, points: ArrayLike) -> Closest:
    """Return the nearest point of a path for each of many points: the nearest of all, not a local one.

    Of several places equally near (to rounding) one is returned.

    Args:
        path: The path.
        points: Points, shape (n, 2), mm; a single point, shape (2,), counts as n = 1.

    Returns:
        Distances, distances along the path and points, see ``Closest``.

    Raises:
        ValueError: When the points are not an array of finite pairs.
    """
    wanted = _pairs(points)
    if not len(wanted):
        return Closest(np.zeros(0), np.zeros(0), np.zeros((0, 2)))
    distance, segment, t, point = _nearest(path, wanted)
    return Closest(distance, path.ruler.along(segment, t), point)


def distances(path: Path, points: ArrayLike) -> Array:
    """Return the distance of each of many points from a path, mm, where the place does not matter."""
    wanted = _pairs(points)
    if not len(wanted):
        return np.zeros(0)
    if path.straight.all():
        start = path.segments[:, 0]
        chord = path.segments[:, 3] - start
        square = np.maximum(np.sum(chord * chord, axis=1), 1e-300)
        away = wanted[:, None] - start
        u = np.clip(np.sum(away * chord, axis=2) / square, 0.0, 1.0)
        gap = away - u[..., None] * chord
        return np.hypot(gap[..., 0], gap[..., 1]).min(axis=1)
    return _nearest(path, wanted)[0]


def _pairs(points: ArrayLike) -> Array:
    wanted = np.asarray(points, dtype=float)
    wanted = wanted[None] if wanted.ndim == 1 else wanted
    if wanted.ndim != 2 or wanted.shape[1] != 2 or not np.all(np.isfinite(wanted)):
        raise ValueError(f"points must be finite pairs, shape (n, 2), and shape {wanted.shape} was given")
    return wanted


def _nearest(path: Path, wanted: Array) -> tuple[Array, Indices, Array, Array]:
    """Return distance, segment, parameter and place of the nearest point for each of some points."""
    index, segment, first, last = _candidates(path, wanted)
    parts = bezier.part(path.segments[segment], first, last)
    away = parts - wanted[index][:, None]
    speed = np.diff(parts, axis=1)
    slope = product(away[..., 0], speed[..., 0]) + product(away[..., 1], speed[..., 1])
    owner, place = roots(slope)
    t = np.concatenate([first, last, first[owner] + place * (last - first)[owner]])
    index = np.concatenate([index, index, index[owner]])
    segment = np.concatenate([segment, segment, segment[owner]])
    found = bezier.position(path.segments[segment], t)
    distance = np.hypot(*(found - wanted[index]).T)
    order = np.lexsort((distance, index))
    best = order[np.searchsorted(index[order], np.arange(len(wanted)))]
    return distance[best], segment[best], t[best], found[best]

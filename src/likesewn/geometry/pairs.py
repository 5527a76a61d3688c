"""Where pairs of cubic segments come together: the search below ``meet``.

Both segments of a pair are halved again and again. A pair is dropped as soon as some line separates the
two control polygons (both boxes, and both chords' normals, are tried). Once the directions that the two
can take are disjoint, they cross at most once, and Newton's method finds the place. What remains when the
parts have become tiny are places where the two run together: touches, and runs that they share.

Sources: Sederberg and Meyers, Loop detection in surface patch intersections (CAGD 5, 1988), for the test
on directions; Farin, Curves and Surfaces for CAGD, ch. 5, for the control polygon as a hull.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import bezier

Array = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]

__all__ = ["TOUCH", "Places", "meeting_places"]

TOUCH = 1e-6
"""Paths that come within this distance of one another touch, mm."""

_TINY = 1e-3
"""Parts shorter than this are not halved any more, mm: two crossings nearer than that count as one."""

_MOST_PAIRS = 20_000
"""Most pairs halved at once. Only paths that run together within ``TOUCH`` without being the same
curve reach it; they are then taken as they stand."""

_LEVELS = 60

_FLAT = 1e-150
"""Determinants below this count as 0: their inverse would overflow."""


@dataclass(frozen=True, eq=False, slots=True)
class Places:
    """Places on two lists of segments, each array of shape (n,).

    Attributes:
        a: Segment in the first list.
        t: Parameter on it.
        b: Segment in the second list.
        u: Parameter on it.
        touching: True where the two run side by side rather than across one another.
    """

    a: Indices
    t: Array
    b: Indices
    u: Array
    touching: Flags


@dataclass(frozen=True, eq=False, slots=True)
class _Pairs:
    """Parts of segments, pair by pair: which segment, from which parameter, how wide, control points."""

    a: Indices
    b: Indices
    t: Array
    u: Array
    width: float
    first: Array
    second: Array

    def keep(self, which: Flags) -> "_Pairs":
        return _Pairs(
            self.a[which],
            self.b[which],
            self.t[which],
            self.u[which],
            self.width,
            self.first[which],
            self.second[which],
        )

    def halved(self) -> "_Pairs":
        half = 0.5 * self.width
        middle = np.full(len(self.a), 0.5)
        firsts, seconds = bezier.split(self.first, middle), bezier.split(self.second, middle)
        return _Pairs(
            np.tile(self.a, 4),
            np.tile(self.b, 4),
            np.concatenate([self.t, self.t, self.t + half, self.t + half]),
            np.concatenate([self.u, self.u + half, self.u, self.u + half]),
            half,
            np.concatenate([firsts[0], firsts[0], firsts[1], firsts[1]]),
            np.concatenate([seconds[0], seconds[1], seconds[0], seconds[1]]),
        )


def _cross(a: Array, b: Array) -> Array:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def _near(pairs: _Pairs, slack: float) -> Flags:
    """Return which pairs no box and no chord's normal separates."""
    a, b = pairs.first, pairs.second
    near = np.all(a.min(axis=1) <= b.max(axis=1) + slack, axis=1)
    near &= np.all(b.min(axis=1) <= a.max(axis=1) + slack, axis=1)
    at = np.flatnonzero(near)
    if not len(at):
        return near
    a, b = a[at], b[at]
    for one, other in ((a, b), (b, a)):
        chord = one[:, 3] - one[:, 0]
        size = np.hypot(chord[:, 0], chord[:, 1])[:, None]
        unit = np.divide(chord, size, out=np.zeros_like(chord), where=size > 0)
        own, theirs = (_cross(unit[:, None], s - one[:, :1]) for s in (one, other))
        near[at] &= own.min(axis=1) <= theirs.max(axis=1) + slack
        near[at] &= theirs.min(axis=1) <= own.max(axis=1) + slack
    return near


def _directions(parts: Array) -> tuple[Array, Array]:
    """Return the middle and the half width of the directions of parts, shape (n,), radians.

    The half width is infinite where the directions spread over half a turn or more.
    """
    d = np.diff(parts, axis=1)
    size = np.hypot(d[..., 0], d[..., 1])
    counts = size > 1e-13 * (1.0 + np.abs(parts).max(axis=(1, 2)))[:, None]
    mean = np.sum(d, axis=1)
    away = np.arctan2(_cross(mean[:, None], d), np.sum(mean[:, None] * d, axis=-1))
    high = np.where(counts, away, -np.inf).max(axis=1)
    low = np.where(counts, away, np.inf).min(axis=1)
    wide = (high >= 0.5 * np.pi) | (low <= -0.5 * np.pi) | ~counts.any(axis=1)
    low, high = np.where(wide, 0.0, low), np.where(wide, 0.0, high)
    centre = np.arctan2(mean[:, 1], mean[:, 0]) + 0.5 * (high + low)
    return centre, np.where(wide, np.inf, 0.5 * (high - low))


def _meet_once(pairs: _Pairs) -> tuple[Flags, Array, Array]:
    """Follow Newton's method from the middle of each pair; return which arrived, and where on each part."""
    a, b = pairs.first, pairs.second
    t, u = np.full(len(a), 0.5), np.full(len(a), 0.5)
    scale = 1e-14 * (1.0 + np.maximum(np.abs(a).max(axis=(1, 2)), np.abs(b).max(axis=(1, 2))))
    arrived = np.zeros(len(a), dtype=bool)
    for _ in range(12):
        gap = bezier.position(a, t) - bezier.position(b, u)
        arrived = np.hypot(gap[:, 0], gap[:, 1]) <= 8.0 * scale
        if arrived.all():
            break
        da, db = bezier.derivative(a, t), bezier.derivative(b, u)
        below = _cross(da, db)
        inverse = np.divide(1.0, below, out=np.zeros_like(below), where=np.abs(below) > _FLAT)
        move = ~arrived
        t = np.where(move, np.clip(t - _cross(gap, db) * inverse, -1.0, 2.0), t)
        u = np.where(move, np.clip(u - _cross(gap, da) * inverse, -1.0, 2.0), u)
    gap = bezier.position(a, t) - bezier.position(b, u)
    arrived = np.hypot(gap[:, 0], gap[:, 1]) <= 32.0 * scale
    speeds = (np.hypot(*bezier.derivative(part, at).T) for part, at in ((a, t), (b, u)))
    for at, speed in zip((t, u), speeds, strict=True):
        outside = np.maximum(-at, at - 1.0) * speed
        arrived &= outside <= TOUCH
    return arrived, np.clip(t, 0.0, 1.0), np.clip(u, 0.0, 1.0)


def _side_by_side(pairs: _Pairs) -> tuple[Flags, Array, Array]:
    """Return which tiny pairs touch, and where: their chords' closest approach, then the parallel place."""
    a, b = pairs.first, pairs.second
    best = np.full(len(a), np.inf)
    t, u = np.zeros(len(a)), np.zeros(len(a))
    # two segments come closest at an end of one of them, unless they cross
    for one, other, swap in ((a, b, False), (b, a, True)):
        chord = other[:, 3] - other[:, 0]
        square = np.sum(chord * chord, axis=1)
        for at, index in ((0.0, 0), (1.0, 3)):
            along = np.sum((one[:, index] - other[:, 0]) * chord, axis=1)
            place = np.clip(np.divide(along, square, out=np.zeros_like(along), where=square > 0), 0.0, 1.0)
            gap = np.hypot(*(one[:, index] - bezier.position(other, place)).T)
            better = gap < best
            best = np.where(better, gap, best)
            t = np.where(better, place if swap else at, t)
            u = np.where(better, at if swap else place, u)
    for _ in range(6):
        gap = bezier.position(a, t) - bezier.position(b, u)
        da, db = bezier.derivative(a, t), bezier.derivative(b, u)
        dda, ddb = bezier.second_derivative(a, t), bezier.second_derivative(b, u)
        # straight across, and parallel: regular where the two curve differently
        across, parallel = np.sum(gap * db, axis=1), _cross(da, db)
        j00, j01 = np.sum(da * db, axis=1), np.sum(gap * ddb, axis=1) - np.sum(db * db, axis=1)
        j10, j11 = _cross(dda, db), _cross(da, ddb)
        below = j00 * j11 - j01 * j10
        inverse = np.divide(1.0, below, out=np.zeros_like(below), where=np.abs(below) > _FLAT)
        new_t = np.clip(t - (across * j11 - parallel * j01) * inverse, 0.0, 1.0)
        new_u = np.clip(u - (parallel * j00 - across * j10) * inverse, 0.0, 1.0)
        gap = np.hypot(*(bezier.position(a, new_t) - bezier.position(b, new_u)).T)
        better = gap <= best
        best = np.where(better, gap, best)
        t, u = np.where(better, new_t, t), np.where(better, new_u, u)
    return best <= TOUCH, t, u


def _at_joint(pairs: _Pairs, joined: Flags) -> Flags:
    """Return which pairs meet in the common point of a segment and its follower, and may be dropped.

    ``joined`` (number of segments in the first list, in the second) says which follows on which.
    """
    ends = (pairs.t + pairs.width >= 1.0) & (pairs.u <= 0.0)
    return ends & joined[pairs.a, pairs.b]


def meeting_places(
    first: Array, second: Array, which: tuple[Indices, Indices], joined: Flags | None = None
) -> Places:
    """Return the places where segments cross or touch.

    Args:
        first: Segments, shape (n, 4, 2), mm.
        second: Segments, shape (m, 4, 2), mm.
        which: The pairs to try: indices into ``first`` and into ``second``, each shape (k,).
        joined: Shape (n, m), true where the segment of ``second`` starts at the end of the one of
            ``first`` and follows it: their common point is then no meeting.

    Returns:
        The places, some of them more than once (on both sides of a cut, or along a shared run).
    """
    a, b = which
    found: list[tuple[Indices, Array, Indices, Array, Flags]] = []

    def record(pairs: _Pairs, t: Array, u: Array, *, touching: bool) -> None:
        found.append(
            (pairs.a, pairs.t + pairs.width * t, pairs.b, pairs.u + pairs.width * u,
             np.full(len(t), touching))
        )  # fmt: skip

    pairs = _Pairs(a, b, np.zeros(len(a)), np.zeros(len(a)), 1.0, first[a], second[b])
    for level in range(_LEVELS):
        pairs = pairs.keep(_near(pairs, TOUCH))
        if not len(pairs.a):
            break
        (centre_a, half_a), (centre_b, half_b) = _directions(pairs.first), _directions(pairs.second)
        between = centre_b - centre_a
        turned = np.abs(between - np.pi * np.round(between / np.pi))
        once = turned > half_a + half_b
        if joined is not None:
            joint = _at_joint(pairs, joined)
            onward = np.abs(between - 2.0 * np.pi * np.round(between / (2.0 * np.pi)))
            # an arc whose directions keep within half a turn cannot come back to itself
            joint &= once | (onward + half_a + half_b < 0.99 * np.pi)
            pairs, once = pairs.keep(~joint), once[~joint]
        crossing = pairs.keep(once)
        if len(crossing.a):
            arrived, t, u = _meet_once(crossing)
            record(crossing.keep(arrived), t[arrived], u[arrived], touching=False)
            once[np.flatnonzero(once)[~arrived]] = False
            pairs = pairs.keep(~once)
        size = np.maximum(np.ptp(pairs.first, axis=1).max(axis=1), np.ptp(pairs.second, axis=1).max(axis=1))
        finished = size <= _TINY
        if 4 * len(size) > _MOST_PAIRS or level == _LEVELS - 1:
            finished[:] = True
        if finished.any():
            last = pairs.keep(finished)
            if joined is not None:
                last = last.keep(~_at_joint(last, joined))
            touch, t, u = _side_by_side(last)
            record(last.keep(touch), t[touch], u[touch], touching=True)
            pairs = pairs.keep(~finished)
        pairs = pairs.halved()
    if not found:
        none, nowhere = np.zeros(0, dtype=np.intp), np.zeros(0)
        return Places(none, nowhere, none, nowhere, np.zeros(0, dtype=bool))
    a, t, b, u, touching = (np.concatenate(column) for column in zip(*found, strict=True))
    return Places(a, t, b, u, touching)

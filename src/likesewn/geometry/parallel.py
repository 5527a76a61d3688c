"""Parallels of single cubic segments, as runs of cubics: the ground of ``offset``.

The exact parallel of a cubic is no cubic. A segment is first cut where its parallel has a cusp (where the
radius of curvature equals the distance), so that every part of the parallel runs either forward or
backward throughout. Each part is then drawn as one cubic with the exact ends and end tangents of the
parallel; its two handle lengths are fitted by least squares to points of the exact parallel, the
parameters of those points being moved to the nearest place of the cubic in between (Hoschek, Spline
approximation of offset curves, CAGD 5, 1988, gives this fit). Parts that miss the tolerance are halved.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import bezier
from likesewn.geometry.roots import product, roots

Array = NDArray[np.float64]
Indices = NDArray[np.intp]

__all__ = ["Arcs", "parallel_arcs", "parallel_lines"]

_POINTS = np.arange(1, 17) / 17.0
"""Where a fit is made and checked. The error of a cubic with two free handles has few waves, which this
many points cannot straddle."""

_MARGIN = 0.7
"""Share of the tolerance that the checked points may use: what lies between them has the rest."""

_ROUNDS = 6  # fits and moves of parameters: the error settles to a few per cent in three or four

_SPREAD = 1.2
"""Widest spread of directions in one cubic, radians: near a quarter turn a handle fit grows poor."""

_LEVELS = 45  # halvings; a near-cusp needs some thirty

_POINT = 1e-10
"""Extent of a part, mm, below which it is a point: what turns there, as at a cusp of the segment itself, is
not smoothed by halving it, and halves of nothing would only grow in number."""


@dataclass(frozen=True, eq=False, slots=True)
class Arcs:
    """Parallels of m parts of segments, in order of travel.

    Attributes:
        ctrl: Control points of the parallels, shape (m, 4, 2), mm.
        source: Segment of each, shape (m,).
        forward: True where the parallel runs the way of its source, shape (m,); it runs backward where
            the source curves more tightly than the distance.
        straight: True where the source is a straight line, shape (m,).
        parts: The parts of the source, shape (m, 4, 2), mm.
    """

    ctrl: Array
    source: Indices
    forward: NDArray[np.bool_]
    straight: NDArray[np.bool_]
    parts: Array


def _cross(a: Array, b: Array) -> Array:
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def _outward(tangent: Array) -> Array:
    return np.stack([tangent[..., 1], -tangent[..., 0]], axis=-1)


def _cuts(ctrl: Array, distance: float) -> tuple[Indices, Array]:
    """Return where segments must be cut: at cusps of their parallels, and at cusps of their own.

    With speed² = p and bend c = P' x P'', the parallel has a cusp where p^1.5 + distance c = 0. Squared,
    this is a polynomial of degree twelve.
    """
    size = np.ptp(ctrl, axis=1).max(axis=1)
    d = 3.0 * np.diff(ctrl, axis=1) / size[:, None, None]
    dd = 2.0 * np.diff(d, axis=1)
    p = product(d[..., 0], d[..., 0]) + product(d[..., 1], d[..., 1])
    c = product(d[..., 0], dd[..., 1]) - product(d[..., 1], dd[..., 0])
    ones = np.ones((len(ctrl), 7))
    squared = product(product(p, p), p) - product(product(c, c), ones) * ((distance / size) ** 2)[:, None]
    owner, at = roots(squared)
    tight = _bend(ctrl[owner], at) * distance < 0.0
    own, slowest = roots(np.diff(p, axis=1))
    velocity = bezier.derivative(ctrl[own], slowest)
    still = np.hypot(velocity[:, 0], velocity[:, 1]) <= 1e-11 * size[own]
    return np.concatenate([owner[tight], own[still]]), np.concatenate([at[tight], slowest[still]])


def _bend(ctrl: Array, at: Array) -> Array:
    return _cross(bezier.derivative(ctrl, at), bezier.second_derivative(ctrl, at))


def _spread(parts: Array) -> Array:
    """Return a bound of the spread of directions of each part, radians; infinite from half a turn."""
    d = np.diff(parts, axis=1)
    size = np.hypot(d[..., 0], d[..., 1])
    counts = size > 1e-11 * np.ptp(parts, axis=1).max(axis=1)[:, None]
    mean = np.sum(d, axis=1)
    away = np.arctan2(_cross(mean[:, None], d), np.sum(mean[:, None] * d, axis=-1))
    high, low = np.where(counts, away, 0.0).max(axis=1), np.where(counts, away, 0.0).min(axis=1)
    return np.where((high >= 0.5 * np.pi) | (low <= -0.5 * np.pi), np.inf, high - low)


def _fit(parts: Array, distance: float) -> tuple[Array, NDArray[np.bool_], Array]:
    """Return the cubics parallel to parts, which of them run forward, and their largest errors, mm."""
    t0, t1 = bezier.end_tangents(parts)
    start, end = parts[:, 0] + distance * _outward(t0), parts[:, 3] + distance * _outward(t1)
    middle = np.full(len(parts), 0.5)
    velocity = bezier.derivative(parts, middle)
    speed = np.hypot(velocity[:, 0], velocity[:, 1])
    forward = speed**3 + distance * _bend(parts, middle) > 1e-9 * speed**3
    way = np.where(forward, 1.0, -1.0)[:, None]
    d0, d1 = way * t0, way * t1
    wanted = bezier.position(parts[:, None], _POINTS)
    wanted = wanted + distance * _outward(bezier.tangent(parts[:, None], _POINTS))
    chord = np.hypot(*(end - start).T)
    alpha = _first_handle(parts, 0.0, distance, chord)
    beta = _first_handle(parts, 1.0, distance, chord)
    most = 2.0 * chord + 1e-300
    place = np.broadcast_to(_POINTS, wanted.shape[:2]).copy()
    for _ in range(_ROUNDS):
        u, v = place, 1.0 - place
        ctrl = np.stack([start, start + alpha[:, None] * d0, end - beta[:, None] * d1, end], axis=1)
        run = bezier.derivative(ctrl[:, None], place)
        length = np.hypot(run[..., 0], run[..., 1])
        unit = np.divide(run, length[..., None], out=np.zeros_like(run), where=length[..., None] > 0)
        across = _outward(unit)
        miss = np.sum(across * (wanted - bezier.position(ctrl[:, None], place)), axis=-1)
        a = 3.0 * v * v * u * np.sum(across * d0[:, None], axis=-1)
        b = -3.0 * v * u * u * np.sum(across * d1[:, None], axis=-1)
        # on a nearly straight part the handles hardly matter: the added weight keeps them as they are
        aa, bb = np.sum(a * a, axis=1) + 1e-9, np.sum(b * b, axis=1) + 1e-9
        ab, am, bm = np.sum(a * b, axis=1), np.sum(a * miss, axis=1), np.sum(b * miss, axis=1)
        below = aa * bb - ab * ab
        alpha = np.clip(alpha + (am * bb - bm * ab) / below, 0.0, most)
        beta = np.clip(beta + (bm * aa - am * ab) / below, 0.0, most)
        ctrl = np.stack([start, start + alpha[:, None] * d0, end - beta[:, None] * d1, end], axis=1)
        place = _nearer(ctrl, wanted, place)
    ctrl = np.stack([start, start + alpha[:, None] * d0, end - beta[:, None] * d1, end], axis=1)
    place = _nearer(ctrl, wanted, place)
    gap = wanted - bezier.position(ctrl[:, None], place)
    return ctrl, forward, np.hypot(gap[..., 0], gap[..., 1]).max(axis=1)


def parallel_lines(parts: Array, distance: float) -> Array:
    """Return the parallels of straight parts, of which only the ends count; those of others mean nothing."""
    moved = parts.copy()
    for place, tangent in zip((0, 3), bezier.end_tangents(parts), strict=True):
        moved[:, place] += distance * _outward(tangent)
    return moved


def _first_handle(parts: Array, at: float, distance: float, chord: Array) -> Array:
    """Return the handle lengths that match the speed of the exact parallel at an end, mm."""
    t = np.full(len(parts), at)
    velocity = bezier.derivative(parts, t)
    speed = np.hypot(velocity[:, 0], velocity[:, 1])
    moving = speed > 1e-9 * np.ptp(parts, axis=1).max(axis=1)
    bend = np.divide(_bend(parts, t), speed**2, out=np.zeros_like(speed), where=moving)
    handle = np.abs(speed + distance * bend) / 3.0
    return np.where(moving & (handle < chord), handle, chord / 3.0)


def _nearer(ctrl: Array, wanted: Array, place: Array) -> Array:
    """Move parameters towards the places nearest to the wanted points: one Newton step, first order."""
    gap = wanted - bezier.position(ctrl[:, None], place)
    run = bezier.derivative(ctrl[:, None], place)
    square = np.sum(run * run, axis=-1)
    step = np.divide(np.sum(gap * run, axis=-1), square, out=np.zeros_like(square), where=square > 0)
    return np.clip(place + np.clip(step, -0.1, 0.1), 0.0, 1.0)


def parallel_arcs(segments: Array, straight: NDArray[np.bool_], distance: float, tolerance: float) -> Arcs:
    """Draw the parallels of segments, each by itself.

    Args:
        segments: Segments of some extent, shape (n, 4, 2), mm.
        straight: Which are straight lines at constant speed, shape (n,); their parallels are too.
        distance: Signed distance, mm; the outward normal of tangent (tx, ty) is (ty, -tx).
        tolerance: Greatest distance of the exact parallel from its drawing, mm, checked at 16 points of
            each cubic.
    """
    curved = np.flatnonzero(~straight)
    owner, at = _cuts(segments[curved], distance)
    source = np.concatenate([np.arange(len(segments)), curved[owner]])
    start = np.concatenate([np.zeros(len(segments)), at])
    order = np.lexsort((start, source))
    source, start = source[order], start[order]
    end = np.append(start[1:], 1.0)
    end[:-1][source[1:] != source[:-1]] = 1.0
    some = end - start > 1e-12
    source, start, end = source[some], start[some], end[some]
    found: list[tuple[Array, Indices, Array, NDArray[np.bool_], Array]] = []
    for level in range(_LEVELS + 1):
        parts = bezier.part(segments[source], start, end)
        bent = ~straight[source]
        ctrl, forward, good = parallel_lines(parts, distance), ~bent, ~bent
        if bent.any():
            ctrl[bent], forward[bent], error = _fit(parts[bent], distance)
            good[bent] = (error <= _MARGIN * tolerance) & (_spread(parts[bent]) <= _SPREAD)
        good |= np.ptp(parts, axis=1).max(axis=1) < _POINT
        if level == _LEVELS:
            good[:] = True
        found.append((ctrl[good], source[good], start[good], forward[good], parts[good]))
        poor = ~good
        if not poor.any():
            break
        middle = 0.5 * (start[poor] + end[poor])
        source = np.tile(source[poor], 2)
        start, end = np.concatenate([start[poor], middle]), np.concatenate([middle, end[poor]])
    ctrl, source, start, forward, parts = (np.concatenate(column) for column in zip(*found, strict=True))
    order = np.lexsort((start, source))
    ctrl, source, forward, parts = ctrl[order], source[order], forward[order], parts[order]
    flat = straight[source]
    ends = ctrl[flat][:, [0, 3]]
    ctrl[flat] = ends[:, :1] + np.arange(4)[:, None] / 3.0 * (ends[:, 1:] - ends[:, :1])
    return Arcs(ctrl, source, forward | flat, flat, parts)

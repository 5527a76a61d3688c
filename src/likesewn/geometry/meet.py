"""Where paths cross and touch, one another or themselves.

A crossing is a place where two paths come within ``TOUCH`` (1e-6 mm): they cross there, or touch. Where
they run together over some length, the two ends of the shared run are given.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import bezier
from likesewn.geometry.nearest import closest, distances
from likesewn.geometry.pairs import TOUCH, Places, meeting_places
from likesewn.geometry.path import Path

Array = NDArray[np.float64]

__all__ = ["Crossing", "crossings", "self_crossings"]

_SAME = 1e-5
"""Crossings nearer than this along both paths are one, mm: each is found once on either side of a cut."""

_SAME_TOUCH = 2e-2
"""The same for touches, mm: two curves within ``TOUCH`` of one another may be so over this length."""

_SHARED = 1e-2
"""Shared runs shorter than this are a touch, mm."""

_CHECKS = np.array([0.093, 0.213, 0.371, 0.517, 0.655, 0.791, 0.913])
"""Where a supposed shared run is checked. Two different cubics may agree at single places, not at all
of these together with both ends."""


@dataclass(frozen=True, eq=False, slots=True)
class Crossing:
    """A place where two paths meet, or where one meets itself.

    Attributes:
        along_a: Distance from the start of the first path, mm.
        along_b: Distance from the start of the second path, mm; of the same path, further along, when
            it meets itself.
        point: The place, shape (2,), mm.
    """

    along_a: float
    along_b: float
    point: Array


def _boxes_meet(a: Array, b: Array) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return the pairs of segments whose boxes come within ``TOUCH``."""
    low_a, high_a, low_b, high_b = a.min(axis=1), a.max(axis=1), b.min(axis=1), b.max(axis=1)
    near = np.all(low_a[:, None] <= high_b[None] + TOUCH, axis=2)
    near &= np.all(low_b[None] <= high_a[:, None] + TOUCH, axis=2)
    i, j = np.nonzero(near)
    return i, j


def _joints_on(a: Path, b: Path) -> list[tuple[float, float]]:
    """Return the joints and ends of a path that lie on another: distance along the one, along the other."""
    joints = np.concatenate([a.segments[:, 0], a.segments[-1:, 3]])
    # a point on a segment lies in its box, and most joints lie in none
    low, high = b.segments.min(axis=1) - TOUCH, b.segments.max(axis=1) + TOUCH
    near = np.flatnonzero(
        np.any(np.all((joints[:, None] >= low) & (joints[:, None] <= high), axis=2), axis=1)
    )
    if not len(near):
        return []
    found = closest(b, joints[near])
    on = found.distance <= TOUCH
    return list(zip(a.ruler.joints[near[on]], found.along[on], strict=True))


def _shared_runs(a: Path, b: Path) -> list[tuple[float, float, float, float]]:
    """Return the runs that two paths share: from and to along the first, then along the second, mm.

    A run can only start and end at an end of some segment of either path.
    """
    events = [*_joints_on(a, b), *((s, u) for u, s in _joints_on(b, a))]
    events.sort()
    runs: list[tuple[float, float, float, float]] = []
    for (a0, b0), (a1, b1) in pairwise(events):
        if a1 - a0 <= _SHARED:
            continue
        segment, t = a.ruler.places(a0 + _CHECKS * (a1 - a0))
        if distances(b, bezier.position(a.segments[segment], t)).max() > TOUCH:
            continue
        run = (float(a0), float(a1), float(b0), float(b1))
        if runs and a0 - runs[-1][1] <= _SAME and abs(b0 - runs[-1][3]) <= _SAME:
            earlier = runs.pop()
            run = (earlier[0], run[1], earlier[2], run[3])
        runs.append(run)
    return runs


def _clustered(found: list[tuple[float, float, bool, float]]) -> list[tuple[float, float]]:
    """Return one place for each cluster of places, the tightest."""
    kept: list[list[tuple[float, float, bool, float]]] = []
    for place in sorted(found):
        for cluster in kept:
            radius = _SAME_TOUCH if place[2] or cluster[-1][2] else _SAME
            if abs(place[0] - cluster[-1][0]) <= radius and abs(place[1] - cluster[-1][1]) <= radius:
                cluster.append(place)
                break
        else:
            kept.append([place])
    return [min(cluster, key=lambda place: (place[3], place[2]))[:2] for cluster in kept]


def _listed(a: Path, b: Path, places: Places) -> list[tuple[float, float, bool, float]]:
    along_a, along_b = a.ruler.along(places.a, places.t), b.ruler.along(places.b, places.u)
    gap = bezier.position(a.segments[places.a], places.t) - bezier.position(b.segments[places.b], places.u)
    rows = zip(along_a, along_b, places.touching, np.hypot(gap[:, 0], gap[:, 1]), strict=True)
    return [(float(s), float(u), bool(touch), float(d)) for s, u, touch, d in rows]


def _at(path: Path, along: float) -> Array:
    segment, t = path.ruler.places(np.array([along]))
    return bezier.position(path.segments[segment], t)[0]


def crossings(a: Path, b: Path) -> tuple[Crossing, ...]:
    """Return the places where two paths meet, in order along the first.

    Paths that cross at any angle meet once there, also where the place is a joint or an end. Paths that
    touch without crossing meet once, if they come within 1e-6 mm. Paths that share a run longer than
    0.01 mm meet at the two ends of the run, and what else happens within the run is not told. Meetings
    nearer than 0.001 mm to one another may be told as one. Paths that stay within 1e-6 mm over some
    length without being the same curve, or along a segment that doubles back on its own line, are told as
    a few touches along it.
    """
    i, j = _boxes_meet(a.segments, b.segments)
    if not len(i):
        return ()
    runs = _shared_runs(a, b)
    which = np.ones(len(i), dtype=bool)
    for a0, a1, b0, b1 in runs:
        which &= ~_covered(a, a0, a1)[i] | ~_covered(b, min(b0, b1), max(b0, b1))[j]
    found = _listed(a, b, meeting_places(a.segments, b.segments, (i[which], j[which])))
    return tuple(Crossing(s, u, _at(a, s)) for s, u in _outside_runs(found, runs))


def _covered(path: Path, start: float, end: float) -> NDArray[np.bool_]:
    """Return which segments overlap a stretch of the path by more than ``_SAME``."""
    joints = path.ruler.joints
    return np.minimum(joints[1:], end) - np.maximum(joints[:-1], start) > _SAME


def _outside_runs(
    found: list[tuple[float, float, bool, float]], runs: list[tuple[float, float, float, float]]
) -> list[tuple[float, float]]:
    for a0, a1, b0, b1 in runs:
        low, high = min(b0, b1) - _SAME_TOUCH, max(b0, b1) + _SAME_TOUCH
        found = [
            p for p in found if not (a0 - _SAME_TOUCH <= p[0] <= a1 + _SAME_TOUCH and low <= p[1] <= high)
        ]
    ends = [(s, u) for a0, a1, b0, b1 in runs for s, u in ((a0, b0), (a1, b1))]
    return sorted([*_clustered(found), *ends])


def _loops(segments: Array) -> tuple[NDArray[np.intp], Array, Array]:
    """Return the segments that cross themselves and the two parameters of each, smaller first.

    With P = a t³ + b t² + c t + d the condition P(t) = P(u), t not u, reads
    a (t² + t u + u²) + b (t + u) + c = 0, which is linear in t + u and (t + u)² - t u.
    """
    p0, p1, p2, p3 = (segments[:, i] - segments[:, 0] for i in range(4))
    a, b, c = p3 - 3.0 * p2 + 3.0 * p1 - p0, 3.0 * (p2 - 2.0 * p1 + p0), 3.0 * (p1 - p0)
    ab, ac, bc = (x[:, 0] * y[:, 1] - x[:, 1] * y[:, 0] for x, y in ((a, b), (a, c), (b, c)))
    size = np.ptp(segments, axis=1).max(axis=1)
    curved = np.abs(ab) > 1e-14 * size**2
    total = np.divide(-ac, ab, out=np.zeros_like(ab), where=curved)
    mixed = np.divide(bc, ab, out=np.zeros_like(ab), where=curved)
    square = 4.0 * mixed - 3.0 * total * total  # (t - u)²
    apart = np.sqrt(np.maximum(square, 0.0))
    t, u = 0.5 * (total - apart), 0.5 * (total + apart)
    loop = curved & (apart > 1e-7) & (t >= 0.0) & (u <= 1.0)
    return np.flatnonzero(loop), t[loop], u[loop]


def self_crossings(path: Path, *, closed: bool = False) -> tuple[Crossing, ...]:
    """Return the places where a path meets itself, in order along it.

    The common point of a segment and its follower is no crossing, and neither is the common point of
    the last and the first when ``closed``. Loops inside one cubic are found. A path that runs back along
    itself meets itself at the ends of the shared run; a single segment that does so is not told.

    Args:
        path: The path.
        closed: True where the path is an outline that ends where it starts.
    """
    across = path.end - path.start
    if np.all(np.diff(path.segments, axis=1) @ across > 0.0):
        # it only ever moves on in one direction, and so cannot come back
        return ()
    size = np.ptp(path.segments, axis=1).max(axis=1)
    kept = np.flatnonzero(size > 0.0)
    segments = path.segments[kept]
    count = len(kept)
    joined = np.eye(count, k=1, dtype=bool)
    if closed and count > 1:
        joined[count - 1, 0] = True
    i, j = _boxes_meet(segments, segments)
    # a follower comes second, so that the joint is the end of the first and the start of the second
    once = joined[i, j] | ((i < j) & ~joined[j, i])
    i, j = i[once], j[once]
    runs: list[tuple[float, float, float, float]] = []
    rest = np.ones(len(i), dtype=bool)
    starts = path.ruler.joints
    for row, (one, other) in enumerate(zip(kept[i], kept[j], strict=True)):
        if joined[i[row], j[row]] and not _turns_back(segments[i[row]], segments[j[row]]):
            continue
        for a0, a1, b0, b1 in _shared_runs(Path(path.segments[one]), Path(path.segments[other])):
            shift, shift_b = float(starts[one]), float(starts[other])
            runs.append((a0 + shift, a1 + shift, b0 + shift_b, b1 + shift_b))
            rest[row] = False
    places = meeting_places(segments, segments, (i[rest], j[rest]), joined)
    found = _listed(path, path, Places(kept[places.a], places.t, kept[places.b], places.u, places.touching))
    own, t, u = _loops(segments)
    along_t, along_u = path.ruler.along(kept[own], t), path.ruler.along(kept[own], u)
    found += [(float(s), float(e), False, 0.0) for s, e in zip(along_t, along_u, strict=True)]
    found = [(min(s, e), max(s, e), touch, gap) for s, e, touch, gap in found]
    total = path.length
    met = [
        (min(s, e), max(s, e))
        for s, e in _outside_runs(found, runs)
        if abs(s - e) > _SAME and not (closed and total - abs(s - e) <= _SAME)
    ]
    return tuple(Crossing(s, e, _at(path, s)) for s, e in sorted(met))


def _turns_back(one: Array, other: Array) -> bool:
    before, after = bezier.end_tangents(one)[1], bezier.end_tangents(other)[0]
    return bool(before @ after < -1.0 + 1e-9)

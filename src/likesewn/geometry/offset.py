"""Parallels of paths, cleanly joined and trimmed, and straight extensions.

``parallel`` draws the parallel of each segment. Here they are joined to one chain: corners that open are
mitred; where they close, the chain runs on through a dead stretch, as it does where the path curves more
tightly than the distance. The chain is then cut at every place where it crosses itself, and the walk from
its start takes, at each crossing, the latest way on that is still good. So every loop is left out whole,
however many of them lie within one another.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from likesewn.errors import LikesewnError
from likesewn.geometry import bezier
from likesewn.geometry.along import cut_out, point_at
from likesewn.geometry.measure import area
from likesewn.geometry.meet import self_crossings
from likesewn.geometry.nearest import distances
from likesewn.geometry.parallel import Arcs, parallel_arcs, parallel_lines
from likesewn.geometry.path import Path

Array = NDArray[np.float64]

__all__ = ["MITRE_LIMIT", "OffsetError", "extend", "offset"]

MITRE_LIMIT = 3.0
"""A mitre may reach this many distances from its corner; a longer one is squared off there."""

_SNAP = 0.05
"""Ends nearer than this share of the tolerance are one point: the joint was smooth."""

_FINER = (1.0, 0.25, 0.06)
"""Shares of the tolerance at which the parallel is drawn, one after another, until it is proved: beside a
near cusp the points at which a cubic is checked can straddle a wave of its error."""

_PROOFS = 25  # places of each cubic at which the result is proved

_MOST_SAMPLES = 64  # of one stretch between crossings, when asking whether it keeps its distance


class OffsetError(LikesewnError, ValueError):
    """No parallel at that distance exists; the message says why and what to do."""


@dataclass(frozen=True, eq=False, slots=True)
class _Chain:
    """The parallels joined end to end.

    Attributes:
        path: The whole chain.
        dead: Stretches that cannot be part of the result, from and to, mm along the chain.
    """

    path: Path
    dead: list[tuple[float, float]]


def _turn(before: Array, after: Array) -> tuple[float, float]:
    """Return the sine and cosine of the turn from one segment to the next.

    A turn straight back is a half turn to the side on which the second segment leaves the first: sine
    +0 or -0, and +0 where it runs back along it.
    """
    t0, t1 = bezier.end_tangents(before)[1], bezier.end_tangents(after)[0]
    sine, cosine = float(t0[0] * t1[1] - t0[1] * t1[0]), float(t0 @ t1)
    if cosine > 0.0 or abs(sine) > 1e-9:
        return sine, cosine
    sides: list[float] = []
    for part, at in ((after, 0.02), (before, 0.98)):
        away = bezier.position(part, at) - before[3]
        sides.append(float(t0[0] * away[1] - t0[1] * away[0]) / max(float(away @ away), 1e-300))
    size = float(np.ptp(before, axis=0).max() + np.ptp(after, axis=0).max())
    return np.copysign(0.0, sides[0] - sides[1] + 1e-9 / size), -1.0


def _corner(
    ends: tuple[Array, Array], parts: tuple[Array, Array], distance: float, limit: float
) -> list[Array] | None:
    """Return the points that close an open corner between two parallels, or None where it closes.

    Args:
        ends: End of the parallel before and start of the one after.
        parts: The two parts of the path, shape (4, 2).
        distance: As for ``offset``.
        limit: Mitre limit.
    """
    end, start = ends
    sine, cosine = _turn(*parts)
    if np.copysign(1.0, sine) * distance < 0.0:
        return None
    corner = parts[0][3]
    half = 0.5 * abs(np.arctan2(sine, cosine))
    if np.cos(half) * limit >= 1.0:
        return [corner + ((end - corner) + (start - corner)) / (1.0 + cosine)]
    # square to the line that halves the corner, at the limit
    run = abs(distance) * (limit - np.cos(half)) / np.sin(half)
    before, after = bezier.end_tangents(parts[0])[1], bezier.end_tangents(parts[1])[0]
    return [end + run * before, start - run * after]


def _joined(arcs: Arcs, distance: float, tolerance: float, limit: float, *, closed: bool) -> _Chain:
    """Join the parallels of a path's segments to one chain."""
    ctrl = arcs.ctrl.copy()
    pieces: list[Array] = []
    dead: list[bool] = []
    count = len(ctrl)

    def move(index: int, place: int, point: Array) -> None:
        if arcs.straight[index]:
            ends = [ctrl[index, 0], ctrl[index, 3]]
            ends[0 if place == 0 else 1] = point
            ctrl[index] = bezier.line(*ends)
        else:
            # the handle moves with its end, so that the tangent stays
            handle = 1 if place == 0 else 2
            ctrl[index, handle] += point - ctrl[index, place]
            ctrl[index, place] = point

    between: list[tuple[list[Array], bool]] = []
    for index in range(count if closed else count - 1):
        after = (index + 1) % count
        end, start = ctrl[index, 3].copy(), ctrl[after, 0].copy()
        if np.hypot(*(end - start)) <= _SNAP * tolerance:
            shared = end if arcs.straight[index] else start
            move(index, 3, shared)
            move(after, 0, shared)
            between.append(([], False))
            continue
        points = _corner((end, start), (arcs.parts[index], arcs.parts[after]), distance, limit)
        if points is None:
            between.append(([end, start], True))
            continue
        if arcs.straight[index] and arcs.forward[index]:
            move(index, 3, points[0])
        else:
            points = [end, *points]
        if arcs.straight[after]:
            move(after, 0, points[-1])
        else:
            points = [*points, start]
        between.append((points, False))
    for index in range(count):
        pieces.append(ctrl[index])
        dead.append(not arcs.forward[index])
        if index < len(between):
            points, gone = between[index]
            pieces += [bezier.line(a, b) for a, b in pairwise(points)]
            dead += [gone] * max(len(points) - 1, 0)
    path = Path(np.stack(pieces))
    marks = path.ruler.joints
    return _Chain(path, [(float(marks[k]), float(marks[k + 1])) for k in range(len(dead)) if dead[k]])


@dataclass(frozen=True, eq=False, slots=True)
class _Stretches:
    """The chain between its breaks: where each stretch runs and where one may go on from its end.

    Attributes:
        start: Start of each, mm along the chain.
        end: End of each.
        live: False where the stretch is dead.
        good: True where some of it keeps its distance from the path.
        onward: Stretches that begin where it ends.
        clean: True where the chain never meets itself and keeps its distance throughout.
    """

    start: list[float]
    end: list[float]
    live: list[bool]
    good: list[bool]
    onward: list[list[int]]
    clean: bool


def _stretches(chain: _Chain, path: Path, least: float, spacing: float, *, closed: bool) -> _Stretches:
    total = chain.path.length
    met = [(c.along_a, c.along_b) for c in self_crossings(chain.path, closed=closed)]
    places = [0.0, total, *(s for pair in met for s in pair), *(s for run in chain.dead for s in run)]
    marks: list[float] = []
    for s in sorted(places):
        if not marks or s - marks[-1] > 1e-9:
            marks.append(s)
    marks[-1] = total
    count = len(marks) - 1

    def mark(s: float) -> int:
        return int(np.argmin(np.abs(np.array(marks) - s)))

    onward: list[list[int]] = [[k + 1] if k + 1 < count else ([0] if closed else []) for k in range(count)]
    for s, e in met:
        a, b = mark(s), mark(e)
        for here, there in ((a, b), (b, a)):
            if here > 0 and there < count:
                onward[here - 1].append(there)
    live = [not any(a <= 0.5 * (s + e) <= b for a, b in chain.dead) for s, e in pairwise(marks)]
    numbers = [
        int(np.clip(np.ceil((e - s) / spacing), 7, _MOST_SAMPLES)) if alive else 0
        for (s, e), alive in zip(pairwise(marks), live, strict=True)
    ]
    good, clean = [False] * count, False
    if any(numbers):
        samples = [np.linspace(s, e, n) for (s, e), n in zip(pairwise(marks), numbers, strict=True)]
        kept = distances(path, point_at(chain.path, np.concatenate(samples))) >= least
        stops = np.cumsum([0, *numbers])
        # the ends lie at the distance also where what lies between does not
        good = [bool(kept[i:j][1:-1].any()) for i, j in pairwise(stops)]
        clean = count == 1 and bool(kept.all())
    return _Stretches(marks[:-1], marks[1:], live, good, onward, clean)


def _walk(s: _Stretches, first: int, bridge: float, *, closed: bool) -> tuple[list[int], bool]:
    """Walk from a stretch, at each end the latest good way on; say whether the walk came to a close."""
    count = len(s.start)

    def order(k: int) -> int:
        """Return when a stretch comes after the first; on a closed chain the first comes last again."""
        return ((k - first) % count or count) if closed else k - first

    last_good = max(order(k) for k in range(count) if s.good[k])
    walk, here, now = [first], first, 0
    while True:
        ahead = [k for k in s.onward[here] if order(k) > now]
        ways = [k for k in ahead if s.good[k]]
        if not ways:
            # a dead stretch too short to see
            ways = [k for k in ahead if order(k) < last_good and s.end[k] - s.start[k] <= bridge]
        if not ways:
            return walk, False
        here = max(ways, key=order)
        now = order(here)
        if now == count:
            return walk, True
        walk.append(here)


def _best_walk(s: _Stretches, bridge: float, *, closed: bool) -> list[int]:
    """Return the longest walk; on a closed chain one that comes to a close, where there is one.

    Of walks that run into one another only the one that starts first counts.
    """
    best: list[int] = []
    best_rank = (False, 0.0)
    visited: set[int] = set()
    for first in range(len(s.start)):
        if s.good[first] and first not in visited:
            walk, complete = _walk(s, first, bridge, closed=closed)
            if visited.isdisjoint(walk):
                rank = (complete, sum(s.end[k] - s.start[k] for k in walk))
                if rank > best_rank:
                    best, best_rank = walk, rank
            visited.update(walk)
    return best


def _drawn(chain: Path, s: _Stretches, walk: list[int], *, closed: bool) -> Path:
    """Return the path of a walk; parts that follow one another share their end points exactly."""
    runs: list[list[float]] = []
    for k in walk:
        if not s.live[k]:
            continue
        if runs and s.start[k] == runs[-1][1]:
            runs[-1][1] = s.end[k]
        else:
            runs.append([s.start[k], s.end[k]])
    parts = [cut_out(chain, a, b).segments.copy() for a, b in runs]
    if closed:
        first = next((k for k, run in enumerate(runs) if run[0] == 0.0), 0)
        parts = [*parts[first:], *parts[:first]]
    pairs = list(pairwise(parts))
    if closed:
        pairs.append((parts[-1], parts[0]))
    for before, after in pairs:
        straight = Path(before[-1:]).straight[0]
        before[-1, 3] = after[0, 0]
        if straight:
            before[-1] = bezier.line(before[-1, 0], before[-1, 3])
    return Path(np.concatenate(parts))


def _without_bad_ends(drawn: Path, path: Path, least: float, spacing: float) -> Path:
    """Return the part of a drawn parallel between the first and the last place that keep the distance."""
    total = drawn.length
    number = int(np.clip(np.ceil(total / spacing), 15, 8 * _MOST_SAMPLES))
    at = np.linspace(0.0, total, number)

    def kept(s: Array) -> NDArray[np.bool_]:
        return distances(path, point_at(drawn, s)) >= least

    good = kept(at)
    if good[0] and good[-1]:
        return drawn
    which = np.flatnonzero(good)
    if not len(which):
        return drawn

    def border(bad: float, well: float) -> float:
        for _ in range(7):
            between = np.linspace(bad, well, 65)
            first = int(np.argmax(kept(between[1:]))) + 1
            bad, well = float(between[first - 1]), float(between[first])
        return well

    first = 0.0 if good[0] else border(float(at[which[0] - 1]), float(at[which[0]]))
    last = total if good[-1] else border(float(at[which[-1] + 1]), float(at[which[-1]]))
    return cut_out(drawn, first, last)


def _trimmed(chain: _Chain, path: Path, reach: float, fine: float) -> Path | None:
    """Return the part of a chain that keeps its distance, or None where no walk along it is good."""
    closed, least = path.closed, reach - fine
    stretches = _stretches(chain, path, least, 0.5 * reach, closed=closed)
    if stretches.clean:
        return chain.path
    walk = _best_walk(stretches, fine, closed=closed)
    if not walk:
        return None
    drawn = _drawn(chain.path, stretches, walk, closed=closed)
    if not closed:
        return _without_bad_ends(drawn, path, least, 0.5 * reach)
    # an outline shrunk by a little more than it can bear turns inside out, within the tolerance
    return drawn if area(drawn) * area(path) > 0.0 else None


def _keeps(drawn: Path, path: Path, least: float) -> bool:
    points = bezier.position(drawn.segments[:, None], np.linspace(0.0, 1.0, _PROOFS)).reshape(-1, 2)
    return bool(distances(path, points).min() >= least)


def offset(path: Path, distance: float, tolerance: float = 0.01, *, mitre_limit: float = MITRE_LIMIT) -> Path:
    """Return the parallel of a path at a signed distance.

    Positive is outward: the outward normal of tangent (tx, ty) is (ty, -tx). The parallel runs the same
    way as the path, straight segments stay exactly straight, and smooth joints stay joined smoothly. A
    corner that opens is mitred, up to ``mitre_limit`` distances from the corner, and squared off there
    beyond; one that closes is trimmed where the two parallels cross. Where the path curves more tightly
    than the distance, or comes near itself, the loops of the parallel are left out and it turns a corner
    where it crosses itself. An end that lies nearer to some other part of the path than the distance is
    left out as well. A path that ends where it starts is taken as closed and gives a closed parallel; where
    that falls apart into several, the longest is given.

    Args:
        path: The path.
        distance: Distance, mm.
        tolerance: The exact parallel (where it is kept) lies within this distance of the result, and the
            result within it of the exact parallel, mm; checked at 16 points of every cubic. No more than
            a twentieth of the distance is used.
        mitre_limit: Longest mitre as a multiple of the distance, at least 1.

    Raises:
        OffsetError: When the path has no length or meets itself, when a value makes no sense, or when
            nothing is left.
    """
    if not (np.isfinite(distance) and tolerance > 0.0 and mitre_limit >= 1.0):
        raise OffsetError(
            "a parallel needs a finite distance, a tolerance above 0 mm and a mitre limit of at least 1; "
            f"given were {distance:g} mm, {tolerance:g} mm and {mitre_limit:g}"
        )
    size = np.ptp(path.segments, axis=1).max(axis=1)
    some = size > 1e-12 * float(np.abs(path.segments).max())
    if not some.any():
        raise OffsetError("a path of no length has no parallel: it has no direction")
    if distance == 0.0:
        return path
    if len(path.segments) == 1 and path.straight[0]:
        moved = parallel_lines(path.segments, distance)[0]
        return Path.line(moved[0], moved[3])
    if self_crossings(path, closed=path.closed):
        raise OffsetError("a path that meets itself has no parallel: cut it where it does, and try the parts")
    reach, closed = abs(distance), path.closed
    least = reach - min(tolerance, 0.05 * reach)
    for finer in _FINER:
        fine = finer * min(tolerance, 0.05 * reach)
        arcs = parallel_arcs(path.segments[some], path.straight[some], distance, fine)
        chain = _joined(arcs, distance, fine, mitre_limit, closed=closed)
        if len(chain.path.segments) == 1 and chain.path.straight[0]:
            return chain.path
        drawn = _trimmed(chain, path, reach, fine)
        if drawn is not None and _keeps(drawn, path, least - 1e-6 * fine):
            return drawn
    raise OffsetError(
        f"a parallel {reach:.6g} mm to the {'outer' if distance > 0 else 'inner'} side of a path of "
        f"{path.length:.6g} mm leaves nothing that keeps its distance: the path curves more tightly or comes "
        "nearer to itself than that; use a smaller distance"
    )


def extend(path: Path, at_start: float = 0.0, at_end: float = 0.0) -> Path:
    """Return a path with straight runs added along its end tangents.

    Args:
        path: The path.
        at_start: Length to add before its start, mm, 0 or more.
        at_end: Length to add after its end, mm, 0 or more.

    Raises:
        OffsetError: When a length is negative or not finite, or when the path has no direction.
    """
    if not (np.isfinite(at_start) and np.isfinite(at_end) and at_start >= 0.0 and at_end >= 0.0):
        raise OffsetError(
            f"a path can be extended by 0 mm or more, and {at_start:g} mm and {at_end:g} mm were given"
        )
    size = np.ptp(path.segments, axis=1).max(axis=1)
    some = path.segments[size > 0.0]
    if not len(some):
        raise OffsetError("a path of no length cannot be extended: it has no direction")
    before, after = bezier.end_tangents(some[0])[0], bezier.end_tangents(some[-1])[1]
    segments = [path.segments]
    if at_start > 0.0:
        segments.insert(0, bezier.line(path.start - at_start * before, path.start)[None])
    if at_end > 0.0:
        segments.append(bezier.line(path.end, path.end + at_end * after)[None])
    return Path(np.concatenate(segments))

"""How the cut lines of two neighbouring edges are joined at a corner, as a dressmaker would.

Terms. A *run* is an edge's parallel at its allowance, extended straight on at both ends; its *body* is the
part that is truly parallel. *Mitre*: both runs go on until they meet. *Squared off*: a mitre that would
reach further than ``MITRE_LIMIT`` allowances is cut straight across. *Step*: runs that do not meet near
the corner (two allowances on edges that run on almost straight) are joined across the corner. *Folded
back*: beside a hem, the neighbour's cut line runs down to the fold of the hem, and from there on the hem's
cut line is its mirror image, so that the turned-up allowance matches the garment where it lands.

All four are common practice (no source); the construction here is our own.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import Path, crossings, cut_out, extend, point_at, tangent_at

__all__ = ["MITRE_LIMIT", "Joint", "Run", "fold_back", "meet_fold", "mitre"]

Array = NDArray[np.float64]

MITRE_LIMIT = 3.0
"""A mitre reaches at most this many allowances (the larger of the two) from its corner: enough for angles
down to about 39 degrees, and no long spike beyond that."""

TOUCHING = 1e-6
"""Ends nearer than this, mm, are one point."""


@dataclass(frozen=True, slots=True)
class Run:
    """An edge's parallel with straight extensions.

    Attributes:
        path: The whole run.
        start: Distance along ``path`` at which the body starts, mm.
        end: Distance along ``path`` at which the body ends, mm.
        allowance: Distance from the seam line to the body, mm.
    """

    path: Path
    start: float
    end: float
    allowance: float

    @classmethod
    def along(cls, parallel: Path, allowance: float, reach: float) -> "Run":
        """Return the run of a parallel, extended by ``reach`` mm at both ends."""
        return cls(extend(parallel, reach, reach), reach, reach + parallel.length, allowance)

    def reversed(self) -> "Run":
        """Return the same run travelled the other way."""
        whole = self.path.length
        return Run(self.path.reversed(), whole - self.end, whole - self.start, self.allowance)


@dataclass(frozen=True, slots=True)
class Joint:
    """Where two runs are joined.

    Attributes:
        leave: Distance along the first run at which it is left, mm.
        enter: Distance along the second run at which it is taken up, mm.
        tail: What is added to the first edge's cut line after ``leave``, or None.
        head: What is added to the second edge's cut line before ``enter``, or None.
    """

    leave: float
    enter: float
    tail: Path | None = None
    head: Path | None = None

    def reversed(self, first: Run, second: Run) -> "Joint":
        """Return the joint for the same runs travelled the other way; ``first`` and ``second`` as here."""
        return Joint(
            second.path.length - self.enter,
            first.path.length - self.leave,
            None if self.head is None else self.head.reversed(),
            None if self.tail is None else self.tail.reversed(),
        )


def _cross(a: Array, b: Array) -> float:
    return float(a[0] * b[1] - a[1] * b[0])


def _near(first: Run, second: Run, corner: Array, limit: float) -> tuple[float, float] | None:
    """Return where the runs meet nearest the corner, as distances along each, or None.

    A meeting within both bodies always counts, since the corner is hollow there and both must be cut
    short; one on an extension counts only within ``limit`` of the corner.
    """
    best: tuple[float, float, float] | None = None
    for crossing in crossings(first.path, second.path):
        a, b = crossing.along_a, crossing.along_b
        if a < first.start or b > second.end:
            continue
        away = float(np.hypot(*(crossing.point - corner)))
        if away > limit and not (a <= first.end and b >= second.start):
            continue
        if best is None or away < best[0]:
            best = (away, a, b)
    return None if best is None else best[1:]


def mitre(first: Run, second: Run, corner: Array) -> Joint:
    """Join two runs by letting them go on until they meet.

    Args:
        first: Run that comes to the corner.
        second: Run that leaves it.
        corner: The corner on the seam line, shape (2,), mm.

    Returns:
        The joint: mitred or, where the runs do not meet within the limit, squared off or stepped.
    """
    ends, starts = point_at(first.path, first.end), point_at(second.path, second.start)
    if np.hypot(*(ends - starts)) <= TOUCHING:
        return Joint(first.end, second.start)
    larger = max(first.allowance, second.allowance)
    met = _near(first, second, corner, MITRE_LIMIT * larger)
    if met is not None:
        return Joint(*met)
    t1, t2 = tangent_at(first.path, first.end), tangent_at(second.path, second.start)
    if _cross(t1, t2) >= 0.0 and float(t1 @ t2) < 0.0:
        return _squared(first, second, corner, (t1, t2))
    step = Path.line(ends, starts)
    if first.allowance >= second.allowance:
        return Joint(first.end, second.start, tail=step)
    return Joint(first.end, second.start, head=step)


def _squared(first: Run, second: Run, corner: Array, tangents: tuple[Array, Array]) -> Joint:
    t1, t2 = tangents
    out = (t1 - t2) / np.hypot(*(t1 - t2))
    far = MITRE_LIMIT * max(first.allowance, second.allowance)
    ends, starts = point_at(first.path, first.end), point_at(second.path, second.start)
    on = (far - float((ends - corner) @ out)) / float(t1 @ out)
    back = (far - float((starts - corner) @ out)) / float(-t2 @ out)
    leave, enter = first.end + on, second.start - back
    across = Path.line(point_at(first.path, leave), point_at(second.path, enter))
    if first.allowance >= second.allowance:
        return Joint(leave, enter, tail=across)
    return Joint(leave, enter, head=across)


def fold_back(neighbour: Run, hem: Run, seam_line: Path, corner: Array) -> Joint | None:
    """Join a neighbour's run to a hem's, the hem's allowance mirrored about the fold of the hem.

    Args:
        neighbour: Run that comes to the corner.
        hem: Run of the edge that is turned up, leaving the corner.
        seam_line: The hem's own seam line, which is where it folds, from the corner on.
        corner: The corner on the seam line, shape (2,), mm.

    Returns:
        The joint, its ``head`` the mirrored run, or None where the lines do not meet (then a mitre must
        do). On a hem that is curved the fold is taken as its tangent where the neighbour meets it.
    """
    reach = hem.start  # every run is extended by the same length
    fold = Run.along(seam_line, 0.0, reach)
    met = _near(neighbour, fold, corner, MITRE_LIMIT * max(neighbour.allowance, hem.allowance))
    if met is None:
        return None
    leave, at_fold = met
    pivot, way = point_at(neighbour.path, leave), tangent_at(fold.path, at_fold)
    source = cut_out(neighbour.path, max(0.0, leave - reach), leave)
    mirror = 2.0 * np.outer(way, way) - np.eye(2)
    image = Path((source.segments - pivot) @ mirror + pivot).reversed()
    image = extend(image, 0.0, reach)
    meetings = [m for m in crossings(image, hem.path) if m.along_b <= hem.end]
    if not meetings:
        return None
    first = min(meetings, key=lambda m: m.along_a)
    return Joint(leave, first.along_b, head=cut_out(image, 0.0, first.along_a))


def meet_fold(run: Run, corner: Array) -> Joint | None:
    """Bring a run that starts at a fold to the fold line x = 0.

    Args:
        run: Run that leaves the fold, the piece at x > 0.
        corner: The corner on the fold, shape (2,), mm.

    Returns:
        The joint; ``leave`` means nothing. None where the run does not come to the fold.
    """
    starts = point_at(run.path, run.start)
    if abs(starts[0]) <= TOUCHING:
        return Joint(0.0, run.start)
    far = MITRE_LIMIT * run.allowance
    low, high = run.path.segments[..., 1].min() - 1.0, run.path.segments[..., 1].max() + 1.0
    fold = Path.line((0.0, low), (0.0, high))
    meetings = [m for m in crossings(run.path, fold) if m.along_a < run.end]
    if starts[0] < 0.0:
        # the parallel leans over the fold: the last crossing leaves all that follows on this side
        return Joint(0.0, max(m.along_a for m in meetings)) if meetings else None
    near = [m for m in meetings if np.hypot(*(m.point - corner)) <= far and m.along_a < run.start]
    if near:
        return Joint(0.0, max(m.along_a for m in near))
    t = tangent_at(run.path, run.start)
    up = math.copysign(1.0, float(starts[1] - corner[1]))
    if up * t[1] >= 0.0:
        return None
    enter = run.start - (far - up * float(starts[1] - corner[1])) / -float(up * t[1])
    at = point_at(run.path, enter)
    return Joint(0.0, enter, head=Path.line((0.0, float(at[1])), at))

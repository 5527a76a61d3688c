"""A smooth path through noisy points that are given in order.

Model: the points lie near a curve that turns no corner. The curve is a cubic B-spline with double knots, so
that its tangent runs on over its joints while its curvature may jump there, as it does on patterns where an
arc meets a straight run. Minimised: the sum of squared distances between the points and the
curve at their parameters; the parameters start as chord lengths and are moved to the nearest place of the
curve between rounds of linear least squares, which turns the sum into one of squared distances to the
curve. Least data: four different points, and as many in every span. It fails where the points are out of
order or turn a corner: then it needs many spans or gives up; cut the points at corners.

Sources: Schneider, An algorithm for automatically fitting digitized curves (Graphics Gems, 1990), for
chord lengths and moving the parameters; de Boor, A Practical Guide to Splines, ch. XIV, for least squares
by B-splines.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from likesewn.errors import LikesewnError
from likesewn.geometry.nearest import closest
from likesewn.geometry.path import Path

Array = NDArray[np.float64]

__all__ = ["Fit", "FitError", "fit"]

_LEAST = 4

_ROUNDS = 12  # of moving the parameters; the distances settle to a per cent in about five

_ALONG = 0.1
"""Weight of distances along the curve after the first round. Nothing, and a round may overshoot where
points are few; one, and points hold the curve back from sliding under them, so that dozens of rounds are
needed."""

_SETTLED = 1e-6
"""Moves of the parameters below this share of the path's length no longer matter."""

_CALM = 1e-7
"""Weight of the squared second differences of the control points: decides only what no point decides."""


class FitError(LikesewnError, ValueError):
    """The points do not determine a path, or none within the tolerance; the message says why."""


@dataclass(frozen=True, eq=False, slots=True)
class Fit:
    """A path and how near it comes to the points.

    Attributes:
        path: The path, from near the first point to near the last.
        largest_mm: Largest distance of a point from the path, mm.
        rms_mm: Root of the mean squared distance, mm.
    """

    path: Path
    largest_mm: float
    rms_mm: float


def _unit(tangent: ArrayLike | None, name: str) -> Array | None:
    if tangent is None:
        return None
    vector = np.asarray(tangent, dtype=float)
    size = float(np.hypot(*vector)) if vector.shape == (2,) else 0.0
    if not (np.isfinite(size) and size > 0.0):
        raise FitError(f"the {name} tangent must be a pair of numbers, not both 0, and {tangent!r} was given")
    return vector / size


def _distinct(points: ArrayLike) -> Array:
    given = np.asarray(points, dtype=float)
    given = given.reshape(-1, 2) if given.size == 0 else given
    if given.ndim != 2 or given.shape[1] != 2 or not np.all(np.isfinite(given)):
        raise FitError(f"points must be finite pairs, shape (n, 2), and shape {given.shape} was given")
    step = np.diff(given, axis=0)
    size = float(np.ptp(given, axis=0).max()) if len(given) else 0.0
    new = np.flatnonzero(np.hypot(step[:, 0], step[:, 1]) > 1e-12 * size) + 1
    kept = given[np.append(0, new)] if len(given) else given
    if len(kept) < _LEAST:
        raise FitError(
            f"a smooth curve needs at least {_LEAST} different points in order, and {len(kept)} were given: "
            "add points, or use a straight line"
        )
    return kept


@dataclass(frozen=True, eq=False, slots=True)
class _Ends:
    """What is known of the ends: tangents, and whether the path must start and end on its end points."""

    start_tangent: Array | None
    end_tangent: Array | None
    hold: bool


def _unknowns(count: int, points: Array, ends: _Ends) -> tuple[Array, Array]:
    """Return how the control points follow from the unknowns: matrix (2, count, k) and constant (2, count).

    An end tangent leaves the second control point one unknown, its distance from the first; it comes
    first among the columns (start) or second (end).
    """
    columns: list[Array] = []
    constant = np.zeros((2, count))
    for tangent, first, second in ((ends.start_tangent, 0, 1), (ends.end_tangent, -1, -2)):
        column = np.zeros((2, count))
        if tangent is not None:
            column[:, second] = tangent if first == 0 else -tangent
            columns.append(column)
    for tangent, first, second in ((ends.start_tangent, 0, 1), (ends.end_tangent, -1, -2)):
        moves_too = [] if tangent is None else [second]
        if ends.hold:
            constant[:, [first, *moves_too]] = points[first][:, None]
        for axis in () if ends.hold else (0, 1):
            column = np.zeros((2, count))
            column[axis, [first, *moves_too]] = 1.0
            columns.append(column)
    free_from = 1 if ends.start_tangent is None else 2
    free_to = count - (1 if ends.end_tangent is None else 2)
    for index in range(free_from, free_to):
        for axis in (0, 1):
            column = np.zeros((2, count))
            column[axis, index] = 1.0
            columns.append(column)
    return np.stack(columns, axis=-1), constant


def _solved(basis: Array, points: Array, frames: Array, ends: _Ends, least_handle: float) -> Array:
    """Return the control points that minimise the squared distances, shape (count, 2).

    ``frames``, shape (n, 2, 2), holds for each point the two directions in which its distance counts,
    each weighted by its length.
    """
    count = basis.shape[1]
    bend = _CALM * np.diff(np.eye(count), n=2, axis=0)
    matrix, constant = _unknowns(count, points, ends)
    tangents = sum(t is not None for t in (ends.start_tangent, ends.end_tangent))
    free = np.ones(matrix.shape[2], dtype=bool)
    known, control = constant, constant
    for _ in range(tangents + 1):
        # rows: every point's two directions, then the bends along x and y
        some = matrix[:, :, free]
        by_point = np.einsum("nda,nak->ndk", frames, np.einsum("ij,ajk->iak", basis, some))
        miss = np.einsum("nda,na->nd", frames, points - np.einsum("ij,aj->ia", basis, known))
        by_bend = np.einsum("ij,ajk->iak", bend, some)
        calm = -np.einsum("ij,aj->ia", bend, known)
        system = np.concatenate([by_point.reshape(-1, some.shape[2]), by_bend.reshape(-1, some.shape[2])])
        right = np.concatenate([miss.ravel(), calm.ravel()])
        unknowns = np.zeros(len(free))
        unknowns[free] = np.asarray(np.linalg.lstsq(system, right, rcond=None)[0], dtype=float)
        control = known + matrix @ unknowns
        # a handle that points backwards would turn a cusp: hold it at the least length and solve again
        backward = np.flatnonzero(free[:tangents] & (unknowns[:tangents] < least_handle))
        if not len(backward):
            break
        free[backward] = False
        known = known + least_handle * matrix[:, :, backward].sum(axis=2)
    return control.T


def _curve(points: Array, at: Array, joints: Array, ends: _Ends) -> tuple[Path, Array]:
    """Return the B-spline that fits the points best, and where along its parameter each point then lies.

    Args:
        points: Points, shape (n, 2), mm.
        at: Their parameters to start from, shape (n,), from 0 to the last joint.
        joints: Parameters of the joints, both ends included, shape (spans + 1,).
        ends: What is known of the ends.
    """
    from scipy.interpolate import BSpline  # noqa: PLC0415 - slow to load, and few commands fit

    total = float(joints[-1])
    knots = np.concatenate([np.zeros(4), np.repeat(joints[1:-1], 2), np.full(4, total)])
    frames = np.broadcast_to(np.eye(2), (len(points), 2, 2))
    spline: BSpline[np.float64] | None = None
    for _ in range(_ROUNDS):
        basis = BSpline.design_matrix(at, knots, 3).toarray()
        control = _solved(basis, points, frames, ends, 1e-3 * total / len(joints))
        spline = BSpline(knots, control, 3)
        away, run, bend = spline(at) - points, spline(at, 1), spline(at, 2)
        slope, curve = np.sum(away * run, axis=1), np.sum(run * run + away * bend, axis=1)
        square = np.sum(run * run, axis=1)
        below = np.maximum(curve, 0.5 * square)
        move = np.divide(slope, below, out=np.zeros_like(slope), where=below > 0)
        new = np.clip(at - move, 0.0, total)
        new[0], new[-1] = 0.0, total
        settled = float(np.abs(new - at).max()) <= _SETTLED * total
        at = new
        run = spline(at, 1)
        size = np.hypot(run[:, 0], run[:, 1])[:, None]
        along = np.divide(run, size, out=np.zeros_like(run), where=size > 0)
        weight = np.full((len(points), 1), _ALONG)
        weight[[0, -1]] = 1.0  # the path is to end beside its end points, not beyond them
        frames = np.stack([np.stack([along[:, 1], -along[:, 0]], axis=1), weight * along], axis=1)
        if settled:
            break
    if spline is None:
        raise AssertionError("at least one round is made")
    place, speed = spline(joints), spline(joints, 1)
    third = np.diff(joints)[:, None] / 3.0
    inner_first, inner_last = place[:-1] + third * speed[:-1], place[1:] - third * speed[1:]
    return Path(np.stack([place[:-1], inner_first, inner_last, place[1:]], axis=1)), at


def _refined(joints: Array, at: Array, poor: NDArray[np.bool_]) -> Array:
    """Return the joints with one more amid the points of every span that misses a point."""
    span = np.clip(np.searchsorted(joints, at, side="right") - 1, 0, len(joints) - 2)
    new: list[float] = []
    for index in np.unique(span[poor]):
        inside = at[span == index]
        low, high = float(joints[index]), float(joints[index + 1])
        if len(inside) >= _LEAST:
            new.append(float(np.clip(np.median(inside), low + 0.2 * (high - low), high - 0.2 * (high - low))))
    return np.sort(np.append(joints, new))


def fit(
    points: ArrayLike,
    tolerance: float,
    *,
    start_tangent: ArrayLike | None = None,
    end_tangent: ArrayLike | None = None,
    hold_ends: bool = False,
) -> Fit:
    """Return a smooth path with few segments that passes within a tolerance of points in order.

    Args:
        points: Points in order along the path, shape (n, 2), mm.
        tolerance: Largest distance allowed of any point from the path, mm. With noise of standard
            deviation s, about 3 s lets the noise be noise.
        start_tangent: Direction of travel at the start, shape (2,), or None.
        end_tangent: Direction of travel at the end, shape (2,), or None.
        hold_ends: True where the path must start on the first point and end on the last.

    Returns:
        The path with its largest and root-mean-square distance. Its segments are few: joints are added
        where points are missed, and then every joint is left out again that the tolerance can spare.

    Raises:
        FitError: When there are too few points to determine a curve, when no curve within the tolerance
            can be found, or when a value makes no sense.
    """
    if not tolerance > 0.0:
        raise FitError(f"a tolerance must be more than 0 mm, and {tolerance:g} was given")
    kept = _distinct(points)
    ends = _Ends(_unit(start_tangent, "start"), _unit(end_tangent, "end"), hold_ends)
    step = np.diff(kept, axis=0)
    at = np.append(0.0, np.cumsum(np.hypot(step[:, 0], step[:, 1])))
    joints = np.array([0.0, at[-1]])
    path, at = _curve(kept, at, joints, ends)
    distance = closest(path, kept).distance
    while distance.max() > tolerance:
        finer = _refined(joints, at, distance > tolerance)
        if len(finer) == len(joints):
            raise FitError(
                f"no smooth curve passes within {tolerance:g} mm of all {len(kept)} points: the best found "
                f"misses one by {distance.max():.3g} mm; look for a corner or a stray point, or allow more"
            )
        joints = finer
        path, at = _curve(kept, at, joints, ends)
        distance = closest(path, kept).distance
    index = 1
    while index < len(joints) - 1:
        fewer = np.delete(joints, index)
        other, moved = _curve(kept, at, fewer, ends)
        if closest(other, kept).distance.max() <= tolerance:
            path, at, joints = other, moved, fewer
        else:
            index += 1
    distance = closest(path, points).distance
    return Fit(path, float(distance.max()), float(np.sqrt(np.mean(distance**2))))

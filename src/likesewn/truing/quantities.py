"""The quantities that measures and conditions are made of, with their exact derivatives.

Every measure and every condition is a fixed linear combination of a few primitive quantities:
coordinates of control points, lengths of segments, angles between tangents, straight distances, places
where an edge crosses a level, and extra unknowns such as a level by itself. ``Quantities`` evaluates
them all at once. Which coordinates each depends on never changes, so that only numbers are left to be made
at every step (``rows``, ``matrices``).

The primitive vector is ``[controls | lengths | angles | distances | crossings | extras]``; ``Terms`` combine
entries of it, got from the ``coordinate``, ``length`` ... methods. It is evaluated at, and differentiated by,
the raw vector: every control coordinate, the extras, and whatever else the problem has (``Problem.raw``).
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import bezier
from likesewn.truing.unknowns import EdgeRun, Unknowns

Array = NDArray[np.float64]
Terms = dict[int, float]

__all__ = ["Quantities", "Terms", "add", "scale"]

BEYOND = 0.35
"""How far, in parameter, an edge's last span is followed past its end to meet a level: the solve may
pass through shapes in which the level just misses the edge, and needs a smooth answer there."""

GRID = np.linspace(0.0, 1.0, 9)
"""Parameters of each span at which a crossing is first looked for."""

BASIS_ON_GRID = bezier.basis(GRID)

MOST_TIMES = 6
ENOUGH = 1e-9
"""Most Newton steps to a crossing, and the step, in parameter, after which the next would change nothing."""


def add(*parts: Terms) -> Terms:
    """Return the sum of linear combinations."""
    total: Terms = {}
    for part in parts:
        for entry, factor in part.items():
            total[entry] = total.get(entry, 0.0) + factor
    return total


def scale(part: Terms, factor: float) -> Terms:
    """Return a linear combination times a factor."""
    return {entry: factor * value for entry, value in part.items()}


@dataclass(frozen=True, slots=True)
class Primitives:
    """The primitive quantities at one raw vector.

    Attributes:
        values: Their values, shape (size,).
        slopes: Their derivatives by the raw vector, one quantity's after another, as ``Quantities.columns``.
        raw: The raw vector.
        ctrl: Every segment's Bezier points, shape (segments, 4, 2), mm.
        segment: Segment in which each crossing lies.
        t: Its parameter there.
    """

    values: Array
    slopes: Array
    raw: Array
    ctrl: Array
    segment: NDArray[np.int64]
    t: Array


@dataclass(slots=True)
class _Crossing:
    """The edge's other coordinate where its ``axis`` coordinate reaches a level."""

    run: EdgeRun
    axis: int
    level: Terms


class Quantities:
    """Primitive quantities of a garment under trial.

    Build it by asking for quantities; each call returns ``Terms``, a combination of entries. Then
    ``freeze`` it, and ``evaluate`` it at any unknowns.
    """

    def __init__(self, unknowns: Unknowns) -> None:
        self.unknowns = unknowns
        self._coordinates = len(unknowns.index)
        self._angles: list[tuple[int, int, int, int]] = []
        self._distances: list[tuple[int, int]] = []
        self._crossings: list[_Crossing] = []
        self._extras = 0
        self._symbols: dict[tuple[str, int], int] = {}

    def coordinate(self, index: int) -> Terms:
        """Return the control coordinate ``index``."""
        return {index: 1.0}

    def length(self, run: EdgeRun) -> Terms:
        """Return the length of an edge, mm."""
        return {self._coordinates + s: 1.0 for s in range(run.first, run.first + run.count)}

    def _symbol(self, sort: str, index: int) -> Terms:
        # entries past the lengths are numbered when all are known; until then by negative symbols
        symbol = self._symbols.setdefault((sort, index), -1 - len(self._symbols))
        return {symbol: 1.0}

    def angle(self, corner: int, along: int, back: int) -> Terms:
        """Return the interior angle at a corner, radians in 0..2 pi.

        Args:
            corner: Control coordinate that is the corner's x.
            along: That of the point that the edge leaving it heads for.
            back: That of the point that the edge arriving at it comes from.
        """
        self._angles.append((corner, along, corner, back))
        return self._symbol("angle", len(self._angles) - 1)

    def distance(self, start: int, end: int) -> Terms:
        """Return the straight distance between two points given by their control coordinates, mm."""
        self._distances.append((start, end))
        return self._symbol("distance", len(self._distances) - 1)

    def crossing(self, run: EdgeRun, axis: int, level: Terms) -> Terms:
        """Return the coordinate other than ``axis`` where the edge's ``axis`` coordinate is ``level``.

        ``level`` may combine coordinates and extras only.
        """
        self._crossings.append(_Crossing(run, axis, level))
        return self._symbol("crossing", len(self._crossings) - 1)

    def extra(self) -> Terms:
        """Return a new unknown by itself."""
        self._extras += 1
        return self._symbol("extra", self._extras - 1)

    @property
    def extras(self) -> int:
        """Number of extra unknowns."""
        return self._extras

    def freeze(self) -> None:
        """Fix the set of quantities and prepare for evaluation.

        Sets ``size``, the number of primitive quantities; ``columns``, the raw indices by which each is
        differentiated, one quantity's after another (-1 for none); ``starts``, where in them each quantity's
        begin, shape (size + 1,); and ``blocks``, the raw indices of the blocks that ``curvature`` gives.
        """
        n, segments = self._coordinates, self.unknowns.segments
        counts = [segments, len(self._angles), len(self._distances), len(self._crossings), self._extras]
        firsts = n + np.concatenate([[0], np.cumsum(counts)])
        self._firsts = tuple(int(first) for first in firsts[:-1])
        self.size = int(firsts[-1])
        sorts: list[str] = ["angle", "distance", "crossing", "extra"]
        first = dict(zip(sorts, self._firsts[1:], strict=True))
        self._entry = {s: first[sort] + i for (sort, i), s in self._symbols.items()}
        axes = np.arange(2)
        self._angle_at = np.array(self._angles, dtype=int).reshape(-1, 4)[:, :, None] + axes
        self._distance_at = np.array(self._distances, dtype=int).reshape(-1, 2)[:, :, None] + axes
        self._prepare_crossings()
        angles, distances = self._angle_at.reshape(-1, 8), self._distance_at.reshape(-1, 4)
        extras = n + np.arange(self._extras)
        parts = (np.arange(n), self.unknowns.columns, angles, distances, self._cross_columns, extras)
        self.columns = np.concatenate([part.reshape(-1) for part in parts])
        widths = np.repeat([1, 8, 8, 4], [n, segments, len(angles), len(distances)])
        sizes = np.concatenate([widths, np.diff(self._cross_starts), np.ones(self._extras, dtype=int)])
        self.starts = np.concatenate([[0], np.cumsum(sizes)])
        self.blocks = (self.unknowns.columns, angles, distances, self._cross_blocks)

    def entries(self, terms: Terms) -> Iterable[tuple[int, float]]:
        """Return a combination as places in the primitive vector and factors."""
        return ((self._entry.get(entry, entry), factor) for entry, factor in terms.items() if factor)

    def _prepare_crossings(self) -> None:
        """Lay out the crossings: one may lie in any span of its edge, so it has a place for each of them."""
        crossings, levels = self._crossings, max((len(c.level) for c in self._crossings), default=0)
        self._cross_axis = np.array([c.axis for c in crossings], dtype=int)
        self._cross_first = np.array([c.run.first for c in crossings], dtype=int)
        self._cross_count = np.array([c.run.count for c in crossings], dtype=int)
        self._level_at = np.full((len(crossings), levels), -1)
        self._level_factors = np.zeros((len(crossings), levels))
        extra = self._coordinates - self._firsts[-1]
        for i, crossing in enumerate(crossings):
            for k, (entry, factor) in enumerate(self.entries(crossing.level)):
                self._level_at[i, k] = entry if entry < self._coordinates else entry + extra
                self._level_factors[i, k] = factor
        # one row for each span in which a crossing may lie
        self._span_cross = np.repeat(np.arange(len(crossings)), self._cross_count)
        self._span_starts = np.concatenate([[0], np.cumsum(self._cross_count)])
        own = np.arange(len(self._span_cross)) - self._span_starts[self._span_cross]
        self._span_segment = self._cross_first[self._span_cross] + own
        self._grid_cross = np.repeat(self._span_cross, len(GRID))
        self._grid_goes_on = self._grid_cross[:-1] == self._grid_cross[1:]
        self._grid_at = (own[:, None] + GRID).reshape(-1)
        columns = self.unknowns.columns[self._span_segment]
        self._cross_blocks = np.concatenate([columns, self._level_at[self._span_cross]], axis=1)
        self._cross_starts = np.concatenate([[0], np.cumsum(8 * self._cross_count + levels)])
        self._cross_columns = np.full(int(self._cross_starts[-1]), -1)
        spans = self._cross_starts[self._span_cross] + 8 * own
        self._cross_columns[spans[:, None] + np.arange(8)] = columns
        self._cross_levels = self._cross_starts[1:, None] - levels + np.arange(levels)
        self._cross_columns[self._cross_levels] = self._level_at

    def evaluate(self, raw: Array) -> Primitives:
        """Return the primitive quantities and their derivatives at a raw vector."""
        n = self._coordinates
        ctrl = self.unknowns.bezier_points(raw[:n])
        lengths, by_length = bezier.length_gradient(ctrl)
        angles, by_angle = self._evaluate_angles(raw)
        distances, by_distance = self._evaluate_distances(raw)
        segment, t, crossings, by_cross = self._evaluate_crossings(ctrl, raw)
        slopes = np.concatenate(
            [
                np.ones(n),
                self.unknowns.by_controls(by_length).reshape(-1),
                by_angle.reshape(-1),
                by_distance.reshape(-1),
                by_cross,
                np.ones(self._extras),
            ]
        )
        extras = raw[n : n + self._extras]
        values = np.concatenate([raw[:n], lengths, angles, distances, crossings, extras])
        return Primitives(values, slopes, raw, ctrl, segment, t)

    def curvature(self, at: Primitives, forces: Array) -> list[Array]:
        """Return the second derivatives of a weighted sum of the primitive quantities.

        Args:
            at: The primitive quantities at a raw vector.
            forces: Weight of each, shape (size,).

        Returns:
            Blocks of the symmetric matrix of second derivatives by the raw vector, as ``blocks``.
        """
        length, angle, distance, crossing, extra = self._firsts
        lengths = bezier.length_hessian(at.ctrl).reshape(-1, 8, 8) * forces[length:angle, None, None]
        return [
            self.unknowns.bent_by_controls(lengths),
            self._bent_angles(at.raw, forces[angle:distance]),
            self._bent_distances(at.raw, forces[distance:crossing]),
            self._bent_crossings(at, forces[crossing:extra]),
        ]

    def _bent_angles(self, raw: Array, forces: Array) -> Array:
        points = raw[self._angle_at]
        blocks = np.zeros((len(points), 8, 8))
        for first, sign in ((0, -1.0), (2, 1.0)):
            v = points[:, first + 1] - points[:, first]
            square = np.maximum((v * v).sum(axis=1), 1e-12) ** 2
            twist, spread = 2 * v[:, 0] * v[:, 1] / square, (v[:, 1] ** 2 - v[:, 0] ** 2) / square
            own = np.empty((len(points), 2, 2))
            own[:, 0, 0], own[:, 0, 1], own[:, 1, 0], own[:, 1, 1] = twist, spread, spread, -twist
            own *= (sign * forces)[:, None, None]
            a, b = slice(2 * first, 2 * first + 2), slice(2 * first + 2, 2 * first + 4)
            blocks[:, a, a] += own
            blocks[:, b, b] += own
            blocks[:, a, b] -= own
            blocks[:, b, a] -= own
        return blocks

    def _bent_distances(self, raw: Array, forces: Array) -> Array:
        points = raw[self._distance_at]
        d = points[:, 1] - points[:, 0]
        distance = np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-12)
        normal = np.stack([-d[:, 1], d[:, 0]], axis=1) / distance[:, None]
        both = np.concatenate([-normal, normal], axis=1)
        return both[:, :, None] * both[:, None, :] * (forces / distance)[:, None, None]

    def _bent_crossings(self, at: Primitives, forces: Array) -> Array:
        """Return the crossings' part, by implicit differentiation of the parameter at the level."""
        levels = self._level_at.shape[1]
        blocks = np.zeros((len(self._span_segment), 8 + levels, 8 + levels))
        if not len(forces):
            return blocks
        own, t = at.ctrl[at.segment], at.t
        d, dd = bezier.derivative(own, t), bezier.second_derivative(own, t)
        rows = np.arange(len(t))
        axis, other = self._cross_axis, 1 - self._cross_axis
        along = _not_zero(d[rows, axis])
        slope = d[rows, other] / along
        bernstein, moving = bezier.basis(t), bezier.basis_derivative(t)
        # by the Bezier points, and then by all: T of the parameter, H of the slope at a fixed parameter
        by_t, by_slope = np.zeros((2, len(t), 4, 2))
        by_t[rows, :, axis] = -bernstein / along[:, None]
        by_slope[rows, :, other] = moving
        by_slope[rows, :, axis] = -slope[:, None] * moving
        own_t, own_slope = (
            self.unknowns.by_controls(by, at.segment).reshape(-1, 8) for by in (by_t, by_slope)
        )
        T = np.concatenate([own_t, self._level_factors / along[:, None]], axis=1)
        H = np.concatenate([own_slope, np.zeros((len(t), levels))], axis=1)
        bend = forces * (dd[rows, other] - slope * dd[rows, axis])
        mixed = (H * forces[:, None])[:, :, None] * T[:, None, :]
        span = self._span_starts[:-1] + at.segment - self._cross_first
        blocks[span] = mixed + mixed.transpose(0, 2, 1) + (T * bend[:, None])[:, :, None] * T[:, None, :]
        return blocks

    def _evaluate_angles(self, raw: Array) -> tuple[Array, Array]:
        points = raw[self._angle_at]
        a = points[:, 1] - points[:, 0]
        b = points[:, 3] - points[:, 2]
        cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
        dot = a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1]
        # the interior lies on the right hand, so the angle turns from the leaving to the arriving edge
        angle = np.mod(np.arctan2(cross, dot), 2 * np.pi)
        turn = np.array([[0.0, -1.0], [1.0, 0.0]])
        by_a = -(a @ turn.T) / np.maximum((a * a).sum(axis=1), 1e-12)[:, None]
        by_b = (b @ turn.T) / np.maximum((b * b).sum(axis=1), 1e-12)[:, None]
        return angle, np.stack([-by_a, by_a, -by_b, by_b], axis=1)

    def _evaluate_distances(self, raw: Array) -> tuple[Array, Array]:
        points = raw[self._distance_at]
        d = points[:, 1] - points[:, 0]
        distance = np.hypot(d[:, 0], d[:, 1])
        unit = d / np.maximum(distance, 1e-12)[:, None]
        return distance, np.stack([-unit, unit], axis=1)

    def _evaluate_crossings(self, ctrl: Array, raw: Array) -> tuple[NDArray[np.int64], Array, Array, Array]:
        """Return the segment and parameter of each crossing, its value, and all their derivatives."""
        by = np.zeros(len(self._cross_columns))
        if not len(self._cross_first):
            return self._cross_first, np.zeros(0), np.zeros(0), by
        level = (self._level_factors * raw[self._level_at]).sum(axis=1)
        rows, axis, other = np.arange(len(level)), self._cross_axis, 1 - self._cross_axis
        segment, t = self._crossing_parameter(ctrl, level)
        own = ctrl[segment]
        bernstein = bezier.basis(t)
        here = (bernstein[:, None] @ own)[:, 0]
        d = (bezier.basis_derivative(t)[:, None] @ own)[:, 0]
        slope = d[rows, other] / _not_zero(d[rows, axis])
        by_ctrl = np.zeros((len(t), 4, 2))
        by_ctrl[rows, :, other] = bernstein
        by_ctrl[rows, :, axis] = -slope[:, None] * bernstein
        first = self._cross_starts[:-1] + 8 * (segment - self._cross_first)
        by[first[:, None] + np.arange(8)] = self.unknowns.by_controls(by_ctrl, segment).reshape(-1, 8)
        by[self._cross_levels] = slope[:, None] * self._level_factors
        return segment, t, here[rows, other] + slope * (level - here[rows, axis]), by

    def _locate(self, u: Array) -> tuple[NDArray[np.int64], Array]:
        span = np.minimum(np.maximum(np.floor(u), 0), self._cross_count - 1).astype(int)
        return self._cross_first + span, u - span

    def _crossing_parameter(self, ctrl: Array, level: Array) -> tuple[NDArray[np.int64], Array]:
        """Return where each edge reaches its level: segment and parameter of the crossing nearest its start.

        The parameter runs on below 0 and above 1 where the level just misses the edge.
        """
        on_grid = ctrl[self._span_segment, :, self._cross_axis[self._span_cross], None]
        gap = (BASIS_ON_GRID @ on_grid).reshape(-1) - level[self._grid_cross]
        below = gap < 0.0
        change = np.flatnonzero((below[:-1] != below[1:]) & self._grid_goes_on)
        # backwards, so that the first change of each edge is the one that stays
        at, j = self._grid_at, np.full(len(level), -1)
        j[self._grid_cross[change[::-1]]] = change[::-1]
        met = np.flatnonzero(j >= 0)
        j = j[met]
        u = np.zeros(len(level))
        u[met] = at[j] + gap[j] / _not_zero(gap[j] - gap[j + 1]) * (at[j + 1] - at[j])
        for i in set(range(len(level))).difference(met.tolist()):
            mine = np.flatnonzero(self._grid_cross == i)
            u[i] = at[mine[np.argmin(np.abs(gap[mine]))]]
        low, high = -BEYOND, self._cross_count + BEYOND
        cubics = bezier.powers(ctrl)
        for _ in range(MOST_TIMES):
            segment, t = self._locate(u)
            c0, c1, c2, c3 = cubics[segment, :, self._cross_axis].T
            here, slope = ((c3 * t + c2) * t + c1) * t + c0, (3.0 * c3 * t + 2.0 * c2) * t + c1
            step = np.minimum(np.maximum((level - here) / _not_zero(slope), -0.5), 0.5)
            u = np.minimum(np.maximum(u + step, low), high)
            if max(step.max(), -step.min()) < ENOUGH:
                break
        return self._locate(u)


def _not_zero(value: Array) -> Array:
    return np.where(np.abs(value) < 1e-9, np.where(value < 0, -1e-9, 1e-9), value)

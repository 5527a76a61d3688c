"""The quantities that measures and conditions are made of, with their exact derivatives.

Every measure and every condition is a fixed linear combination of a few primitive quantities:
coordinates of Bezier points, lengths of segments, angles between tangents, straight distances, places
where an edge crosses a level, and extra unknowns such as a level by itself. ``Quantities`` evaluates
them all at once, rows of the Jacobian included, so that the solve assembles its matrices by two sparse
products and no row is computed in Python.

The primitive vector is ``[z | lengths | angles | distances | crossings | extras]``; ``Terms`` combine entries
of it, got from the ``coordinate``, ``length`` ... methods. It is evaluated at, and differentiated by, the raw
vector: every Bezier coordinate ``z``, the extras, and whatever else the problem has (``Problem.raw``).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from likesewn.geometry import bezier
from likesewn.truing.matrices import Blocks
from likesewn.truing.unknowns import EdgeRun, Unknowns

Array = NDArray[np.float64]
Terms = dict[int, float]

__all__ = ["Quantities", "Terms", "add", "scale"]

BEYOND = 0.35
"""How far, in parameter, an edge's last span is followed past its end to meet a level: the solve may
pass through shapes in which the level just misses the edge, and needs a smooth answer there."""


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
        self._coordinates = 8 * unknowns.segments
        self._angles: list[tuple[int, int, int, int]] = []
        self._distances: list[tuple[int, int]] = []
        self._crossings: list[_Crossing] = []
        self._extras = 0
        self._symbols: dict[tuple[str, int], int] = {}

    def coordinate(self, index: int) -> Terms:
        """Return the coordinate ``z[index]``."""
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
            corner: Index in ``z`` of the corner.
            along: Index of the point that the edge leaving it heads for.
            back: Index of the point that the edge arriving at it comes from.
        """
        self._angles.append((corner, along, corner, back))
        return self._symbol("angle", len(self._angles) - 1)

    def distance(self, start: int, end: int) -> Terms:
        """Return the straight distance between two points given by their index in ``z``, mm."""
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
        """Fix the set of quantities and prepare for evaluation."""
        segments = self.unknowns.segments
        counts = [len(self._angles), len(self._distances), len(self._crossings), self._extras]
        starts = self._coordinates + segments + np.concatenate([[0], np.cumsum(counts)])
        sorts: list[str] = ["angle", "distance", "crossing", "extra"]
        first = dict(zip(sorts, starts.tolist(), strict=False))
        self._entry = {s: int(first[sort]) + i for (sort, i), s in self._symbols.items()}
        self.size = int(starts[-1])
        self._first_extra = int(first["extra"])
        self._angle_points = np.array(self._angles, dtype=int).reshape(-1, 4)
        self._distance_points = np.array(self._distances, dtype=int).reshape(-1, 2)
        self._prepare_crossings()
        self._prepare_pattern()

    def rows(self, rows: Sequence[Terms]) -> sparse.csr_array:
        """Return rows as a sparse matrix over the primitive vector, shape (len(rows), size)."""
        data = [
            (i, self._entry.get(entry, entry), factor)
            for i, row in enumerate(rows)
            for entry, factor in row.items()
            if factor
        ]
        i, j, v = zip(*data, strict=True) if data else ((), (), ())
        return sparse.csr_array(
            (np.array(v, dtype=float), (np.array(i, dtype=int), np.array(j, dtype=int))),
            shape=(len(rows), self.size),
        )

    def _prepare_crossings(self) -> None:
        crossings = self._crossings
        self._cross_first = np.array([c.run.first for c in crossings], dtype=int)
        self._cross_count = np.array([c.run.count for c in crossings], dtype=int)
        self._cross_axis = np.array([c.axis for c in crossings], dtype=int)
        width = self._coordinates + self._extras
        level = np.zeros((len(crossings), width))
        for i, crossing in enumerate(crossings):
            for entry, factor in crossing.level.items():
                known = self._entry.get(entry, entry)
                column = known if known < self._coordinates else self._coordinates + known - self._first_extra
                level[i, column] = factor
        self._cross_level = level
        most = int((level != 0.0).sum(axis=1).max(initial=0))
        # each level's columns, filled up with column 0 times 0, so that all are of one width
        self._level_at = np.argsort(level == 0.0, axis=1, kind="stable")[:, :most]
        self._level_factors = np.take_along_axis(level, self._level_at, axis=1)

    def _prepare_pattern(self) -> None:
        """Lay out the Jacobian by [z, extras] in CSR form: only its data change with the unknowns."""
        n, s = self._coordinates, self.unknowns.segments
        offsets = np.arange(2)
        angle = (self._angle_points[:, [1, 0, 3, 0]][:, :, None] + offsets).reshape(-1, 8)
        distance = (self._distance_points[:, :, None] + offsets).reshape(-1, 4)
        self._level_columns = [np.flatnonzero(row) for row in self._cross_level]
        cross = [np.concatenate([np.zeros(8, dtype=int), columns]) for columns in self._level_columns]
        parts = [
            np.arange(n),
            (8 * np.arange(s)[:, None] + np.arange(8)).reshape(-1),
            angle.reshape(-1),
            distance.reshape(-1),
            *cross,
            n + np.arange(self._extras),
        ]
        sizes = [1] * n + [8] * s + [8] * len(angle) + [4] * len(distance)
        sizes += [len(c) for c in cross] + [1] * self._extras
        self._indices = np.concatenate(parts).astype(np.int32)
        self._indptr = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32)
        self._cross_start = self._indptr[n + s + len(angle) + len(distance) :][: len(cross)]

    def evaluate(self, raw: Array) -> tuple[Array, sparse.csr_array]:
        """Return the primitive quantities and their derivatives.

        Args:
            raw: The raw vector.

        Returns:
            The primitive vector, shape (size,), and its Jacobian by ``raw``.
        """
        z, ze = self._split(raw)
        ctrl = z.reshape(-1, 4, 2)
        lengths, by_length = bezier.length_gradient(ctrl)
        angles, by_angle = self._evaluate_angles(z)
        distances, by_distance = self._evaluate_distances(z)
        crossings, by_cross = self._evaluate_crossings(ctrl, ze)
        data = np.concatenate(
            [
                np.ones(len(z)),
                by_length.reshape(-1),
                by_angle.reshape(-1),
                by_distance.reshape(-1),
                *by_cross,
                np.ones(self._extras),
            ]
        )
        values = np.concatenate([z, lengths, angles, distances, crossings, ze[len(z) :]])
        shape = (self.size, len(raw))
        return values, sparse.csr_array((data, self._indices.copy(), self._indptr), shape=shape)

    def _split(self, raw: Array) -> tuple[Array, Array]:
        """Return the coordinates alone, and with the extras."""
        return raw[: self._coordinates], raw[: self._coordinates + self._extras]

    def curvature(self, raw: Array, forces: Array) -> list[Blocks]:
        """Return the second derivatives of a weighted sum of the primitive quantities.

        Args:
            raw: The raw vector.
            forces: Weight of each primitive quantity, shape (size,).

        Returns:
            Blocks of the symmetric matrix of second derivatives by ``raw``, for ``added_blocks``.
        """
        n = self._coordinates
        z, ze = self._split(raw)
        ctrl = z.reshape(-1, 4, 2)
        first_angle = n + len(ctrl)
        first_distance = first_angle + len(self._angle_points)
        first_crossing = first_distance + len(self._distance_points)
        lengths = bezier.length_hessian(ctrl).reshape(-1, 8, 8) * forces[n:first_angle, None, None]
        return [
            (8 * np.arange(len(ctrl))[:, None] + np.arange(8), lengths),
            self._bent_angles(z, forces[first_angle:first_distance]),
            self._bent_distances(z, forces[first_distance:first_crossing]),
            self._bent_crossings(ctrl, ze, forces[first_crossing : self._first_extra]),
        ]

    def _bent_angles(self, z: Array, forces: Array) -> Blocks:
        points = z[self._angle_points[:, :, None] + np.arange(2)]
        blocks = np.zeros((len(points), 8, 8))
        for first, sign in ((0, -1.0), (2, 1.0)):
            v = points[:, first + 1] - points[:, first]
            square = np.maximum((v * v).sum(axis=1), 1e-12) ** 2
            twist, spread = 2 * v[:, 0] * v[:, 1] / square, (v[:, 1] ** 2 - v[:, 0] ** 2) / square
            own = np.stack([np.stack([twist, spread], 1), np.stack([spread, -twist], 1)], 1)
            own = own * (sign * forces)[:, None, None]
            a, b = slice(2 * first, 2 * first + 2), slice(2 * first + 2, 2 * first + 4)
            blocks[:, a, a] += own
            blocks[:, b, b] += own
            blocks[:, a, b] -= own
            blocks[:, b, a] -= own
        return (self._angle_points[:, :, None] + np.arange(2)).reshape(-1, 8), blocks

    def _bent_distances(self, z: Array, forces: Array) -> Blocks:
        points = z[self._distance_points[:, :, None] + np.arange(2)]
        d = points[:, 1] - points[:, 0]
        distance = np.maximum(np.hypot(d[:, 0], d[:, 1]), 1e-12)
        normal = np.stack([-d[:, 1], d[:, 0]], axis=1) / distance[:, None]
        both = np.concatenate([-normal, normal], axis=1)
        blocks = both[:, :, None] * both[:, None, :] * (forces / distance)[:, None, None]
        return (self._distance_points[:, :, None] + np.arange(2)).reshape(-1, 4), blocks

    def _bent_crossings(self, ctrl: Array, ze: Array, forces: Array) -> Blocks:
        """Return the crossings' part, by implicit differentiation of the parameter at the level."""
        segment, t = self._locate(self._crossing_parameter(ctrl, self._cross_level @ ze))
        d, dd = bezier.derivative(ctrl[segment], t), bezier.second_derivative(ctrl[segment], t)
        rows = np.arange(len(t))
        axis, other = self._cross_axis, 1 - self._cross_axis
        along = _not_zero(d[rows, axis])
        slope = d[rows, other] / along
        bernstein, moving = bezier.basis(t), bezier.basis_derivative(t)
        levels = self._level_at.shape[1]
        T, H = np.zeros((2, len(t), 8 + levels))
        at_axis, at_other = (2 * np.arange(4) + which[:, None] for which in (axis, other))
        np.put_along_axis(T, at_axis, -bernstein / along[:, None], axis=1)
        T[:, 8:] = self._level_factors / along[:, None]
        np.put_along_axis(H, at_other, moving, axis=1)
        np.put_along_axis(H, at_axis, -slope[:, None] * moving, axis=1)
        bend = forces * (dd[rows, other] - slope * dd[rows, axis])
        mixed = (H * forces[:, None])[:, :, None] * T[:, None, :]
        blocks = mixed + mixed.transpose(0, 2, 1) + (T * bend[:, None])[:, :, None] * T[:, None, :]
        return np.concatenate([8 * segment[:, None] + np.arange(8), self._level_at], axis=1), blocks

    def _evaluate_angles(self, z: Array) -> tuple[Array, Array]:
        points = z[self._angle_points[:, :, None] + np.arange(2)]
        a = points[:, 1] - points[:, 0]
        b = points[:, 3] - points[:, 2]
        cross = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
        dot = a[:, 0] * b[:, 0] + a[:, 1] * b[:, 1]
        # the interior lies on the right hand, so the angle turns from the leaving to the arriving edge
        angle = np.mod(np.arctan2(cross, dot), 2 * np.pi)
        turn = np.array([[0.0, -1.0], [1.0, 0.0]])
        by_a = -(a @ turn.T) / np.maximum((a * a).sum(axis=1), 1e-12)[:, None]
        by_b = (b @ turn.T) / np.maximum((b * b).sum(axis=1), 1e-12)[:, None]
        return angle, np.stack([by_a, -by_a, by_b, -by_b], axis=1)

    def _evaluate_distances(self, z: Array) -> tuple[Array, Array]:
        points = z[self._distance_points[:, :, None] + np.arange(2)]
        d = points[:, 1] - points[:, 0]
        distance = np.hypot(d[:, 0], d[:, 1])
        unit = d / np.maximum(distance, 1e-12)[:, None]
        return distance, np.stack([-unit, unit], axis=1)

    def _evaluate_crossings(self, ctrl: Array, ze: Array) -> tuple[Array, list[Array]]:
        if not len(self._cross_first):
            return np.zeros(0), []
        level = self._cross_level @ ze
        u = self._crossing_parameter(ctrl, level)
        segment, t = self._locate(u)
        d = bezier.derivative(ctrl[segment], t)
        here = bezier.position(ctrl[segment], t)
        bernstein = bezier.basis(t)
        rows = np.arange(len(u))
        axis, other = self._cross_axis, 1 - self._cross_axis
        slope = d[rows, other] / _not_zero(d[rows, axis])
        by_ctrl = np.zeros((len(u), 4, 2))
        by_ctrl[rows, :, other] = bernstein
        by_ctrl[rows, :, axis] = -slope[:, None] * bernstein
        value = here[rows, other] + slope * (level - here[rows, axis])
        data: list[Array] = []
        for i, columns in enumerate(self._level_columns):
            start = int(self._cross_start[i])
            self._indices[start : start + 8] = 8 * segment[i] + np.arange(8)
            data += [by_ctrl[i].reshape(-1), slope[i] * self._cross_level[i, columns]]
        return value, data

    def _locate(self, u: Array) -> tuple[NDArray[np.int64], Array]:
        span = np.clip(np.floor(u).astype(int), 0, self._cross_count - 1)
        return self._cross_first + span, u - span

    def _crossing_parameter(self, ctrl: Array, level: Array) -> Array:
        """Return where each edge reaches its level: the crossing nearest its start, in spans."""
        result = np.zeros(len(level))
        for i, (first, count) in enumerate(zip(self._cross_first, self._cross_count, strict=True)):
            grid = np.linspace(0.0, 1.0, 9)
            values = bezier.position(ctrl[first : first + count, None], grid)[..., self._cross_axis[i]]
            gap = values.reshape(-1) - level[i]
            at: Array = (np.arange(int(count))[:, None] + grid).reshape(-1)
            change = np.flatnonzero(np.signbit(gap[:-1]) != np.signbit(gap[1:]))
            if len(change):
                j = int(change[0])
                share = gap[j] / _not_zero(gap[j] - gap[j + 1])
                result[i] = at[j] + share * (at[j + 1] - at[j])
            else:
                result[i] = at[int(np.argmin(np.abs(gap)))]
        low, high = -BEYOND, self._cross_count + BEYOND
        rows = np.arange(len(level))
        for _ in range(6):
            segment, t = self._locate(result)
            here = bezier.position(ctrl[segment], t)[rows, self._cross_axis]
            slope = bezier.derivative(ctrl[segment], t)[rows, self._cross_axis]
            step = (level - here) / _not_zero(slope)
            result = np.clip(result + np.clip(step, -0.5, 0.5), low, high)
        return result


def _not_zero(value: Array) -> Array:
    return np.where(np.abs(value) < 1e-9, np.where(value < 0, -1e-9, 1e-9), value)

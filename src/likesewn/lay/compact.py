"""Moving outlines a little, all at once, so that a lay becomes shorter.

Two outlines that do not overlap lie, part by convex part, on the far side of some side of the keep-out of the
two parts. Holding each of them to that side leaves a region for all moves that is convex, and the shortest
lay in it is a linear program (Li and Milenkovic, "Compaction and separation algorithms for non-convex
polygons and their applications", European Journal of Operational Research 84, 1995). It is solved again from
where the outlines come to lie, until nothing is gained.
"""

from dataclasses import dataclass, field, replace
from functools import reduce

import numpy as np
from numpy.typing import NDArray

from likesewn.lay.board import Layout, Spot
from likesewn.lay.keepout import convex_parts
from likesewn.lay.sides import Sides, parts_of, sides_of
from likesewn.lay.ways import Lie

Array = NDArray[np.float64]

__all__ = ["Compactor"]

REACH = 30.0
"""How far an outline may move in one round, mm. Further needs more sides and seldom gains."""

NEAR = 2 * np.sqrt(2) * REACH
"""Parts this near may come to touch in one round, mm."""

MOST_ROUNDS = 12

GAIN = 0.02
"""Gain in length, mm, below which no further round is tried."""

SOUND = 2e-4
"""Overlap of grown outlines that rounding may leave, mm; outlines are grown by more than that."""


@dataclass(frozen=True, slots=True)
class Row:
    """One condition: factors of the unknowns in some columns, and the bounds of their sum."""

    values: tuple[float, ...]
    columns: tuple[int, ...]
    low: float
    high: float


@dataclass(slots=True)
class Compactor:
    """Shortens layouts; keeps the keep-outs that it has worked out."""

    _sides: dict[tuple[int, int], Sides] = field(default_factory=dict[tuple[int, int], Sides])
    _blocked: dict[int, tuple[Sides, ...]] = field(default_factory=dict[int, tuple[Sides, ...]])
    _lies: dict[int, Lie] = field(default_factory=dict[int, Lie])

    def shorter(self, layout: Layout) -> Layout:
        """Return a layout at most as long, found from ``layout`` by small moves."""
        best = layout
        for _ in range(MOST_ROUNDS):
            moved = self._moved(best)
            if moved is None or moved.length > best.length - 1e-9:
                return best
            gained = best.length - moved.length
            best = moved
            if gained < GAIN:
                break
        return best

    def _between(self, a: Lie, b: Lie) -> Sides:
        key = (id(a), id(b))
        if key not in self._sides:
            self._lies[id(a)], self._lies[id(b)] = a, b
            self._sides[key] = sides_of(a.convex, b.convex)
        return self._sides[key]

    def _obstacles(self, lie: Lie) -> tuple[Sides, ...]:
        if id(lie) not in self._blocked:
            self._lies[id(lie)] = lie
            own = parts_of(convex_parts(lie.outline)) if lie.blocked else None
            self._blocked[id(lie)] = tuple(
                sides_of(parts_of(convex_parts(polygon)), own) for polygon in lie.blocked if own is not None
            )
        return self._blocked[id(lie)]

    def _moved(self, layout: Layout) -> Layout | None:
        from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - slow to load
        from scipy.sparse import csr_array  # noqa: PLC0415

        spots = layout.spots
        n = len(spots)
        # x of every outline, then y, then the length
        cost = np.concatenate([np.full(n, 1e-4 / n), np.zeros(n), [1.0]])
        rooms = np.array([self._room(spot) for spot in spots])
        x = np.array([spot.x for spot in spots])
        bounds = Bounds(
            np.concatenate([np.maximum(x - REACH, 0.0), rooms[:, 0], [0.0]]),
            np.concatenate([x + REACH, rooms[:, 1], [layout.length]]),
        )
        rows = self._rows(spots)
        data = [value for row in rows for value in row.values]
        index = [column for row in rows for column in row.columns]
        start = np.cumsum([0, *(len(row.values) for row in rows)])
        matrix = csr_array((np.array(data), np.array(index), start), shape=(len(rows), 2 * n + 1))
        limits = LinearConstraint(matrix, np.array([r.low for r in rows]), np.array([r.high for r in rows]))
        answer = milp(cost, constraints=limits, bounds=bounds)
        if answer.status != 0:
            return None
        at = np.asarray(answer.x, dtype=np.float64)
        moved = tuple(replace(s, x=float(at[i]), y=float(at[n + i])) for i, s in enumerate(spots))
        if not self._sound(moved):
            return None
        return Layout(moved, max(spot.end for spot in moved))

    def _rows(self, spots: tuple[Spot, ...]) -> list[Row]:
        """Return what the moves have to keep to: ends within the length, outlines apart, spots matched."""
        n = len(spots)
        rows = [Row((1.0, -1.0), (i, 2 * n), -np.inf, -spot.lie.length) for i, spot in enumerate(spots)]
        for i, j, sides, move in self._pairs(spots):
            for nx, ny, least in sides.holding(move, NEAR):
                # n . (b - a) >= c
                if i < 0:
                    rows.append(Row((nx, ny), (j, n + j), float(least), np.inf))
                else:
                    rows.append(Row((nx, ny, -nx, -ny), (j, n + j, i, n + i), float(least), np.inf))
        firsts: dict[int, int] = {}
        for i, spot in enumerate(spots):
            first = i if spot.lie.mark is None else firsts.setdefault(spot.lie.mark[0], i)
            if first != i:
                apart = spot.x - spots[first].x
                rows.append(Row((1.0, -1.0), (i, first), apart, apart))
        return rows

    @staticmethod
    def _room(spot: Spot) -> tuple[float, float]:
        """Return how far a spot may move along y."""
        inside = [r for r in spot.lie.rooms if r[0] - 1e-6 <= spot.y <= r[1] + 1e-6]
        low, high = reduce(lambda a, b: (max(a[0], b[0]), min(a[1], b[1])), inside)
        return min(max(low, spot.y - REACH), spot.y), max(min(high, spot.y + REACH), spot.y)

    def _pairs(self, spots: tuple[Spot, ...]) -> list[tuple[int, int, Sides, Array]]:
        """Return pairs that may touch: index of the first (-1: what cannot be used) and of the second."""
        found: list[tuple[int, int, Sides, Array]] = []
        boxes = [
            (s.x, s.y + s.lie.outline[:, 1].min(), s.end, s.y + s.lie.outline[:, 1].max()) for s in spots
        ]
        for j, b in enumerate(spots):
            at = np.array([b.x, b.y])
            found += [(-1, j, blocked, at) for blocked in self._obstacles(b.lie)]
            for i in range(j):
                one, two = boxes[i], boxes[j]
                apart = max(one[0] - two[2], two[0] - one[2], one[1] - two[3], two[1] - one[3])
                if apart < NEAR:
                    a = spots[i]
                    found.append((i, j, self._between(a.lie, b.lie), at - np.array([a.x, a.y])))
        return found

    def _sound(self, spots: tuple[Spot, ...]) -> bool:
        return all(sides.room(move)[0].min() >= -SOUND for _, _, sides, move in self._pairs(spots))

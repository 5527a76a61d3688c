"""Laying outlines on a board one by one, each as near to the cloth's start as it will go.

An outline is tried in every row that it may lie in; in each, the keep-outs of what lies already and of what
cannot be used leave stretches of x, and the outline goes to the first of them that takes it, into gaps left
behind as well. Rows are ``STEP`` apart; x is exact.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from likesewn.lay.folds import ENDLESS, Folded
from likesewn.lay.keepout import Slices, convex_parts, slices, standing_parts, stretches
from likesewn.lay.ways import STEP, Lie, Unit

Array = NDArray[np.float64]
Stretches = tuple[Array, Array]

__all__ = ["CLOSE", "RULES", "Board", "Layout", "Spot", "Tables", "Turn"]

RULES = 4
"""Rules by which a place is chosen: least end or least start, near or far across the cloth where equal."""

MOST_KEPT = 3000
"""Stretches of pairs kept for use again: about 12 kB each."""

CLOSE = 1e-6
"""What lies this near does not overlap, mm."""


@dataclass(frozen=True, slots=True, eq=False)
class Spot:
    """Where one unit lies: its attitude, the x of its start and its shift along y, mm."""

    unit: Unit
    lie: Lie
    x: float
    y: float

    @property
    def end(self) -> float:
        """How far it reaches along the cloth, mm."""
        return self.x + self.lie.length


@dataclass(frozen=True, slots=True, eq=False)
class Layout:
    """Spots and the length that they take up as they lie, mm."""

    spots: tuple[Spot, ...]
    length: float

    @property
    def score(self) -> float:
        """What a search makes less: the length first, then how far each outline reaches, mm."""
        return self.length + 0.01 * sum(spot.end for spot in self.spots) / max(len(self.spots), 1)


@dataclass(frozen=True, slots=True)
class Turn:
    """One outline's turn to be laid: its attitude (-1 for the best one) and the rule for its place."""

    unit: Unit
    lie: int = -1
    rule: int = 0


def _near(phase: float) -> int:
    return round(phase * 1e6)


@dataclass(slots=True)
class Tables:
    """Slices of keep-outs by the outlines that they come from, for use on more than one board.

    Attributes:
        slices: By the marks of the two outlines and the phase between them.
    """

    slices: dict[tuple[int, int, int], Slices] = field(default_factory=dict[tuple[int, int, int], Slices])
    _marks: dict[bytes, int] = field(default_factory=dict[bytes, int])

    def mark(self, lie: Lie) -> int:
        """Return a number that lies of the same outline share."""
        return self._marks.setdefault(np.round(lie.outline, 6).tobytes(), len(self._marks))


@dataclass(slots=True)
class Board:
    """One cloth as it lies, and what has been worked out about outlines on it.

    Attributes:
        cloth: The cloth.
        limit: Length there is, as it lies, mm; infinite where it is still to be bought.
        tables: Keep-outs worked out before.
        repeat: How often stripes repeat along the cloth, mm, where some lies are to match; 0 for none.
    """

    cloth: Folded
    limit: float = math.inf
    tables: Tables = field(default_factory=Tables)
    repeat: float = 0.0
    _pairs: dict[tuple[int, int, int], Stretches] = field(
        default_factory=dict[tuple[int, int, int], Stretches]
    )
    _blocked: dict[int, Stretches] = field(default_factory=dict[int, Stretches])
    _rows: dict[int, tuple[NDArray[np.intp], NDArray[np.bool_]]] = field(
        default_factory=dict[int, tuple[NDArray[np.intp], NDArray[np.bool_]]]
    )
    _marks: dict[int, int] = field(default_factory=dict[int, int])
    _lies: dict[int, Lie] = field(default_factory=dict[int, Lie])  # keeps them, so that no id is used twice

    def stretches(self, fixed: Lie, y: float, moving: Lie) -> Stretches:
        """Return where along x ``moving`` may not lie beside ``fixed`` at x = 0, for each of its starts."""
        key = (id(fixed), _near(y), id(moving))
        found = self._pairs.get(key)
        if found is None:
            if len(self._pairs) >= MOST_KEPT:
                self._pairs.clear()
            found = self._pairs[key] = self._stretches(fixed, y, moving)
        return found

    def _stretches(self, fixed: Lie, y: float, moving: Lie) -> Stretches:
        self._lies[id(fixed)], self._lies[id(moving)] = fixed, moving
        starts = moving.starts
        if len(starts) < 8:
            return stretches(fixed.standing, moving.standing, starts - y)
        row = math.floor(y / STEP + 1e-9)
        phase = y - row * STEP  # the table stands at -phase
        known, a, b = self.tables.slices, self._mark(fixed), self._mark(moving)
        table = known.get((a, _near(phase), b))
        if table is None:
            back = known.get((b, 0, a)) if _near(phase) == 0 else None
            table = slices(fixed.standing, moving.standing, STEP, -phase) if back is None else back.turned()
            known[a, _near(phase), b] = table
        rows, whole = self._grid(moving)
        low, high = table.at(rows - row)
        if whole.all():
            return low, high
        odd = stretches(fixed.standing, moving.standing, starts[~whole] - y)
        count = max(len(low), len(odd[0]))
        both = (np.full((count, len(starts)), np.inf), np.full((count, len(starts)), -np.inf))
        for out, on_grid, off_grid in zip(both, (low, high), odd, strict=True):
            out[: len(on_grid), whole] = on_grid[:, whole]
            out[: len(off_grid), ~whole] = off_grid
        return both

    def _mark(self, lie: Lie) -> int:
        found = self._marks.get(id(lie))
        if found is None:
            found = self._marks[id(lie)] = self.tables.mark(lie)
        return found

    def _grid(self, lie: Lie) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
        """Return the row of each start, and whether it lies in that row exactly."""
        found = self._rows.get(id(lie))
        if found is None:
            rows = np.rint(lie.starts / STEP).astype(np.intp)
            found = self._rows[id(lie)] = rows, np.abs(rows * STEP - lie.starts) < CLOSE
        return found

    def blocked(self, lie: Lie) -> Stretches:
        """Return where along x a lie may not start for what cannot be used, for each of its starts."""
        found = self._blocked.get(id(lie))
        if found is None:
            self._lies[id(lie)] = lie
            if lie.blocked:
                pieces = [part for polygon in lie.blocked for part in convex_parts(polygon)]
                parts = tuple(standing for part in pieces for standing in standing_parts(part))
                # No gap is kept to an edge or a flaw, so the outline is taken as it is.
                found = stretches(parts, standing_parts(lie.outline), lie.starts)
            else:
                found = np.empty((0, len(lie.starts))), np.empty((0, len(lie.starts)))
            self._blocked[id(lie)] = found
        return found

    def drop(self, lie: Lie, spots: Sequence[Spot]) -> Array:
        """Return the least x of a lie in each of its starts; infinite where there is no room."""
        low_parts: list[Array] = []
        high_parts: list[Array] = []
        blocked_low, blocked_high = self.blocked(lie)
        if len(blocked_low):
            low_parts.append(blocked_low)
            high_parts.append(blocked_high)
        for spot in spots:
            low, high = self.stretches(spot.lie, spot.y, lie)
            low_parts.append(low + spot.x)
            high_parts.append(high + spot.x)
        line = self._line(lie, spots)
        x = self._matched(np.zeros(len(lie.starts)), lie, line)
        if low_parts:
            low = np.concatenate(low_parts) + CLOSE
            high = np.concatenate(high_parts)
            while True:
                pushed = np.where((low < x) & (x < high - CLOSE), high, -1.0).max(axis=0)
                if not (pushed > x).any():
                    break
                x = self._matched(np.maximum(x, pushed), lie, line)
        return np.where(x + lie.length <= min(self.limit, ENDLESS) + CLOSE, x, np.inf)

    def _line(self, lie: Lie, spots: Sequence[Spot]) -> float | None:
        """Return the x of a line that a lie's mark lies whole repeats from, or None where it need not."""
        if lie.mark is None or not self.repeat:
            return None
        own = (s.x + s.lie.mark[1] for s in spots if s.lie.mark is not None and s.lie.mark[0] == lie.mark[0])
        return next(own, None)

    def _matched(self, x: Array, lie: Lie, line: float | None) -> Array:
        """Return the next x at or after ``x`` at which the lie's mark lies whole repeats from the line."""
        if line is None or lie.mark is None:
            return x
        first = line - lie.mark[1]
        return first + self.repeat * np.ceil((x - first) / self.repeat - 1e-9)

    def lay(
        self, turns: Sequence[Turn], begin: Sequence[Spot] = (), within: float = math.inf
    ) -> Layout | None:
        """Lay outlines in turn after those that lie already.

        Args:
            turns: The outlines, in order.
            begin: What lies already.
            within: Length beyond which the lay is of no use, as it lies, mm.

        Returns:
            The layout, or None where an outline finds no room within that length.
        """
        spots = list(begin)
        for turn in turns:
            spot = self._best(turn, spots)
            if spot is None or spot.end > within:
                return None
            spots.append(spot)
        return Layout(tuple(spots), max((spot.end for spot in spots), default=0.0))

    def _best(self, turn: Turn, spots: Sequence[Spot]) -> Spot | None:
        best, chosen = math.inf, None
        lies = turn.unit.lies
        across = 1e-4 if turn.rule % 2 == 0 else -1e-4
        for lie in lies if turn.lie < 0 else (lies[turn.lie % len(lies)],):
            x = self.drop(lie, spots)
            worth = x + across * lie.starts
            if turn.rule < 2:
                worth = worth + lie.length
            at = int(np.argmin(worth))
            if np.isfinite(worth[at]) and worth[at] < best - 1e-9:
                best, chosen = float(worth[at]), Spot(turn.unit, lie, float(x[at]), float(lie.starts[at]))
        return chosen

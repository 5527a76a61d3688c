"""Finds where overlaps of all copies vanish, on a strip of given length, by moving one copy at a time.

The sum of weighted depths is made small: a copy that overlaps goes to the spot and the turn, over the whole
strip, where the weighted depths of its overlaps are least; then the weights of pairs that still overlap grow,
so that no pair can hold out (guided local search, Voudouris and Tsang 1999; for outlines Egeblad, Nielsen and
Odgaard, "Fast neighborhood search for two- and three-dimensional nesting problems", European Journal of
Operational Research 183, 2007; weights as in Gardeyn, Vanden Berghe and Wauters, "An open-source heuristic to
reboot 2D nesting research", 2025).

All spots of a copy are judged at once: depth maps are added up, shifted to where the other copies lie. For
each attitude the sum over all copies is kept and mended for those that have moved since.
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.lay.nest.tables import Map, Tables

Array = NDArray[np.float64]

__all__ = ["Arrangement", "Guided"]

GROW = (1.2, 2.0)
"""Factors by which the weight of an overlapping pair grows: for next to none of the greatest depth, and for
all of it."""

FADE = 0.95
"""Factor by which the weight of a pair that no longer overlaps shrinks, down to 1."""

PLAIN = 1.05
"""A weight below this becomes 1: pairs of weight 1 cost no time."""

PROGRESS = 0.98
"""Overlap must fall to this share of the least so far for the search to count as getting on."""

NONE = 1e-3
"""Sums of depths below this are none; depths come in sixteenths."""


ALL_ROUND = np.ones((3, 3), np.uint8)

Stamp = tuple[int, int, int, float]
"""Attitude of a copy that lies still, its x and y, and what its depths are multiplied by."""


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Attitude and spot of every copy, in whole cells."""

    attitude: tuple[int, ...]
    x: tuple[int, ...]
    y: tuple[int, ...]


class Guided:
    """The state of one search; see the module's text.

    Attributes:
        attitude, x, y: Where each copy lies; x and y in cells.
        moves: Copies judged so far.
    """

    def __init__(self, tables: Tables, rng: np.random.Generator) -> None:
        self.tables = tables
        self.rng = rng
        count = len(tables.copies)
        self.attitude = [tables.of_part[part][0] for part in tables.copies]
        self.x = [0] * count
        self.y = [0] * count
        self.moves = 0
        self.weight: Array = np.ones((count, count))
        self._broad = np.round(tables.rows - tables.size[:, 1] / tables.cell).astype(int).tolist()
        self.stretch(0.0)

    def stretch(self, length: float) -> None:
        """Take the strip to be ``length`` cells long, and forget the sums."""
        extents = self.tables.size[:, 0] / self.tables.cell
        self.far: list[int] = np.round(length - extents).astype(int).tolist()
        self._sums: list[Map | None] = [None] * len(self.tables.attitudes)
        self._known = [0] * len(self.tables.attitudes)
        self._log: list[tuple[int, int, int, int]] = []

    def arrangement(self) -> Arrangement:
        """Return where everything lies now."""
        return Arrangement(tuple(self.attitude), tuple(self.x), tuple(self.y))

    def arrange(self, given: Arrangement, length: float) -> None:
        """Put everything where ``given`` says, drawn in to a strip ``length`` cells long."""
        self.attitude, self.x, self.y = list(given.attitude), list(given.x), list(given.y)
        self.stretch(length)
        for i in range(len(self.x)):
            self._draw_in(i)

    def swap(self, i: int, j: int) -> None:
        """Let two copies change places, as well as the strip allows."""
        self.x[i], self.x[j] = self.x[j], self.x[i]
        self.y[i], self.y[j] = self.y[j], self.y[i]
        self._draw_in(i)
        self._draw_in(j)
        self.stretch_again()

    def stretch_again(self) -> None:
        """Forget the sums after copies were moved by hand."""
        self._sums = [None] * len(self._sums)
        self._log.clear()
        self._known = [0] * len(self._known)

    def _draw_in(self, i: int) -> None:
        self.x[i] = max(0, min(self.x[i], self.far[self.attitude[i]]))
        self.y[i] = max(0, min(self.y[i], self._broad[self.attitude[i]]))

    def separate(self, patience: int, stop: Callable[[], bool]) -> float:
        """Move copies until nothing overlaps, or nothing is gained for ``patience`` rounds, or ``stop``.

        The arrangement of least overlap is left. Returns that overlap, 0.0 where there is none.
        """
        self.weight[:] = 1.0
        depth = self._depths()
        least = float(depth.sum())
        best = self.arrangement()
        stale = 0
        while True:
            total = float(depth.sum())
            if total < PROGRESS * least:
                stale = 0
            if total < least:
                least, best = total, self.arrangement()
            else:
                stale += 1
            if least < NONE or stale > patience or stop():
                self.attitude, self.x, self.y = list(best.attitude), list(best.x), list(best.y)
                self.stretch_again()
                return least
            self._round(depth)
            worst = float(depth.max())
            if worst > 0:
                grown = self.weight * (GROW[0] + (GROW[1] - GROW[0]) / worst * depth)
                self.weight = np.where(depth > 0, grown, self.weight * FADE)
                self.weight[self.weight < PLAIN] = 1.0

    def _round(self, depth: Array) -> None:
        """Move each copy that overlaps to its best spot; ``depth`` is kept up to date."""
        overlapping = np.flatnonzero(depth.any(axis=1))
        self.rng.shuffle(overlapping)
        for i in overlapping.tolist():
            now = float(depth[i] @ self.weight[i])
            if now <= 0:
                continue
            self.moves += 1
            cost, attitude, x, y = self._best_spot(i)
            if cost < now - NONE:
                self._log.append((i, self.attitude[i], self.x[i], self.y[i]))
                self.attitude[i], self.x[i], self.y[i] = attitude, x, y
                depth[i] = depth[:, i] = self._depths_of(i)

    def _best_spot(self, i: int) -> tuple[float, int, int, int]:
        """Return the least weighted depth of copy i, and the attitude and spot where it has that."""
        weights = self.weight[i]
        attitudes, xs, ys = self.attitude, self.x, self.y
        extra = [(attitudes[i], xs[i], ys[i], -1.0)]
        extra += [
            (attitudes[j], xs[j], ys[j], float(weights[j]) - 1.0)
            for j in np.flatnonzero(weights > 1.0).tolist()
        ]
        best = (np.inf, 0, 0, 0)
        for attitude in self.tables.of_part[self.tables.copies[i]]:
            kept = self._sum(attitude)
            if kept is None:
                continue
            total = kept.copy()
            self._add(total, attitude, extra)
            row = total.ravel()
            at = int(row.argmin())
            cost = float(row[at])
            if cost < NONE:
                free = np.flatnonzero(row < NONE)
                at, cost = int(free[self.rng.integers(len(free))]), 0.0
            if cost < best[0]:
                best = (cost, attitude, *divmod(at, total.shape[1]))
        return best

    def _sum(self, attitude: int) -> Map | None:
        """Return the depths of an attitude at all its spots, summed over all copies; None: it cannot fit."""
        kept = self._sums[attitude]
        attitudes, xs, ys = self.attitude, self.x, self.y
        if kept is not None:
            first: dict[int, Stamp] = {}
            for j, was, x, y in self._log[self._known[attitude] :]:
                if j not in first:
                    first[j] = (was, x, y, -1.0)
            if 2 * len(first) < len(xs):
                self._known[attitude] = len(self._log)
                if first:
                    self._add(kept, attitude, first.values())
                    self._add(kept, attitude, [(attitudes[j], xs[j], ys[j], 1.0) for j in first])
                return kept
        if self.far[attitude] < 0:
            return None
        kept = np.zeros((self.far[attitude] + 1, self._broad[attitude] + 1), np.float32)
        self._add(kept, attitude, [(a, x, y, 1.0) for a, x, y in zip(attitudes, xs, ys, strict=True)])
        self._sums[attitude] = kept
        self._known[attitude] = len(self._log)
        return kept

    def _add(self, total: Map, attitude: int, stamps: Iterable[Stamp]) -> None:
        """Add to ``total`` the depths of ``attitude``, at all its spots, against copies elsewhere."""
        views = self.tables.maps.views[attitude]
        rows, columns = total.shape
        # This is where the search spends its time: plain comparisons are quicker here than min and max.
        for lies, x, y, factor in stamps:
            depth, ahead, beside, long, wide = views[lies]
            x0 = x - ahead
            y0 = y - beside
            x1 = x0 + long
            y1 = y0 + wide
            left = top = 0
            if x0 < 0:
                left, x0 = -x0, 0
            if y0 < 0:
                top, y0 = -y0, 0
            if x1 > rows:  # noqa: PLR1730 - see above
                x1 = rows
            if y1 > columns:  # noqa: PLR1730
                y1 = columns
            if x0 < x1 and y0 < y1:
                window = total[x0:x1, y0:y1]
                part = depth[left : left + x1 - x0, top : top + y1 - y0]
                if factor == 1.0:
                    cv2.add(window, part, window)
                elif factor == -1.0:
                    cv2.subtract(window, part, window)
                else:
                    cv2.scaleAdd(part, factor, window, window)

    def _depths(self) -> Array:
        """Return the depths of all pairs, shape (copies, copies)."""
        depth = np.array([self._depths_of(i) for i in range(len(self.x))])
        return np.maximum(depth, depth.T)

    def _depths_of(self, i: int) -> Array:
        """Return the depths of copy i against all copies, shape (copies,)."""
        own = self.attitude[i]
        maps = self.tables.maps
        others = np.array(self.attitude)
        x = np.array(self.x) - self.x[i] + maps.ahead[own, others]
        y = np.array(self.y) - self.y[i] + maps.beside[own, others]
        wide = maps.wide[own, others]
        near = (x >= 0) & (y >= 0) & (x < maps.long[own, others]) & (y < wide)
        near[i] = False
        at = np.flatnonzero(near)
        depth = np.zeros(len(others))
        depth[at] = maps.depths[maps.start[own, others[at]] + x[at] * wide[at] + y[at]]
        return depth

    def drop_all(self, length: float, *, apart: bool = False) -> None:
        """Lay copies one after another, largest first, each as near to the strip's start as it goes.

        Args:
            length: Length of the strip, cells; a copy that finds no room on it is left anywhere.
            apart: Leave a cell more between copies, so that not even what is tolerated overlaps.
        """
        self.stretch(length)
        tables = self.tables
        box = tables.size.prod(axis=1)
        order = sorted(range(len(self.x)), key=lambda i: -float(box[self.attitude[i]]))
        laid: list[int] = []
        sums: dict[int, tuple[Map, int]] = {}
        ends = (tables.size[:, 0] / tables.cell).tolist()
        for i in order:
            best: tuple[float, int, int, int] | None = None
            for attitude in tables.of_part[tables.copies[i]]:
                total, known = sums.get(attitude, (None, 0))
                if total is None:
                    total = np.zeros((self.far[attitude] + 1, self._broad[attitude] + 1), np.float32)
                self._add(
                    total, attitude, [(self.attitude[j], self.x[j], self.y[j], 1.0) for j in laid[known:]]
                )
                sums[attitude] = (total, len(laid))
                # A spot that has room all round keeps the copy a cell from the others.
                taken = cv2.dilate(total, ALL_ROUND) if apart else total
                x, y = divmod(int((taken.ravel() < NONE).argmax()), total.shape[1])
                if taken[x, y] < NONE and (best is None or x + ends[attitude] < best[0]):
                    best = (x + ends[attitude], attitude, x, y)
            if best is not None:
                _, self.attitude[i], self.x[i], self.y[i] = best
            laid.append(i)
        self.stretch_again()

"""One search for ever shorter lays.

A lay is drawn a little shorter than the best, so that copies overlap; ``guided`` moves them apart and
``press`` makes the result exact and as short as it goes. Where that fails, two copies of the best lay change
places before the next try.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.lay.nest.guided import Arrangement, Guided
from likesewn.lay.nest.parts import Laid
from likesewn.lay.nest.press import pressed
from likesewn.lay.nest.tables import Tables

Array = NDArray[np.float64]

__all__ = ["Find", "Hunt"]

FIRST_STEP = 0.02
"""Share by which the strip is drawn shorter until that fails for the first time."""

STEPS = (0.003, 0.015)
"""Least and greatest share by which it is drawn shorter afterwards, picked evenly in the logarithm."""

PATIENCE = 60
"""Rounds without gain after which a try is given up. Both 25 and 120 did worse on the published sets."""

LEAST_GAIN = 1e-6
"""Gain in length, mm, below which a lay counts as no shorter: what the solver leaves."""

WORTH_JOINING = 0.003
"""Share by which another search must be ahead for this one to go on from what that has found; below it two
searches from two lays find more than two from one."""


@dataclass(frozen=True, slots=True, eq=False)
class Find:
    """A lay without overlap.

    Attributes:
        length: mm.
        attitude: Attitude of each copy, in the order of ``Tables.copies``.
        spots: Where each copy lies, shape (copies, 2), mm.
    """

    length: float
    attitude: tuple[int, ...]
    spots: Array

    def laid(self, tables: Tables) -> tuple[Laid, ...]:
        """Return the lay in the frames of the parts."""
        spots = self.spots - np.array([tables.attitudes[a].shift for a in self.attitude])
        return tuple(
            Laid(tables.attitudes[a].part, tables.attitudes[a].turn, x, y)
            for a, (x, y) in zip(self.attitude, spots.tolist(), strict=True)
        )


class Hunt:
    """A search that can be asked for its next lay; see the module's text.

    Attributes:
        best: The shortest lay that it knows.
        goal: Length that its next lay must beat, mm.
    """

    def __init__(self, tables: Tables, seed: int) -> None:
        self.tables = tables
        self._guided = Guided(tables, np.random.default_rng(seed))
        self._rng = np.random.default_rng([seed, 1])
        self._step = FIRST_STEP
        self._failed = 0
        self._tries = 0
        self.best = self._first()
        self.goal = self.best.length

    @property
    def moves(self) -> int:
        """Moves judged so far, and one for each try: a try may end before its first move."""
        return self._guided.moves + self._tries

    def join(self, find: Find) -> None:
        """Take note of what another search has found."""
        self.goal = min(self.goal, find.length)
        if find.length < self.best.length * (1.0 - WORTH_JOINING):
            self.best = find
            self._failed = 0

    def tries(self, stop: Callable[[], bool], moves: int | None = None) -> Iterator[Find | None]:
        """Yield after each try: what it found, or None; ends on ``stop`` or after so many ``moves``.

        ``stop`` may end a try early; so does running out of moves. It also ends once no lay can be shorter.
        """

        def over() -> bool:
            return stop() or (moves is not None and self.moves >= moves)

        while not over() and self.goal > self.tables.bound + LEAST_GAIN:
            self._tries += 1
            found = self._try(over)
            if found is not None and found.length < self.best.length:
                self.best = found
            if found is not None and found.length < self.goal - LEAST_GAIN:
                self.goal = found.length
                self._failed = 0
                yield found
            else:
                self._failed += 1
                low, high = STEPS
                self._step = low * (high / low) ** float(self._rng.random())
                yield None

    def _try(self, over: Callable[[], bool]) -> Find | None:
        cell = self.tables.cell
        length = self.goal * (1.0 - self._step)
        spots = self.best.spots * np.array([length / self.best.length, 1.0]) / cell
        cells = np.round(spots).astype(int)
        guided = self._guided
        x, y = tuple(cells[:, 0].tolist()), tuple(cells[:, 1].tolist())
        guided.arrange(Arrangement(self.best.attitude, x, y), length / cell)
        if self._failed:
            self._shuffle()
        guided.separate(PATIENCE, over)
        return self._pressed(self.goal)

    def _shuffle(self) -> None:
        """Let two copies of different parts change places."""
        copies = self.tables.copies
        one = int(self._rng.integers(len(copies)))
        others = [i for i, part in enumerate(copies) if part != copies[one]]
        if others:
            self._guided.swap(one, others[int(self._rng.integers(len(others)))])

    def _pressed(self, wanted: float) -> Find | None:
        guided = self._guided
        spots = np.column_stack([guided.x, guided.y]) * self.tables.cell
        answer = pressed(self.tables, guided.attitude, spots, wanted)
        return Find(answer[0], tuple(guided.attitude), answer[1]) if answer else None

    def _first(self) -> Find:
        """Return the lay to start from: dropped together and pressed, or failing that all in a line."""
        guided = self._guided
        tables = self.tables
        longest = float(tables.size[:, 0].max())
        length = (3.0 * tables.area / tables.width + longest) / tables.cell
        guided.drop_all(length)
        found = self._pressed(0.0)
        if found is None:
            guided.drop_all(length, apart=True)
            found = self._pressed(0.0)
        if found is None:
            attitude = [tables.of_part[part][0] for part in tables.copies]
            ends = np.cumsum(tables.size[attitude, 0])
            spots = np.column_stack([ends - tables.size[attitude, 0], np.zeros(len(ends))])
            found = Find(float(ends[-1]), tuple(attitude), spots)
        return found

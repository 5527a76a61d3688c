"""One search on cloth folded in one way, on one core or on several side by side."""

import math
from collections.abc import Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass, replace
from multiprocessing import get_context

from likesewn.errors import LikesewnError
from likesewn.garment import Cloth
from likesewn.lay.board import CLOSE, Board, Layout, Tables
from likesewn.lay.effort import QUICK, Effort
from likesewn.lay.folds import Folded
from likesewn.lay.opened import nested
from likesewn.lay.search import Search
from likesewn.lay.shapes import Shape
from likesewn.lay.ways import Way

__all__ = ["Found", "Job", "side_by_side"]

FEW = 4
"""Outlines up to which an open lay is left to the search by orders alone."""

NESTING = 0.7
"""Share of the time that the nesting search has on open cloth."""

MOVES = 5
"""Moves of one outline that the nesting search makes for a step: they take about as long as one of the search
by orders does."""

STARTING = 2.0
"""Seconds that another process takes to begin."""


@dataclass(frozen=True, slots=True, eq=False)
class Found:
    """A lay on cloth folded in one way; no layout where none fits, or where some pieces fit nowhere.

    Attributes:
        folded: The cloth as it lies.
        layout: The lay.
        misfits: Pieces that are too wide.
        homeless: Pieces that find no place for flaws or the cloth's edges.
        steps: Steps that the search took.
        depth: Depth of a part fold, mm, or 0.
        wanted: Length of cloth that the best lay takes, mm, though there be less of it.
    """

    folded: Folded
    layout: Layout | None
    misfits: tuple[Shape, ...] = ()
    homeless: tuple[Shape, ...] = ()
    steps: int = 0
    depth: float = 0.0
    wanted: float = math.inf

    @property
    def length(self) -> float:
        """Length of cloth that it takes, mm; infinite where nothing fits."""
        return math.inf if self.layout is None else self.layout.length * self.folded.stretch


@dataclass(frozen=True, slots=True, eq=False)
class Job:
    """What is to be laid on the cloth as it lies.

    Attributes:
        cloth: The cloth.
        folded: How it lies.
        items: What is to be cut, each in one of several ways.
        repeat: How often stripes that are matched repeat along the cloth, mm, or 0.
    """

    cloth: Cloth
    folded: Folded
    items: Sequence[Sequence[Way]]
    repeat: float

    def done(self, effort: Effort, tables: Tables | None = None) -> Found:
        """Search on one core."""
        there = math.inf if self.cloth.length_mm is None else self.cloth.length_mm / self.folded.stretch
        # A lay that is too long may still be moved together; beyond an outline there is nothing to lie on.
        limit = there if self.cloth.outline else math.inf
        search = Search(Board(self.folded, limit, tables or Tables(), self.repeat), self.items, effort.seed)
        told = effort.improved
        if told is not None:
            search.improved = lambda layout: told(layout.length * self.folded.stretch)
        nests = self.nests and not effort.quick
        own = effort
        if nests:
            by_time = effort.seconds is not None
            own = replace(
                effort,
                steps=effort.steps if by_time else min(effort.steps, QUICK),
                seconds=None if effort.seconds is None else effort.seconds * (1 - NESTING),
            )
        over = own.stopper()

        def stop() -> bool:
            return over() or (effort.enough and search.best is not None and search.best.length <= there)

        search.run(own.steps, stop)
        steps = search.steps
        if nests and not search.interrupted:
            self._nest(search, effort)
            steps = max(steps, effort.steps if effort.seconds is None else 0)
        best = search.best
        wanted = math.inf if best is None else best.length * self.folded.stretch
        fits = best if best is not None and best.length <= there + CLOSE else None
        return Found(self.folded, fits, steps=steps, wanted=wanted)

    def _nest(self, search: Search, effort: Effort) -> None:
        """Go on with the nesting search; where it is broken off, what was found before is kept."""
        units = tuple(unit for ways in self.items for unit in ways[0])
        seconds = effort.seconds
        with suppress(KeyboardInterrupt, LikesewnError):
            nested(
                units,
                self.folded.width,
                seconds=None if seconds is None else seconds * NESTING,
                moves=None if seconds is not None else (effort.steps - QUICK) * MOVES,
                seed=effort.seed,
                clock=effort.clock or (lambda: 0.0),
                improved=search.offer,
                cores=min(effort.cores, 2),
            )
        search.finish()

    @property
    def nests(self) -> bool:
        """True on open cloth with many outlines and nothing that the nesting search does not know."""
        units = [unit for ways in self.items for unit in ways[0]]
        plain = self.folded.folding == "open" and not self.repeat and not any(self.folded.blocked)
        return plain and len(units) > FEW and all(len(lie.rooms) == 1 for unit in units for lie in unit.lies)


def side_by_side(job: Job, effort: Effort) -> Found:
    """Search on several cores, each with a seed of its own, and return the best lay found."""
    others = [
        replace(
            effort,
            improved=None,
            cores=1,
            seed=effort.seed + 1 + i,
            seconds=None if effort.seconds is None else max(effort.seconds - STARTING, 0.1),
        )
        for i in range(effort.cores - 1)
    ]
    found: list[Found] = []
    with ProcessPoolExecutor(len(others), mp_context=get_context("spawn")) as pool:
        waiting: list[Future[Found]] = [pool.submit(job.done, other) for other in others]
        found.append(job.done(replace(effort, cores=1)))
        for future in waiting:
            try:
                found.append(future.result())
            except (BrokenProcessPool, KeyboardInterrupt):
                continue  # the search in this process stands by itself
    best = min(found, key=lambda one: (one.length, one.wanted))
    if best is not found[0] and effort.improved is not None and best.length < found[0].length:
        effort.improved(best.length)
    return replace(best, steps=sum(one.steps for one in found))

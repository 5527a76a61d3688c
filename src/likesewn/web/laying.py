"""Searches for lays in a process of its own, so that the page answers while the search goes on.

One process serves one request at a time. A new request ends the one before it, since that was made for a
garment that has changed by now. A search can be stopped; what was found by then is kept.
"""

import math
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from multiprocessing import get_context
from multiprocessing.connection import Connection
from multiprocessing.synchronize import Event
from typing import TYPE_CHECKING, TypeAlias

from likesewn.cut import CutList
from likesewn.errors import InputError, LikesewnError, Problem
from likesewn.garment import Cloth, Finding, Kind, Record
from likesewn.lay import Plan
from likesewn.web.words import say

if TYPE_CHECKING:
    from multiprocessing.context import SpawnProcess

__all__ = ["Compared", "Laid", "LayRoom", "Searching", "Task"]

FIRST_ROUND = 1.0
"""Seconds of the first round of a long search; each round takes twice as long as the one before, with another
seed, so that a plan can be shown early and the search still has room to go deep."""

QUIET = 120.0
"""Seconds after which a process that says nothing counts as lost: no round takes longer than a search."""


LEAP = 1e6
"""Seconds that a search believes to have gone by once it is stopped: more than any search may take."""


@dataclass(frozen=True, slots=True)
class Task:
    """What is to be laid.

    Attributes:
        record: The record, with its cloths.
        kind: Its kind, opened out as the pattern has it.
        cut_list: What to cut.
        rule_mm: The trade's rule, mm, or None.
        seconds: How long to search; 0 for a quick plan alone.
        compare: ``foldings`` to try every folding, ``cloths`` to try each of ``cloths``, or empty.
        cloths: Cloths to try, by name.
    """

    record: Record
    kind: Kind
    cut_list: CutList
    rule_mm: float | None = None
    seconds: float = 0.0
    compare: str = ""
    cloths: Mapping[str, Cloth] = field(default_factory=dict[str, Cloth])


@dataclass(frozen=True, slots=True)
class Searching:
    """The search goes on: seconds gone, of how many."""

    gone: float
    of: float


@dataclass(frozen=True, slots=True)
class Laid:
    """Plans, the best so far, and what a check from scratch says of them."""

    plans: tuple[Plan, ...]
    proofs: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Compared:
    """One folding or cloth that was tried.

    Attributes:
        name: The folding, or the cloth's name.
        fits: Whether the garment can be cut from it.
        buy_mm: Length to buy, mm.
        words: What speaks for it or against it.
    """

    name: str
    fits: bool
    buy_mm: float
    words: str


Told: TypeAlias = Searching | Laid | tuple[Compared, ...]


class LayRoom:
    """The process that lays; started when it is first needed."""

    def __init__(self) -> None:
        self._context = get_context("spawn")
        self._turn = threading.Lock()
        self._newest = self._stopped = 0
        self._counting = threading.Lock()
        self._process: SpawnProcess | None = None
        self._line: Connection | None = None
        self._stop: Event = self._context.Event()

    def lay(self, task: Task, told: Callable[[Told], None] | None = None) -> Told | None:
        """Do a task; blocks until it is done or stopped, so call it from a thread.

        Args:
            task: What is to be laid.
            told: Called in this thread with everything that is found on the way.

        Returns:
            The last thing found, or None where a newer task came first.

        Raises:
            InputError: A cloth cannot be used as it is described.
            LikesewnError: The process was lost.
        """
        with self._counting:
            self._newest += 1
            mine = self._newest
        self._stop.set()
        with self._turn:
            if mine != self._newest:
                return None
            self._started()
            with self._counting:  # one that was stopped while it waited for its turn stays stopped
                (self._stop.set if mine <= self._stopped else self._stop.clear)()
            last: Told | None = None
            for message in self._messages(task):
                last = message
                if told:
                    told(message)
            return last

    def stop(self) -> None:
        """End the search that goes on, or waits for its turn; it keeps what it has found."""
        with self._counting:
            self._stopped = self._newest
            self._stop.set()

    def close(self) -> None:
        """End the process."""
        self._stop.set()
        if self._line is not None:
            self._line.close()
        if self._process is not None:
            self._process.kill()
            self._process.join(5)
        self._process = self._line = None

    def warm(self) -> None:
        """Start the process, so that the first lay need not wait for it."""
        with self._turn:
            self._started()

    def _started(self) -> Connection:
        if self._line is not None and self._process is not None and self._process.is_alive():
            return self._line
        self.close()
        self._stop = self._context.Event()
        here, there = self._context.Pipe()
        self._process = self._context.Process(target=_work, args=(there, self._stop), daemon=True)
        self._process.start()
        there.close()
        self._line = here
        return here

    def _messages(self, task: Task) -> Iterator[Told]:
        line = self._started()
        try:
            line.send(task)
            while True:
                if not line.poll(max(QUIET, 2 * task.seconds)):
                    raise EOFError  # noqa: TRY301 - silence and a closed line end alike
                message = line.recv()
                if message is None:
                    return
                if isinstance(message, LikesewnError):
                    raise message
                yield message
        except (EOFError, OSError):
            self.close()
            raise LikesewnError(say("lay.lost")) from None


def _work(line: Connection, stop: Event) -> None:
    """Serve tasks until the line is closed."""
    with suppress(EOFError, OSError, KeyboardInterrupt):
        while True:
            task: Task = line.recv()
            try:
                for found in _done(task, stop):
                    line.send(found)
            except LikesewnError as error:
                line.send(InputError(*error.problems) if isinstance(error, InputError) else error)
            except Exception as error:  # noqa: BLE001 - whatever went wrong, the page must hear of it
                line.send(InputError(Problem(say("lay.broken", why=f"{type(error).__name__}: {error}"))))
            line.send(None)


def _done(task: Task, stop: Event) -> Iterator[Told]:
    from likesewn import job  # noqa: PLC0415 - only this process needs it
    from likesewn.lay import Effort  # noqa: PLC0415

    jumped = 0.0

    def clock() -> float:
        # Once stopped, time leaps at every look, so that searches that have yet to begin end at once too.
        nonlocal jumped
        jumped += LEAP if stop.is_set() else 0.0
        return time.monotonic() + jumped

    if task.compare:
        yield _compared(task)
        return
    best = job.lay_out(task.cut_list, task.record, task.kind, rule_mm=task.rule_mm)
    yield Laid(best, tuple(job.prove(best, task.cut_list, task.record, task.kind)))
    begun, round_s, seed = time.monotonic(), FIRST_ROUND, 1
    while task.seconds and not stop.is_set() and (left := task.seconds - (time.monotonic() - begun)) > 0.1:
        yield Searching(task.seconds - left, task.seconds)
        effort = Effort(steps=sys.maxsize, seconds=min(round_s, left), clock=clock, seed=seed)
        found = job.lay_out(task.cut_list, task.record, task.kind, rule_mm=task.rule_mm, effort=effort)
        if not any(plan.stopped for plan in found) and _length(found) < _length(best) - 1e-6:
            best = found
            yield Laid(best, tuple(job.prove(best, task.cut_list, task.record, task.kind)))
        round_s, seed = 2 * round_s, seed + 1


def _length(plans: tuple[Plan, ...]) -> float:
    return math.inf if any(plan.stopped for plan in plans) else sum(plan.length_mm for plan in plans)


def _compared(task: Task) -> tuple[Compared, ...]:
    from likesewn.job import choices_of, cloths_of  # noqa: PLC0415 - only this process needs it
    from likesewn.lay import rank_foldings, which_cloths  # noqa: PLC0415

    choices = choices_of(task.record, task.kind, task.cut_list)
    if task.compare == "cloths":
        fits = which_cloths(task.cut_list, task.cloths, choices)
        return tuple(
            Compared(fit.name, fit.fits, fit.plan.buy_mm, " ".join(f.message for f in fit.remedies))
            for fit in fits
        )
    name, cloth = next(iter(cloths_of(task.record, task.cut_list).items()))
    ranked = rank_foldings(task.cut_list, name, cloth, choices)
    return tuple(Compared(one.folding, not one.plan.stopped, one.plan.buy_mm, one.reason) for one in ranked)

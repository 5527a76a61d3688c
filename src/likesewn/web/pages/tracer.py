"""Has a photograph traced while the page goes on: the newest request counts, older ones are let go."""

import asyncio
from collections import OrderedDict
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from nicegui import background_tasks

from likesewn.errors import LikesewnError
from likesewn.web.pages.frame import words_of
from likesewn.web.photo_entry import PhotoEntry

if TYPE_CHECKING:
    from likesewn.library import Library
    from likesewn.web.studio import Studio

__all__ = ["Tracer"]

KEPT = 16
"""Answers that are kept, so that undo and redo show at once."""


@dataclass(frozen=True, slots=True)
class _Wanted:
    mark: str
    entry: PhotoEntry
    asked: Mapping[str, Any]


class Tracer:
    """Traces one photograph at a time.

    Attributes:
        mark: The mark of what was traced last; empty before.
        answer: What came of it, with the ``digest`` of the photograph that was traced; None where it was
            refused.
        problem: Why it was refused, in words.
    """

    def __init__(self, studio: "Studio", library: "Library", told: Callable[[], Awaitable[None]]) -> None:
        """Take what is needed; ``told`` is called when something came of the newest request."""
        self.mark, self.problem = "", ""
        self.answer: dict[str, Any] | None = None
        self._studio, self._library, self._told = studio, library, told
        self._wanted: _Wanted | None = None
        self._kept: OrderedDict[str, dict[str, Any]] = OrderedDict()
        self._running = False
        self._done = asyncio.Event()

    @property
    def busy(self) -> bool:
        """Whether what was wanted last is still being worked on."""
        return self._wanted is not None and self._wanted.mark != self.mark

    def forget(self) -> None:
        """Want nothing any longer."""
        self._wanted = None
        self._take("", None, "")

    def want(self, entry: PhotoEntry, asked: Mapping[str, Any]) -> None:
        """Ask for a tracing; nothing happens where it is there already, or on its way."""
        mark = entry.mark(asked)
        if self._wanted is not None and self._wanted.mark == mark:
            return
        self._wanted = _Wanted(mark, entry, asked)
        if mark in self._kept:
            self._kept.move_to_end(mark)
            self._take(mark, self._kept[mark], "")
        elif not self._running:
            self._running = True
            background_tasks.create(self._run())

    async def wanted(self) -> None:
        """Wait until what was wanted last is there."""
        while self.busy:
            await self._done.wait()

    async def write(
        self, entry: PhotoEntry, asked: Mapping[str, Any], text: str, filled: Mapping[str, str]
    ) -> dict[str, Any]:
        """Trace once more and return the answer with the garment file in it.

        Raises:
            LikesewnError: It cannot be traced.
        """
        photos = await asyncio.to_thread(self._photos, entry)
        return await self._studio.trace(photos, asked, text, filled)

    async def follow(self, digest: str, picked: list[list[float]]) -> list[list[float]]:
        """Return the path of a seam between picked points; raises LikesewnError."""
        data = await asyncio.to_thread(self._library.photo, digest)
        return await self._studio.follow(data, picked)

    async def _run(self) -> None:
        try:
            while self._wanted is not None and self._wanted.mark != self.mark:
                wanted, answer, problem = self._wanted, None, ""
                try:
                    photos = await asyncio.to_thread(self._photos, wanted.entry)
                    answer = await self._studio.trace(photos, wanted.asked)
                except LikesewnError as error:
                    problem = words_of(error)
                if answer is not None:
                    answer["digest"] = wanted.entry.pictures[answer["photo"]].digest
                    self._kept[wanted.mark] = answer
                    while len(self._kept) > KEPT:
                        self._kept.popitem(last=False)
                if self._wanted is wanted:
                    self._take(wanted.mark, answer, problem)
                    await self._told()
        finally:
            self._running = False

    def _take(self, mark: str, answer: dict[str, Any] | None, problem: str) -> None:
        self.mark, self.answer, self.problem = mark, answer, problem
        self._done.set()
        self._done = asyncio.Event()

    def _photos(self, entry: PhotoEntry) -> list[tuple[str, bytes]]:
        # one name for all: what the garment file holds of this lay is known by it, whichever is traced
        return [(entry.name, self._library.photo(picture.digest)) for picture in entry.pictures]

"""The studio: hands photographs to worker processes, and replaces those that break or take too long."""

import asyncio
import hashlib
import json
import logging
import os
import sys
from asyncio.subprocess import PIPE, Process
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, fields
from pathlib import Path
from types import TracebackType
from typing import Any, Self, cast

import likesewn
from likesewn.errors import InputError, LikesewnError, Problem
from likesewn.web.studio.messages import Message, Spoilt, receive_here, send_here
from likesewn.web.studio.names import plain_name
from likesewn.web.words import say

__all__ = ["LARGEST_PHOTOGRAPH", "BusyError", "Looked", "Studio"]

LARGEST_PHOTOGRAPH = 80_000_000
"""Bytes; the largest phone pictures in use are about 50 million."""

MOST_PHOTOGRAPHS = 6
"""Photographs of one lay that are traced together."""

STARTING_SECONDS = 60.0
"""Time that a worker may take to start: a cold disk and all the libraries."""

_LARGEST_ASKED = 4_000_000
_KEPT_FROM_OUTSIDE = ("PATH", "LD_LIBRARY_PATH", "DYLD_LIBRARY_PATH", "SYSTEMROOT", "LANG", "PYTHONHOME")
_LOG = logging.getLogger("likesewn.studio")


class BusyError(LikesewnError):
    """More photographs are waiting than the studio takes at a time."""


@dataclass(frozen=True, slots=True)
class Looked:
    """A photograph that was looked at.

    Attributes:
        name: Its name, fit to be shown.
        preview: A JPEG of it, the right way up, at most 2400 px a side, with nothing in it but the picture.
        width: Its width the right way up, px.
        height: Its height the right way up, px.
        preview_width: The preview's width, px.
        preview_height: The preview's height, px.
        digest: SHA-256 of the photograph's bytes, in hexadecimal.
    """

    name: str
    preview: bytes
    width: int
    height: int
    preview_width: int
    preview_height: int
    digest: str

    @property
    def scale(self) -> float:
        """Pixels of the photograph to one of the preview.

        Pixel centres lie at whole numbers, so that x of the photograph is (x + 0.5) times this, less 0.5.
        """
        return self.width / self.preview_width


class Studio:
    """Looks at photographs, traces them and follows seams, each in a process with limits.

    Workers are started when they are first needed, or by ``start``. Use it as an async context, or ``close``
    it.
    """

    def __init__(
        self, workers: int = 1, memory_mb: int = 2500, seconds: float = 60.0, waiting: int = 8
    ) -> None:
        """Take the limits.

        Args:
            workers: Processes that work at the same time.
            memory_mb: Memory that each may take, megabytes.
            seconds: Time that a request may take.
            waiting: Requests that may wait; more are refused.
        """
        self._workers = [_Worker(memory_mb, seconds) for _ in range(workers)]
        self._free = asyncio.Semaphore(workers)
        self._most = workers + waiting
        self._inside = 0

    async def __aenter__(self) -> Self:
        return self

    async def __aexit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        await self.close()

    async def start(self) -> None:
        """Start the workers ahead of the first photograph."""
        await asyncio.gather(*(worker.start() for worker in self._workers))

    async def close(self) -> None:
        """End the workers."""
        await asyncio.gather(*(worker.end() for worker in self._workers))

    async def look(self, data: bytes, name: str) -> Looked:
        """Open a photograph and return what a page needs to show it.

        Args:
            data: The file's content.
            name: What it is called; never used as a path.

        Raises:
            InputError: It is no picture of a known sort, damaged, too large or too small, or takes too much.
            BusyError: Too many are waiting.
        """
        photo = _Photo.of(name, data)
        answer, blocks = await self._ask("look", [photo])
        return Looked(
            photo.name,
            blocks[0],
            int(answer["width"]),
            int(answer["height"]),
            int(answer["preview_width"]),
            int(answer["preview_height"]),
            photo.digest,
        )

    async def unpack(self, data: bytes, name: str) -> bytes:
        """Return a photograph as JPEG, the right way up, for sorts that few programs show, such as HEIC.

        Args:
            data: The file's content.
            name: What it is called; never used as a path.

        Raises:
            InputError: As for ``look``.
            BusyError: Too many are waiting.
        """
        _, blocks = await self._ask("unpack", [_Photo.of(name, data)])
        return blocks[0]

    async def trace(
        self,
        photos: Sequence[tuple[str, bytes]],
        asked: Mapping[str, Any],
        text: str | None = None,
        filled: Mapping[str, str] | None = None,
    ) -> dict[str, Any]:
        """Trace the garment in photographs of one lay.

        Args:
            photos: Name and content of each.
            asked: Kind, face, hints, seams and edges put by hand, scale: see
                ``docs/workbench-photographs.md``.
            text: The garment file to write the tracing into, or None to write none. What the same
                photograph brought to it before is replaced.
            filled: Tape measures that this photograph filled in before, as the last answer gave them.

        Returns:
            Plain data, described there too.

        Raises:
            InputError: A picture cannot be opened, or what is asked for does not fit it.
            BusyError: Too many are waiting.
        """
        if not 1 <= len(photos) <= MOST_PHOTOGRAPHS:
            allowed = f"1 to {MOST_PHOTOGRAPHS}"
            raise InputError(Problem(say("studio.number"), found=str(len(photos)), allowed=allowed))
        more = {"asked": dict(asked), "text": text, "filled": dict(filled or {})}
        if len(json.dumps(more)) > _LARGEST_ASKED:
            raise InputError(
                Problem(say("studio.too_long"), allowed=say("studio.letters", most=f"{_LARGEST_ASKED:,}"))
            )
        answer, _ = await self._ask("trace", [_Photo.of(name, data) for name, data in photos], more)
        return answer

    async def follow(self, data: bytes, picked: Sequence[Sequence[float]]) -> list[list[float]]:
        """Return the path of a seam between picked points, px.

        Args:
            data: The photograph.
            picked: Two points or more, in order, px.

        Raises:
            InputError: The picture cannot be opened, or these are no points in it.
            BusyError: Too many are waiting.
        """
        points = [list(point) for point in picked]
        answer, _ = await self._ask("follow", [_Photo.of("", data)], {"picked": points})
        return answer["path"]

    async def _ask(
        self, what: str, photos: "Sequence[_Photo]", more: Message | None = None
    ) -> tuple[Message, list[bytes]]:
        if self._inside >= self._most:
            raise BusyError(say("studio.busy"))
        self._inside += 1
        try:
            async with self._free:
                free = [worker for worker in self._workers if not worker.busy]
                # one that has the pictures open already answers sooner
                best = max(free, key=lambda worker: sum(photo.digest in worker.kept for photo in photos))
                return await best.ask({"do": what, **(more or {})}, photos)
        finally:
            self._inside -= 1


@dataclass(frozen=True, slots=True)
class _Photo:
    name: str
    digest: str
    data: bytes

    @classmethod
    def of(cls, name: str, data: bytes) -> "_Photo":
        name = plain_name(name)
        if len(data) > LARGEST_PHOTOGRAPH:
            raise InputError(
                Problem(
                    say("studio.too_large"),
                    found=f"{len(data) / 1e6:.0f} MB",
                    file=name,
                    allowed=say("studio.megabytes", most=LARGEST_PHOTOGRAPH // 1_000_000),
                    todo=say("studio.smaller"),
                )
            )
        return cls(name, hashlib.sha256(data).hexdigest(), data)


class _Worker:
    """One worker process, started anew whenever there is none.

    Attributes:
        busy: Whether it is at work.
        kept: Digests of the photographs that it has open.
    """

    def __init__(self, memory_mb: int, seconds: float) -> None:
        self.busy = False
        self.kept: frozenset[str] = frozenset()
        self._memory_mb = memory_mb
        self._seconds = seconds
        self._process: Process | None = None

    async def ask(self, message: Message, photos: Sequence[_Photo]) -> tuple[Message, list[bytes]]:
        """Return the worker's answer.

        Raises:
            InputError: It refused, broke, or took too long.
        """
        self.busy = True
        done = False
        try:
            answer, blocks = await self._exchange(message, photos)
            done = "failed" not in answer
        except TimeoutError:
            raise InputError(
                self._too_much(photos, say("studio.more_seconds", n=f"{self._seconds:g}"))
            ) from None
        except (Spoilt, asyncio.IncompleteReadError, ConnectionError):
            _LOG.warning("a worker ended while it had a photograph open")
            raise InputError(self._broken(photos)) from None
        finally:
            if not done:  # it may still be at work, also when the caller has gone away
                await self.end()
            self.busy = False
        if "failed" in answer:
            if answer["failed"] == "memory":
                raise InputError(self._too_much(photos, say("studio.more_memory", most=self._memory_mb)))
            _LOG.error("a photograph could not be worked on: %s", answer["failed"])
            raise InputError(self._broken(photos))
        self.kept = frozenset(str(digest) for digest in answer.pop("kept", ()))
        if "error" not in answer:
            return answer, blocks
        try:
            problems = _problems(answer)
        except (AttributeError, KeyError, TypeError, ValueError):
            problems = [self._broken(photos)]
        raise InputError(*problems)

    async def _exchange(self, message: Message, photos: Sequence[_Photo]) -> tuple[Message, list[bytes]]:
        process = await self.start()
        if process.stdin is None or process.stdout is None:
            raise Spoilt
        new: dict[str, _Photo] = {}
        told: list[Message] = []
        for photo in photos:
            sent = photo.digest not in self.kept and photo.digest not in new
            if sent:
                new[photo.digest] = photo
            told.append({"name": photo.name, "digest": photo.digest, "sent": sent})
        async with asyncio.timeout(self._seconds):
            await send_here(process.stdin, {**message, "photos": told}, [p.data for p in new.values()])
            return await receive_here(process.stdout)

    async def start(self) -> Process:
        """Return the process, ready to be asked.

        Raises:
            InputError: It does not start.
        """
        if self._process is not None and self._process.returncode is None:
            return self._process
        await self.end()
        folder = str(Path(likesewn.__file__).parents[1])
        outside = {name: os.environ[name] for name in _KEPT_FROM_OUTSIDE if name in os.environ}
        inside = {
            "PYTHONPATH": os.pathsep.join(filter(None, [folder, os.environ.get("PYTHONPATH", "")])),
            "OMP_NUM_THREADS": "2",
            "OPENBLAS_NUM_THREADS": "2",
            "MALLOC_ARENA_MAX": "2",  # each arena takes 64 MB of the addresses that are limited
        }
        limits = (str(self._memory_mb), str(self._seconds))
        self._process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-BP",
            "-m",
            "likesewn.web.studio.worker",
            *limits,
            stdin=PIPE,
            stdout=PIPE,
            stderr=asyncio.subprocess.DEVNULL,
            env={**outside, **inside},
        )
        try:
            async with asyncio.timeout(STARTING_SECONDS):
                await receive_here(cast("asyncio.StreamReader", self._process.stdout))
        except BaseException as error:
            await self.end()
            if isinstance(error, TimeoutError | Spoilt | asyncio.IncompleteReadError):
                raise InputError(Problem(say("studio.does_not_start"), todo=say("guard.again"))) from None
            raise
        return self._process

    async def end(self) -> None:
        """End the process, at once."""
        process, self._process, self.kept = self._process, None, frozenset()
        if process is None:
            return
        with suppress(ProcessLookupError):
            process.kill()
        if process.stdin is not None:
            process.stdin.close()
        await asyncio.shield(process.wait())
        if process.stdout is not None:
            await process.stdout.read()  # to the end, so that the pipe is closed

    def _too_much(self, photos: Sequence[_Photo], found: str) -> Problem:
        return Problem(
            say("studio.too_much"),
            found=found,
            file=photos[0].name,
            allowed=say("studio.limits", seconds=f"{self._seconds:g}", memory=self._memory_mb),
            todo=say("studio.smaller"),
        )

    @staticmethod
    def _broken(photos: Sequence[_Photo]) -> Problem:
        return Problem(
            say("studio.broken"),
            file=photos[0].name,
            todo=say("studio.take_again"),
        )


def _problems(answer: Message) -> list[Problem]:
    """Return the problems in a worker's answer: words and a whole number, whatever else it says."""
    out: list[Problem] = []
    for one in answer["error"]["problems"]:
        words = {
            field.name: str(one.get(field.name, "")) for field in fields(Problem) if field.name != "line"
        }
        out.append(Problem(**words, line=int(one.get("line", 0))))
    return out

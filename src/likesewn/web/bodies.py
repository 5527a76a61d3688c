"""How much a request may bring, and how long it may take over it, by the address it goes to."""

import asyncio
import re
import time
from collections.abc import Awaitable, Callable, MutableMapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from likesewn.errors import Problem
from likesewn.web.refusal import Refusal
from likesewn.web.words import say

__all__ = ["ROOMS", "Measured", "Room", "room_for"]

DRAIN_SECONDS, DRAIN_PAUSE = 20.0, 1.0
"""How long what follows on a refusal is read and forgotten, and how long a pause in it may be."""

Receive = Callable[[], Awaitable[MutableMapping[str, Any]]]


@dataclass(frozen=True, slots=True)
class Room:
    """What the body of a request to some addresses may be.

    Attributes:
        path: Regular expression that the whole path matches.
        most_bytes: Bytes beyond which it is refused.
        seconds: Time that the server waits for it in all.
    """

    path: str
    most_bytes: int
    seconds: float


ROOMS: tuple[Room, ...] = (
    Room(r"/api/.*\b(?:import|restore)\b.*", 1_000_000_000, 300.0),
    Room(r"/api/.*\bphotos?\b.*", 90_000_000, 120.0),
    Room(r"/_nicegui/client/[^/]+/upload/[^/]+", 90_000_000, 120.0),
    Room(r"/api/.*", 5_000_000, 30.0),
    Room(r"/.*", 2_000_000, 30.0),
)
"""The first that fits holds: exported garments and backups, photographs (a little more than the studio takes,
for what stands round one in a form), garment files, and all else."""


def room_for(path: str, rooms: Sequence[Room]) -> Room:
    """Return the room that a path has; none at all where nothing fits."""
    return next((room for room in rooms if re.fullmatch(room.path, path)), Room(r".*", 0, 30.0))


class Measured:
    """The body of a request, counted as it comes in.

    Attributes:
        refusal: Why it was cut off, once it was.
    """

    def __init__(self, receive: Receive, room: Room) -> None:
        self.refusal: Refusal | None = None
        self._receive = receive
        self._room = room
        self._bytes = 0
        self._waited = 0.0
        self._ended = False

    def told(self, length: bytes | None) -> Refusal | None:
        """Return why a body of this announced length is refused, or nothing."""
        if length is None:
            return None
        if not re.fullmatch(rb"[0-9]{1,18}", length):
            return Refusal(400, Problem(say("guard.no_length"), found=repr(length[:40])[1:]))
        return self._too_large() if int(length) > self._room.most_bytes else None

    async def receive(self) -> MutableMapping[str, Any]:
        """Return the next message; a disconnect once the request is refused."""
        if self.refusal is not None:
            return {"type": "http.disconnect"}
        if self._ended:
            return await self._receive()
        begun = time.monotonic()
        try:
            message = await asyncio.wait_for(self._receive(), max(0.0, self._room.seconds - self._waited))
        except TimeoutError:
            self.refusal = Refusal(
                408,
                Problem(
                    say("guard.too_slow"),
                    allowed=say("guard.seconds", n=f"{self._room.seconds:g}"),
                    todo=say("guard.again"),
                ),
            )
            return {"type": "http.disconnect"}
        self._waited += time.monotonic() - begun
        self._noted(message)
        self._bytes += len(message.get("body", b""))
        if self._bytes > self._room.most_bytes:
            self.refusal = self._too_large()
            return {"type": "http.disconnect"}
        return message

    async def drain(self) -> None:
        """Read the rest of a refused body and forget it, for a while.

        A browser shows the answer only once it has sent all; closing on it at once would show it nothing.
        """
        end = time.monotonic() + DRAIN_SECONDS
        with suppress(TimeoutError):
            while not self._ended and time.monotonic() < end:
                self._noted(await asyncio.wait_for(self._receive(), DRAIN_PAUSE))

    def _noted(self, message: MutableMapping[str, Any]) -> None:
        self._ended = message["type"] != "http.request" or not message.get("more_body", False)

    def _too_large(self) -> Refusal:
        most = self._room.most_bytes
        allowed = f"at most {most / 1e6:g} MB" if most else "nothing"
        return Refusal(413, Problem(say("guard.too_large"), allowed=allowed))

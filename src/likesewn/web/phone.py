"""The door for the phone: a listener of its own, open for minutes, that takes photographs of one garment.

The workbench itself never leaves the machine. Who wants to photograph with a phone opens this door: a
separate server on the home network, on a port of its own, whose only address has a secret in it that is new
each time. It shows one page and takes one photograph at a time, for one garment; whatever else is asked of it
is not found. It has no session, no scripts and no way to the workbench's other parts.
"""

import asyncio
import hmac
import secrets
import socket
from collections import OrderedDict, deque
from collections.abc import Awaitable, Callable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from datetime import datetime, timedelta

import uvicorn
from starlette.datastructures import UploadFile
from starlette.formparsers import MultiPartException
from starlette.requests import ClientDisconnect, Request
from starlette.types import Message, Receive, Scope, Send

from likesewn.errors import LikesewnError
from likesewn.web.bodies import Measured, Room
from likesewn.web.home_network import home_addresses
from likesewn.web.phone_page import PhonePage, page_headers
from likesewn.web.studio.names import plain_name
from likesewn.web.words import say

__all__ = ["Address", "PhoneDoor"]

Received = Callable[[str, bytes, str], Awaitable[str]]

LARGEST = 82_000_000
"""Bytes of a request: a photograph as the studio takes it, and the form round it."""

SENDING_SECONDS = 180.0
"""Time that a phone may take to send one, over a weak home network."""

MOST_PHOTOGRAPHS = 20
"""Photographs that one opening takes."""

MOST_A_MINUTE_EACH, MOST_A_MINUTE = 30, 60
"""Requests a minute from one device, and to the page from all of them."""

_DEVICES = 256  # whose requests are counted; the ones not heard of for longest are forgotten


@dataclass(frozen=True, slots=True)
class Address:
    """Where a phone finds the door.

    Attributes:
        url: The whole address, with the secret in it.
        expires: When the door closes by itself.
    """

    url: str
    expires: datetime


class PhoneDoor:
    """Opens and closes the door; at most one is open."""

    def __init__(
        self,
        received: Received,
        clock: Callable[[], datetime],
        addresses: Callable[[], Sequence[str]] = home_addresses,
    ) -> None:
        """Take what the door needs; nothing is opened yet.

        Args:
            received: Called with the garment, a photograph's bytes and its name, which is fit to be shown;
                returns words for the person at the phone, or raises a ``LikesewnError`` that says why not.
            clock: Tells the time, with its zone.
            addresses: The machine's addresses on the home network, the likeliest first.
        """
        self._received = received
        self._clock = clock
        self._addresses = addresses
        self._open: _Open | None = None

    @property
    def is_open(self) -> bool:
        """Whether the door is open."""
        return self._open is not None

    async def open(
        self,
        garment: str,
        minutes: float = 10.0,
        *,
        title: str = "",
        ended: Callable[[], object] = lambda: None,
    ) -> Address:
        """Open the door for one garment; one that is open already is closed.

        Args:
            garment: What ``received`` is told; nothing of it is shown.
            minutes: How long it stays open.
            title: The garment's name, to be shown on the phone.
            ended: Called when this opening ends: its time is over, it is closed, or another takes its place.

        Raises:
            LikesewnError: The machine is on no home network, or does not let anything listen there.
        """
        await self.close()
        listening = self._listen()
        host, port = listening.getsockname()[:2]
        expires = self._clock() + timedelta(minutes=minutes)
        app = _App(garment, title, f"{host}:{port}", expires, self._received, self._clock)
        server = _Server(
            uvicorn.Config(
                app,
                lifespan="off",
                ws="none",
                log_config=None,
                access_log=False,  # the address is a secret
                server_header=False,
                proxy_headers=False,
                limit_concurrency=32,
                timeout_keep_alive=5,
                timeout_graceful_shutdown=2,
            )
        )
        task = asyncio.create_task(server.serve([listening]))
        begun = asyncio.create_task(server.begun.wait())
        await asyncio.wait({task, begun}, return_when=asyncio.FIRST_COMPLETED)
        begun.cancel()
        timer = asyncio.get_running_loop().call_later(minutes * 60.0, server.stop)
        address = Address(f"http://{host}:{port}/{app.secret}", expires)
        self._open = opened = _Open(address, server, task, timer, listening, ended)
        task.add_done_callback(lambda _: self._closed(opened))
        return address

    async def close(self, address: Address | None = None) -> None:
        """Close the door, if it is open; where an address is given, only if it is open there."""
        opened = self._open
        if opened is None or (address is not None and address != opened.address):
            return
        self._open = None
        opened.timer.cancel()
        opened.server.stop()
        await asyncio.wait([opened.task])
        opened.listening.close()

    def _closed(self, opened: "_Open") -> None:
        opened.timer.cancel()
        opened.listening.close()
        if self._open is opened:
            self._open = None
        opened.ended()

    def _listen(self) -> socket.socket:
        for address in self._addresses():
            listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
            try:
                listening.bind((address, 0))
            except OSError:
                listening.close()
            else:
                return listening
        raise LikesewnError(say("photos.phone_no_network"))


@dataclass(frozen=True, slots=True)
class _Open:
    address: Address
    server: "_Server"
    task: "asyncio.Task[None]"
    timer: asyncio.TimerHandle
    listening: socket.socket
    ended: Callable[[], object]


class _Server(uvicorn.Server):
    """A server beside the workbench's own, which alone answers to signals.

    Attributes:
        begun: Set once it listens.
    """

    def __init__(self, config: uvicorn.Config) -> None:
        super().__init__(config)
        self.begun = asyncio.Event()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self.begun.set()

    @contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield

    def stop(self) -> None:
        self.should_exit = True


class _Counted:
    """Counts requests of the last minute."""

    def __init__(self, clock: Callable[[], datetime]) -> None:
        self._clock = clock
        self._page: deque[datetime] = deque()
        self._devices: OrderedDict[str, deque[datetime]] = OrderedDict()

    def too_many(self, device: str, *, page: bool) -> bool:
        now = self._clock()
        own = self._devices.pop(device, None)
        self._devices[device] = own = deque[datetime]() if own is None else own
        while len(self._devices) > _DEVICES:
            self._devices.popitem(last=False)
        full = self._full(own, now, MOST_A_MINUTE_EACH)
        # what is asked of other addresses does not use up what the page may be asked
        return (page and not full and self._full(self._page, now, MOST_A_MINUTE)) or full

    @staticmethod
    def _full(times: deque[datetime], now: datetime, most: int) -> bool:
        while times and now - times[0] >= timedelta(minutes=1):
            times.popleft()
        if len(times) >= most:
            return True
        times.append(now)
        return False


class _App:
    """The ASGI app behind the door.

    Attributes:
        secret: The last part of its only address.
    """

    def __init__(
        self,
        garment: str,
        title: str,
        host: str,
        expires: datetime,
        received: Received,
        clock: Callable[[], datetime],
    ) -> None:
        self.secret = secrets.token_urlsafe(32)
        self._garment = garment
        self._page = PhonePage(title, self.secret)
        self._host = host.encode()
        self._path = b"/" + self.secret.encode()
        self._expires = expires
        self._received = received
        self._clock = clock
        self._counted = _Counted(clock)
        self._taken = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            return
        path = scope.get("raw_path") or scope["path"].encode()
        known = hmac.compare_digest(path, self._path)
        ours = (
            known
            and scope["method"] in {"GET", "HEAD", "POST"}
            and self._from_own_page(scope)
            and self._clock() < self._expires
        )
        busy = self._counted.too_many((scope.get("client") or ("",))[0], page=ours)
        if known and (busy or not ours):
            await Measured(receive, Room(".*", LARGEST, SENDING_SECONDS)).drain()
        if not ours:
            await _answer(send, 404, b"Not found", b"text/plain")
        elif busy:
            await _answer(send, 429, *self._page.refused("busy"))
        elif scope["method"] == "POST":
            await self._take(scope, receive, send)
        else:
            await _answer(send, 200, *self._page.form())

    def _from_own_page(self, scope: Scope) -> bool:
        hosts = [value for name, value in scope["headers"] if name == b"host"]
        origins = [value for name, value in scope["headers"] if name == b"origin"]
        return hosts == [self._host] and origins in ([], [b"http://" + self._host])

    async def _take(self, scope: Scope, receive: Receive, send: Send) -> None:
        body = Measured(receive, Room(".*", LARGEST, SENDING_SECONDS))
        length = next((value for name, value in scope["headers"] if name == b"content-length"), None)
        refusal = body.told(length)
        if refusal is None and self._taken >= MOST_PHOTOGRAPHS:
            await body.drain()
            await _answer(send, 429, *self._page.refused("enough"))
            return
        if refusal is None:
            data, name = await _photograph(scope, body)
            refusal = body.refusal
            if refusal is None:
                await self._hand_over(data, name, send)
                return
        await body.drain()
        await _answer(send, refusal.status, *self._page.refused(str(refusal.error)))

    async def _hand_over(self, data: bytes, name: str, send: Send) -> None:
        if not data:
            await _answer(send, 422, *self._page.refused("nothing"))
            return
        self._taken += 1
        try:
            words = await self._received(self._garment, data, plain_name(name))
        except LikesewnError as error:
            self._taken -= 1
            await _answer(send, 422, *self._page.refused(str(error)))
        else:
            await _answer(send, 200, *self._page.form(words))


async def _photograph(scope: Scope, body: Measured) -> tuple[bytes, str]:
    """Return the photograph in a form, and its name; nothing where there is none."""
    request = Request(scope, body.receive)
    with suppress(MultiPartException, ClientDisconnect):  # what is no form holds no photograph
        async with request.form(max_files=1, max_fields=1) as form:
            file = form.get("photo")
            if isinstance(file, UploadFile):
                return await file.read(), file.filename or ""
    return b"", ""


async def _answer(send: Send, status: int, body: bytes, kind: bytes) -> None:
    start: Message = {"type": "http.response.start", "status": status, "headers": page_headers(body, kind)}
    await send(start)
    await send({"type": "http.response.body", "body": body})

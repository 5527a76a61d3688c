"""The guard round the whole workbench: who may speak to it, and what every answer carries.

It stands outside the framework, so that nothing is answered round it: not the framework's own files, nor its
socket, which by itself takes any origin. A page elsewhere on the web can send requests to a server on one's
own machine; what it cannot do is choose their ``Host``, ``Origin`` and ``Sec-Fetch-Site``, or know the token.

- ``Host`` must be an own address; a foreign name that was made to point at this machine (DNS rebinding) is
  none.
- ``Origin`` must be the very address that the request goes to, where there is one; a socket must have one.
- ``Sec-Fetch-Site`` (Fetch Metadata, W3C) must not tell of another page, save for opening the start address
  in a tab of its own.
- The token, made at each start, opens a session: ``/?key=TOKEN`` sets a cookie. Programs send it as
  ``Authorization: Bearer TOKEN``. A change that comes with the cookie must also show that it comes from an
  own page, since pages on other ports of one's machine share cookies with this one.
"""

import hmac
import secrets
from collections.abc import Awaitable, Callable, Iterable, MutableMapping, Sequence
from typing import Any
from urllib.parse import parse_qsl, quote, urlencode

from likesewn.errors import Problem
from likesewn.web.bodies import ROOMS, Measured, Room, room_for
from likesewn.web.headers import NOTHING_POLICY, page_policy, secured, with_nonces
from likesewn.web.refusal import Refusal, refuse, wants_json
from likesewn.web.words import say

__all__ = ["Guard", "own_hosts"]

Scope = MutableMapping[str, Any]
Message = MutableMapping[str, Any]
Receive = Callable[[], Awaitable[Message]]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Scope, Receive, Send], Awaitable[None]]

_SAFE = frozenset({"GET", "HEAD", "OPTIONS"})
_DROPPED = (b"accept-encoding", b"forwarded", b"x-forwarded-")
"""Headers kept from the app: nothing is packed on the way to one's own machine (a page is read again here to
mark its scripts), and no proxy stands before it whose word on addresses could be believed."""


def own_hosts(port: int) -> tuple[str, ...]:
    """Return the values of ``Host`` by which a server on this port of one's own machine is spoken to."""
    names = ("127.0.0.1", "localhost", "[::1]")
    return tuple(f"{name}:{port}" for name in names) + (names if port == 80 else ())


class Guard:
    """ASGI middleware that lets through only what comes from the workbench's own pages and programs.

    Attributes:
        app: The app that it stands round.
    """

    def __init__(self, app: App, *, hosts: Iterable[str], token: str, rooms: Sequence[Room] = ROOMS) -> None:
        """Take the app to guard.

        Args:
            app: Any ASGI app.
            hosts: The allowed values of ``Host``, as ``own_hosts`` gives them.
            token: The word that opens the workbench, new for each start; at least 32 characters.
            rooms: What a request's body may be, by its path; the first that fits holds.

        Raises:
            ValueError: The token is too short to be safe.
        """
        if len(token) < 32:
            raise ValueError("a token takes at least 32 characters")
        self.app = app
        self._hosts = frozenset(host.lower().encode() for host in hosts)
        self._token = token.encode()
        self._session = secrets.token_urlsafe(32).encode()
        self._rooms = tuple(rooms)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one connection, or hand it on."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        elif scope["type"] == "websocket":
            await self._socket(scope, receive, send)
        elif scope["type"] == "http":
            await self._request(scope, receive, send)

    async def _socket(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = _headers(scope)
        refusal = (
            self._foreign_host(scope)
            or self._foreign_origin(headers, needed=True)
            or self._foreign_page(headers)
            or (None if self._has_cookie(headers) or self._has_token(headers) else _locked())
        )
        if refusal is None:
            await self.app(_handed_on(scope), receive, send)
        else:
            # closing before it is accepted answers the handshake with 403
            await send({"type": "websocket.close", "code": 1008, "reason": refusal.problem.message})

    async def _request(self, scope: Scope, receive: Receive, send: Send) -> None:
        headers = _headers(scope)
        as_json = wants_json(scope["path"], headers)
        refusal = self._foreign_host(scope) or self._foreign_origin(headers, needed=False)
        if refusal is None and not _opens_the_start(scope, headers):
            refusal = self._foreign_page(headers)
        if refusal is None and (key := _key(scope)) is not None and scope["method"] in _SAFE:
            if hmac.compare_digest(key, self._token):
                await self._let_in(scope, headers, send)
                return
            refusal = _locked(say("guard.wrong_key"))
        refusal = refusal or self._not_allowed(scope, headers)
        body = Measured(receive, room_for(scope["path"], self._rooms))
        if refusal is None and (refusal := body.told(headers.get(b"content-length"))) is not None:
            await body.drain()
        if refusal is not None:
            await refuse(send, refusal, as_json=as_json)
            return
        await self._hand_on(scope, body, send, as_json=as_json)

    async def _hand_on(self, scope: Scope, body: Measured, send: Send, *, as_json: bool) -> None:
        answer = _Answer(send, keep=not as_json and scope["method"] in _SAFE)

        async def sent(message: Message) -> None:
            if body.refusal is None or answer.started:
                await answer.send(message)

        try:
            await self.app(_handed_on(scope), body.receive, sent)
        except Exception:
            if body.refusal is None:
                raise
        if body.refusal is not None and not answer.started:
            await body.drain()
            await refuse(send, body.refusal, as_json=as_json)

    def _foreign_host(self, scope: Scope) -> Refusal | None:
        found = [value for name, value in scope["headers"] if name == b"host"]
        if len(found) == 1 and found[0].lower() in self._hosts:
            return None
        return Refusal(
            421,
            Problem(
                say("guard.no_address"),
                found=b", ".join(found).decode("latin-1")[:100],
                allowed=", ".join(sorted(host.decode() for host in self._hosts)),
                todo=say("guard.open"),
            ),
        )

    def _foreign_origin(self, headers: dict[bytes, bytes], *, needed: bool) -> Refusal | None:
        origin = headers.get(b"origin")
        if origin is None and not needed:
            return None
        # an own page speaks to the very address that it came from
        if origin is not None and origin.lower() == b"http://" + headers[b"host"].lower():
            return None
        found = "" if origin is None else origin.decode("latin-1")[:100]
        return _elsewhere(found)

    def _foreign_page(self, headers: dict[bytes, bytes]) -> Refusal | None:
        site = headers.get(b"sec-fetch-site", b"none")
        return None if site in {b"none", b"same-origin"} else _elsewhere(site.decode("latin-1")[:40])

    def _not_allowed(self, scope: Scope, headers: dict[bytes, bytes]) -> Refusal | None:
        if self._has_token(headers):
            return None
        if not self._has_cookie(headers):
            return _locked()
        shown = b"origin" in headers or headers.get(b"sec-fetch-site") == b"same-origin"
        if scope["method"] in _SAFE or shown:
            return None
        return Refusal(
            403,
            Problem(
                say("guard.no_own_page"),
                todo=say("guard.program_changes"),
            ),
        )

    def _has_token(self, headers: dict[bytes, bytes]) -> bool:
        scheme, _, word = headers.get(b"authorization", b"").partition(b" ")
        return scheme.lower() == b"bearer" and hmac.compare_digest(word.strip(), self._token)

    def _has_cookie(self, headers: dict[bytes, bytes]) -> bool:
        name = _cookie_name(headers)
        pairs = (part.strip().partition(b"=") for part in headers.get(b"cookie", b"").split(b";"))
        return any(hmac.compare_digest(value, self._session) for known, _, value in pairs if known == name)

    async def _let_in(self, scope: Scope, headers: dict[bytes, bytes], send: Send) -> None:
        rest = [pair for pair in _query(scope) if pair[0] != "key"]
        # one slash at the front: a path that begins with two would name another server
        place = "/" + quote(scope["path"].lstrip("/\\")) + (f"?{urlencode(rest)}" if rest else "")
        cookie = _cookie_name(headers) + b"=" + self._session + b"; Path=/; HttpOnly; SameSite=Strict"
        told = [(b"location", place.encode()), (b"set-cookie", cookie), (b"content-length", b"0")]
        told = secured(told, NOTHING_POLICY, keep=False)
        await send({"type": "http.response.start", "status": 303, "headers": told})
        await send({"type": "http.response.body", "body": b""})


class _Answer:
    """An answer on its way out: headers are added, and the scripts of a page are marked as its own."""

    def __init__(self, send: Send, *, keep: bool) -> None:
        self.started = False
        self._send = send
        self._keep = keep
        self._page: Message | None = None
        self._parts: list[bytes] = []

    async def send(self, message: Message) -> None:
        kind = message["type"]
        if kind == "http.response.start":
            self.started = True
            if any(name.lower() == b"x-nicegui-content" for name, _ in message["headers"]):
                self._page = message  # sent with its body, whose length changes
                return
            headers = secured(message["headers"], NOTHING_POLICY, keep=self._keep and message["status"] < 400)
            await self._send({**message, "headers": headers})
        elif kind == "http.response.body" and self._page is not None:
            self._parts.append(message.get("body", b""))
            if not message.get("more_body", False):
                await self._send_page(self._page)
        else:
            await self._send(message)

    async def _send_page(self, start: Message) -> None:
        nonce = secrets.token_urlsafe(18)
        page = with_nonces(b"".join(self._parts), nonce)
        headers = [(n, v) for n, v in start["headers"] if n.lower() != b"content-length"]
        headers.append((b"content-length", str(len(page)).encode()))
        headers = secured(headers, page_policy(nonce), keep=False)
        await self._send({**start, "headers": headers})
        await self._send({"type": "http.response.body", "body": page})


def _headers(scope: Scope) -> dict[bytes, bytes]:
    """Return the headers by name; where one stands twice, joined so that neither passes for both."""
    found: dict[bytes, bytes] = {}
    for name, value in scope["headers"]:
        joint = b"; " if name == b"cookie" else b", "
        found[name] = found[name] + joint + value if name in found else value
    return found


def _handed_on(scope: Scope) -> Scope:
    kept = [(name, value) for name, value in scope["headers"] if not name.startswith(_DROPPED)]
    return {**scope, "headers": kept}


def _cookie_name(headers: dict[bytes, bytes]) -> bytes:
    """Return the name of the session's cookie: cookies know no ports, so that two servers need two names."""
    _, _, port = headers[b"host"].rpartition(b":")
    return b"likesewn-" + (port if port.isdigit() else b"80")


def _query(scope: Scope) -> list[tuple[str, str]]:
    return parse_qsl(scope.get("query_string", b"").decode("latin-1"), keep_blank_values=True)


def _key(scope: Scope) -> bytes | None:
    return next((value.encode() for name, value in _query(scope) if name == "key"), None)


def _opens_the_start(scope: Scope, headers: dict[bytes, bytes]) -> bool:
    """Return whether a link elsewhere was followed to the start address, in a tab of its own."""
    return (
        scope["method"] == "GET"
        and scope["path"] == "/"
        and headers.get(b"sec-fetch-mode") == b"navigate"
        and headers.get(b"sec-fetch-dest") == b"document"
    )


def _elsewhere(found: str) -> Refusal:
    return Refusal(403, Problem(say("guard.elsewhere"), found=found, todo=say("guard.open")))


def _locked(message: str = "") -> Refusal:
    todo = f"{say('guard.open')} {say('guard.program_opens')}"
    return Refusal(401, Problem(message or say("guard.locked"), todo=todo))

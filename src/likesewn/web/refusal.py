"""How a request is refused: in one shape of JSON for programs, as a page in plain words for people."""

import json
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any

from likesewn.errors import InputError, LikesewnError, Problem, error_data
from likesewn.web.headers import NOTHING_POLICY, secured
from likesewn.web.words import LANGUAGE, say

if TYPE_CHECKING:
    from collections.abc import Awaitable, Callable, MutableMapping

    Send = Callable[[MutableMapping[str, Any]], Awaitable[None]]

__all__ = ["Refusal", "refuse", "wants_json"]

_PAGE = """<!doctype html>
<html lang="{language}">
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>{title} · likesewn</title>
<style>
body {{ font: 1.15rem/1.6 Georgia, "Iowan Old Style", serif; margin: 0; }}
main {{ max-width: 34rem; margin: 14vh auto 0; padding: 0 1.5rem; }}
h1 {{ font-size: 1.6rem; line-height: 1.25; font-weight: normal; }}
</style>
<main><h1>{title}</h1>{lines}</main>
</html>
"""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a request is not answered.

    Attributes:
        status: The HTTP status.
        problem: What is wrong, and what to do.
    """

    status: int
    problem: Problem

    @property
    def error(self) -> LikesewnError:
        """The same as an error."""
        return InputError(self.problem)


def wants_json(path: str, headers: "dict[bytes, bytes]") -> bool:
    """Return whether a program asks: by the API's addresses, or with the token of a program."""
    return path == "/api" or path.startswith("/api/") or b"authorization" in headers


async def refuse(send: "Send", refusal: Refusal, *, as_json: bool) -> None:
    """Answer a request with why it is refused."""
    if as_json:
        body, kind = json.dumps(error_data(refusal.error), ensure_ascii=False).encode(), b"application/json"
    else:
        problem = refusal.problem
        lines = [say("frame.found", found=problem.found)] if problem.found else []
        lines += [say("frame.allowed", allowed=problem.allowed)] if problem.allowed else []
        lines += [problem.todo] if problem.todo else []
        title = problem.message[:1].upper() + problem.message[1:]
        paragraphs = "".join(f"<p>{escape(line)}</p>" for line in lines)
        body = _PAGE.format(language=LANGUAGE, title=escape(title), lines=paragraphs).encode()
        kind = b"text/html; charset=utf-8"
    headers = [(b"content-type", kind), (b"content-length", str(len(body)).encode())]
    if refusal.status in {408, 413}:
        headers.append((b"connection", b"close"))  # what is left of the body is not read
    headers = secured(headers, NOTHING_POLICY, keep=False)
    await send({"type": "http.response.start", "status": refusal.status, "headers": headers})
    await send({"type": "http.response.body", "body": body})

"""How the studio and its worker speak: a line of JSON, then any number of blocks of bytes.

Nothing here can carry code (no pickles): whoever took over a worker by a forged picture gets no further.
"""

import json
import struct
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any, BinaryIO, cast

if TYPE_CHECKING:
    from asyncio import StreamReader, StreamWriter

__all__ = ["LARGEST_REPLY", "Message", "Spoilt", "receive", "receive_here", "send", "send_here"]

LARGEST_REPLY = 64_000_000
"""Bytes of a worker's reply, or of one block of it, beyond which it is not read."""

MOST_BLOCKS = 16
_HEAD = struct.Struct(">II")
_BLOCK = struct.Struct(">Q")
_PIECE = 1 << 20

Message = dict[str, Any]


class Spoilt(Exception):  # noqa: N818 - what it is, not that it is an error
    """What came is no message."""


def _packed(message: Message, blocks: Sequence[bytes]) -> Iterator[bytes | memoryview]:
    text = json.dumps(message, ensure_ascii=False).encode("utf-8", "surrogatepass")
    yield _HEAD.pack(len(text), len(blocks)) + text
    for block in blocks:
        yield _BLOCK.pack(len(block))
        view = memoryview(block)
        for at in range(0, len(block), _PIECE):
            yield view[at : at + _PIECE]


def _message(text: bytes) -> Message:
    try:
        message = json.loads(text)
    except (ValueError, RecursionError):
        raise Spoilt from None
    if not isinstance(message, dict):
        raise Spoilt
    return cast("Message", message)


def send(stream: BinaryIO, message: Message, blocks: Sequence[bytes] = ()) -> None:
    """Write a message, and wait until it is written."""
    stream.writelines(_packed(message, blocks))
    stream.flush()


def receive(stream: BinaryIO) -> tuple[Message, list[bytes]] | None:
    """Read a message; None at the end of the stream."""
    head = stream.read(_HEAD.size)
    if len(head) < _HEAD.size:
        return None
    length, count = _HEAD.unpack(head)
    message = _message(stream.read(length))
    return message, [stream.read(_BLOCK.unpack(stream.read(_BLOCK.size))[0]) for _ in range(count)]


async def send_here(stream: "StreamWriter", message: Message, blocks: Sequence[bytes] = ()) -> None:
    """Write a message without holding up the server."""
    for part in _packed(message, blocks):
        stream.write(part)
        await stream.drain()


async def receive_here(stream: "StreamReader") -> tuple[Message, list[bytes]]:
    """Read a message without holding up the server.

    Raises:
        Spoilt: It is none, or too large.
        IncompleteReadError: The stream ended.
    """
    length, count = _HEAD.unpack(await stream.readexactly(_HEAD.size))
    if length > LARGEST_REPLY or count > MOST_BLOCKS:
        raise Spoilt
    message = _message(await stream.readexactly(length))
    blocks: list[bytes] = []
    for _ in range(count):
        (size,) = _BLOCK.unpack(await stream.readexactly(_BLOCK.size))
        if size > LARGEST_REPLY:
            raise Spoilt
        blocks.append(await stream.readexactly(size))
    return message, blocks

"""How values stand in the database: texts and asides compressed, times as whole microseconds."""

import json
import unicodedata
import zlib
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import cast

from likesewn.errors import InputError, Problem
from likesewn.library.values import Json

__all__ = [
    "as_time",
    "clean",
    "clean_lines",
    "folded",
    "micros",
    "pack",
    "pack_aside",
    "unpack",
    "unpack_aside",
]

MOST_ASIDE = 4_000_000
"""Letters of an aside as JSON; hints and ticks take some thousands."""

_START = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)


def micros(at: datetime) -> int:
    """Return an aware time as microseconds since 1970."""
    return (at - _START) // _MICROSECOND


def as_time(at: int) -> datetime:
    """Return microseconds since 1970 as a time in UTC."""
    return _START + timedelta(microseconds=at)


def pack(text: str) -> bytes:
    """Compress a text that is known to be fit for UTF-8."""
    return zlib.compress(text.encode("utf-8"))


def unpack(data: bytes) -> str:
    """Give back a text.

    Raises:
        zlib.error: The data were damaged; their checksum tells.
    """
    return zlib.decompress(data).decode("utf-8")


def pack_aside(aside: Mapping[str, Json]) -> bytes:
    """Compress an aside.

    Raises:
        InputError: It is nothing that JSON can write, or too large.
    """
    try:
        text = json.dumps(aside, allow_nan=False, separators=(",", ":"))
    except (TypeError, ValueError, RecursionError) as error:
        raise InputError(Problem(f"what goes with this garment cannot be written as JSON: {error}")) from None
    if len(text) > MOST_ASIDE:
        raise InputError(
            Problem(
                "what goes with this garment is too large to be kept",
                f"{len(text) / 1e6:.1f} million letters of JSON",
                allowed=f"at most {MOST_ASIDE / 1e6:.0f} million",
            )
        )
    return pack(text)


def unpack_aside(data: bytes) -> dict[str, Json]:
    """Give back an aside, as a new dictionary each time."""
    return cast("dict[str, Json]", json.loads(unpack(data)))


def clean(words: str, most: int = 200) -> str:
    """Return words fit to be stored and shown in a line: no control characters, at most ``most`` letters."""
    shown = "".join(c if c.isprintable() else " " for c in words[: most * 4])
    return " ".join(shown.split())[:most]


def clean_lines(words: str, most: int = 10_000) -> str:
    """Return words of several lines fit to be stored: each line clean, at most ``most`` letters."""
    rows = words[: most * 4].replace("\r\n", "\n").split("\n")
    lines = ("".join(c if c.isprintable() else " " for c in row).rstrip() for row in rows)
    return "\n".join(lines).strip("\n")[:most]


def folded(words: str) -> str:
    """Return words as a search compares them: small letters without accents, single spaces."""
    parts = unicodedata.normalize("NFKD", words.casefold())
    return " ".join("".join(c for c in parts if not unicodedata.combining(c)).split())

"""Photographs beside the database, each named by the SHA-256 of its bytes: ``photos/ab/abcdef….jpg``.

A file is written whole and its name made to last before any row can name it, so a row never names a
photograph that is not there. What nothing names is let go by ``sweep``, a day after it was kept last.
"""

import hashlib
import os
import re
import sqlite3
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

from likesewn.errors import InputError, Problem
from likesewn.library.durable import PART, file_errors, make_folder, writing_whole
from likesewn.library.errors import NoSuchPhoto
from likesewn.library.packing import unpack
from likesewn.pictures import sort_of

__all__ = [
    "DIGEST",
    "MOST_BYTES",
    "SUFFIXES",
    "check",
    "check_there",
    "digests_in",
    "keep",
    "kept",
    "named",
    "path_of",
    "read",
    "sweep",
]

SUFFIXES = ("jpg", "png", "heic")

MOST_BYTES = 64_000_000
"""Bytes of one photograph: above any telephone's, below what would strain a decoder."""

DIGEST = re.compile(r"[0-9a-f]{64}")

GRACE = timedelta(days=1)
"""A photograph that was kept this short a time ago may be about to be named."""

_DIGESTS = re.compile(r"(?<![0-9a-f])[0-9a-f]{64}(?![0-9a-f])")
_OTHER_SPELLINGS = {"jpeg": "jpg", "heif": "heic"}


def check(data: bytes, suffix: str) -> tuple[str, str]:
    """Return the digest of a photograph and the suffix that it is kept under; it is not decoded.

    Raises:
        InputError: It is too large, or not what its suffix says.
    """
    plain = suffix.lower().removeprefix(".")
    plain = _OTHER_SPELLINGS.get(plain, plain)
    if plain not in SUFFIXES:
        allowed = "a photograph as JPEG, PNG or HEIC"
        raise InputError(
            Problem("this is no sort of photograph that can be kept", suffix[:20], allowed=allowed)
        )
    if len(data) > MOST_BYTES:
        problem = Problem(
            "this photograph is too large",
            f"{len(data) / 1e6:.0f} MB",
            allowed=f"at most {MOST_BYTES / 1e6:.0f} MB",
            todo="save it again in a smaller size",
        )
        raise InputError(problem)
    really = sort_of(data)
    if really != plain:
        found = f"it begins like {really}" if really else "it does not begin like a photograph"
        raise InputError(Problem(f"this is not a {plain} file", found, todo="save the photograph again"))
    return hashlib.sha256(data).hexdigest(), plain


def _place(folder: Path, digest: str, suffix: str) -> Path:
    return folder / digest[:2] / f"{digest}.{suffix}"


def keep(folder: Path, data: bytes, suffix: str, at: datetime) -> str:
    """Keep a photograph, and return its digest; one that is there already is only kept anew."""
    digest, suffix = check(data, suffix)
    to = _place(folder, digest, suffix)
    with file_errors(to):
        make_folder(to.parent)
        if not (to.is_file() and hashlib.sha256(to.read_bytes()).hexdigest() == digest):
            with writing_whole(to) as file:
                file.write(data)
        os.utime(to, (at.timestamp(), at.timestamp()))
    return digest


def path_of(folder: Path, digest: str) -> Path:
    """Return where a photograph lies.

    Raises:
        NoSuchPhoto: None of this digest is kept.
    """
    if DIGEST.fullmatch(digest):
        for suffix in SUFFIXES:
            place = _place(folder, digest, suffix)
            if place.is_file():
                return place
    raise NoSuchPhoto("there is no such photograph in this library; add it again")


def read(folder: Path, digest: str) -> bytes:
    """Return the bytes of a photograph.

    Raises:
        NoSuchPhoto: None of this digest is kept, or it is no longer what was kept.
    """
    place = path_of(folder, digest)
    with file_errors(place):
        data = place.read_bytes()
    if hashlib.sha256(data).hexdigest() != digest:
        raise NoSuchPhoto(f"the photograph {place} is damaged; add it again, or take it from a backup")
    return data


def check_there(folder: Path, picture: str) -> None:
    """See that a picture that is about to be named is kept; empty names none."""
    if picture:
        path_of(folder, picture)


def kept(folder: Path) -> Iterator[Path]:
    """Yield every photograph that is kept, in order of digest."""
    if folder.is_dir():
        for place in sorted(folder.glob("[0-9a-f][0-9a-f]/*")):
            if place.suffix[1:] in SUFFIXES and DIGEST.fullmatch(place.stem) and place.is_file():
                yield place


def digests_in(*texts: str) -> set[str]:
    """Return the digests that a text or an aside names, wherever in it they stand."""
    return {digest for text in texts for digest in _DIGESTS.findall(text)}


def named(connection: sqlite3.Connection) -> set[str]:
    """Return the digests that any undo step, version, make or cloth names."""
    found: set[str] = set()
    for table in ("step", "version"):
        for text, aside in connection.execute(f"SELECT text, aside FROM {table}"):  # noqa: S608 - two known names
            found |= digests_in(unpack(text), unpack(aside))
    for table in ("make", "cloth"):
        found |= {row[0] for row in connection.execute(f"SELECT picture FROM {table}")}  # noqa: S608 - likewise
    return found


def sweep(folder: Path, wanted: set[str], at: datetime) -> tuple[str, ...]:
    """Let go of photographs that are not wanted and were not kept lately; return their digests.

    Files that were left half written go too, when they are as old.
    """
    before = (at - GRACE).timestamp()
    gone: list[str] = []
    with file_errors(folder):
        for place in list(kept(folder)):
            if place.stem not in wanted and place.stat().st_mtime < before:
                place.unlink()
                gone.append(place.stem)
        for part in folder.glob(f"*/.*{PART}"):
            with suppress(FileNotFoundError):
                if part.stat().st_mtime < before:
                    part.unlink()
    return tuple(gone)

"""Reads whatever garments can still be read out of a damaged library, and never writes to it.

Two ways, each on a copy: SQLite itself, garment by garment, and for those that it does not give the
pages of the file one by one (``pages``). A text is believed only when its checksum holds.
"""

import io
import json
import re
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Literal, NamedTuple

import tomlkit

from likesewn.errors import InputError
from likesewn.library import documents, photos
from likesewn.library.bundle import add_file
from likesewn.library.database import NAME, connect
from likesewn.library.durable import file_errors, writing_whole
from likesewn.library.errors import LibraryReadOnly, NotKept
from likesewn.library.packing import as_time, unpack, unpack_aside
from likesewn.library.pages import Value, rows
from likesewn.library.reading import read_text
from likesewn.library.values import Json

__all__ = ["Rescue", "Rescued", "rescue"]

BLOCK = 4096
_ID = re.compile(r"[0-9a-f]{16}")

Found = Literal["whole", "newest that could be read", "kept version"]


@dataclass(frozen=True, slots=True)
class Rescued:
    """A garment out of a damaged library.

    Attributes:
        garment: Its id.
        name: Its name.
        text: The garment file.
        aside: What goes with it.
        changed: When this state was made, in UTC.
        deleted: Whether it is known to have been among the deleted ones.
        found: ``whole``: its present state; else which other state is the best that there is.
    """

    garment: str
    name: str
    text: str
    aside: Mapping[str, Json]
    changed: datetime
    deleted: bool
    found: Found


@dataclass(frozen=True, slots=True)
class Rescue:
    """What could be read.

    Attributes:
        garments: By name.
        lost: Ids of garments that were there, and of which no text could be read.
        photos: Photographs that are whole, by digest, as places on the disk.
    """

    garments: tuple[Rescued, ...]
    lost: tuple[str, ...]
    photos: Mapping[str, Path]

    def write(self, to: Path, at: datetime) -> None:
        """Write the garments as a zip of garment files, with the photographs that they name.

        ``contents.toml`` in it tells which file is which garment.
        """
        with file_errors(to), writing_whole(to) as out, zipfile.ZipFile(out, "w") as bundle:
            entries: list[dict[str, object]] = []
            wanted: set[str] = set()
            for one in self.garments:
                aside = json.dumps(one.aside, indent=1)
                add_file(bundle, f"{one.garment}.toml", one.text.encode("utf-8"), at)
                add_file(bundle, f"{one.garment}.json", aside.encode("utf-8"), at)
                wanted |= photos.digests_in(one.text, aside)
                entry = {"file": f"{one.garment}.toml", "name": one.name, "found": one.found}
                entries.append({**entry, "changed": one.changed, "deleted": one.deleted})
            for digest in sorted(wanted & self.photos.keys()):
                place = self.photos[digest]
                add_file(bundle, f"photos/{place.name}", place.read_bytes(), at)
            contents = tomlkit.dumps({"garment": entries, "lost": list(self.lost)})  # pyright: ignore[reportUnknownMemberType]
            add_file(bundle, "contents.toml", contents.encode("utf-8"), at)


def rescue(folder: Path) -> Rescue:
    """Read what can still be read of the garments in a library's folder; the folder is only read.

    Raises:
        LibraryReadOnly: There is no library in the folder, or it may not be read at all.
    """
    file = folder / NAME
    if not file.is_file():
        raise LibraryReadOnly(f"there is no library in {folder}; name the folder that holds {NAME}")
    with file_errors(file):
        data = _read_tolerantly(file)
        log = file.with_name(f"{NAME}-wal")
        logged = _read_tolerantly(log) if log.is_file() else b""
    found, known = _by_sqlite(data, logged)
    for one in _by_pages(data, logged, known):
        found.setdefault(one.garment, one)
    whole: dict[str, Path] = {}
    for place in photos.kept(folder / "photos"):
        with suppress(NotKept, OSError):
            photos.read(folder / "photos", place.stem)
            whole[place.stem] = place
    ordered = sorted(found.values(), key=lambda one: (one.name.casefold(), one.garment))
    return Rescue(tuple(ordered), tuple(sorted(known - found.keys())), whole)


def _read_tolerantly(file: Path) -> bytes:
    """Read a file; blocks that the disk does not give are zeros."""
    out = io.BytesIO()
    size = file.stat().st_size
    with file.open("rb", buffering=0) as source:
        for at in range(0, size, BLOCK):
            block = b""
            with suppress(OSError):
                source.seek(at)
                block = source.read(BLOCK)
            out.write(block.ljust(min(BLOCK, size - at), b"\0"))
    return out.getvalue()


def _by_sqlite(data: bytes, log: bytes) -> tuple[dict[str, Rescued], set[str]]:
    """Return the garments that SQLite still gives, and the ids that it knows of."""
    found: dict[str, Rescued] = {}
    ids: set[str] = set()
    with tempfile.TemporaryDirectory() as scratch, suppress(sqlite3.Error):
        copy = Path(scratch) / NAME
        copy.write_bytes(data)
        if log:
            copy.with_name(f"{NAME}-wal").write_bytes(log)
        with closing(connect(copy, "mode=rw")) as connection:
            ids |= set(_ids(connection))
            for garment in ids:
                with suppress(sqlite3.Error, zlib.error, ValueError, NotKept):
                    one = documents.get(connection, garment)
                    found[garment] = Rescued(
                        garment=garment,
                        name=one.name,
                        text=one.text,
                        aside=one.aside,
                        changed=one.changed,
                        deleted=one.deleted,
                        found="whole",
                    )
    return found, ids


def _ids(connection: sqlite3.Connection) -> Iterator[str]:
    """Yield ids from both ends of the table and of its index, each as far as it can be read."""
    rowid = "NOT INDEXED ORDER BY rowid"
    for order in (rowid, f"{rowid} DESC", "ORDER BY id", "ORDER BY id DESC"):
        with suppress(sqlite3.Error):
            for row in connection.execute(f"SELECT id FROM garment {order}"):  # noqa: S608 - four known words
                if isinstance(row[0], str) and _ID.fullmatch(row[0]):
                    yield row[0]


class _State(NamedTuple):
    """A state of a garment out of a row of a page: of two, the greater is the better one."""

    step: bool
    at: int
    place: int
    number: int
    text: str
    aside: str


def _by_pages(data: bytes, log: bytes, known: set[str]) -> Iterator[Rescued]:
    """Yield the best state of each garment in any page; adds the ids that it meets to ``known``."""
    present: dict[str, tuple[int, int, bool]] = {}
    states: dict[str, dict[tuple[bool, int], _State]] = {}
    for number, row in rows(data, log):
        garment = _garment_row(row)
        if garment:
            known.add(garment)
            revision, place, deleted = row[1], row[2], row[5]
            if isinstance(revision, int) and isinstance(place, int):
                present[garment] = max(present.get(garment, (0, 0, False)), (revision, place, bool(deleted)))
            continue
        told = _state_row(number, row)
        if told:
            garment, state = told
            known.add(garment)
            one = states.setdefault(garment, {})
            key = state.step, state.place
            one[key] = max(one.get(key, state), state)
    for garment, kept in states.items():
        _, place, deleted = present.get(garment, (0, 0, False))
        now = kept.get((True, place))
        best = now or max(kept.values())
        how: Found = "whole" if now else "newest that could be read" if best.step else "kept version"
        with suppress(InputError, ValueError, OverflowError):
            yield Rescued(
                garment=garment,
                name=read_text(best.text).name,
                text=best.text,
                aside=json.loads(best.aside),
                changed=as_time(best.at),
                deleted=deleted,
                found=how,
            )


def _garment_row(row: tuple[Value, ...]) -> str:
    """Return the id where a row is one of the table of garments (its columns are in ``schema``)."""
    shape = (str, int, int, int, int, int, str, str, str, str, str)
    if len(row) == len(shape) and _of_types(row, shape) and _ID.fullmatch(str(row[0])):
        return str(row[0])
    return ""


def _of_types(row: Iterable[Value], types: Iterable[type]) -> bool:
    return all(isinstance(value, kind) for value, kind in zip(row, types, strict=False))


def _state_row(number: int, row: tuple[Value, ...]) -> tuple[str, _State] | None:
    """Return garment and state where a row is a step or a version whose checksums hold."""
    if len(row) == 7 and row[0] is None:
        garment, place, at, _, text, aside = row[1:]
        step = True
    elif len(row) == 8:
        garment, place, at, _, text, aside = row[:6]
        step = False
    else:
        return None
    if not isinstance(garment, str) or not _ID.fullmatch(garment):
        return None
    if not (isinstance(place, int) and isinstance(at, int)):
        return None
    if not (isinstance(text, bytes) and isinstance(aside, bytes)):
        return None
    with suppress(zlib.error, ValueError):
        unpack_aside(aside)
        return garment, _State(step, at, place, number, unpack(text), unpack(aside))
    return None

"""Versions: states of a garment kept on purpose, and going back to one."""

import sqlite3
from typing import cast

from likesewn.library import documents
from likesewn.library.documents import Content
from likesewn.library.errors import NoSuchVersion
from likesewn.library.packing import as_time, clean, micros, pack, pack_aside, unpack, unpack_aside
from likesewn.library.values import Document, Version, Why

__all__ = ["MOST_NUMBER", "get", "go_back", "keep", "listed", "put"]

MOST_NUMBER = 2**31
"""Numbers beyond this are of nothing that is kept."""

_COLUMNS = "SELECT garment, number, name, why, at, revision, text, aside FROM version"


def _version(row: tuple[str, int, str, str, int, int, bytes, bytes]) -> Version:
    garment, number, name, why, at, revision, text, aside = row
    return Version(
        garment=garment,
        number=number,
        name=name,
        why=cast("Why", why),
        at=as_time(at),
        revision=revision,
        text=unpack(text),
        aside=unpack_aside(aside),
    )


def keep(connection: sqlite3.Connection, document: Document, at: int, name: str, why: Why) -> Version:
    """Keep a document as a version.

    Where the newest version is the same text and aside already and no name is given, that one stands.
    """
    rows = connection.execute(
        f"{_COLUMNS} WHERE garment = ? ORDER BY number DESC LIMIT 1", (document.garment,)
    ).fetchall()
    newest = _version(rows[0]) if rows else None
    name = clean(name)
    if newest and not name and (newest.text, newest.aside) == (document.text, document.aside):
        return newest
    version = Version(
        garment=document.garment,
        number=newest.number + 1 if newest else 1,
        name=name,
        why=why,
        at=as_time(at),
        revision=document.revision,
        text=document.text,
        aside=document.aside,
    )
    put(connection, version)
    return version


def put(connection: sqlite3.Connection, version: Version) -> None:
    """Store a version as it is."""
    connection.execute(
        "INSERT INTO version (garment, number, at, why, text, aside, name, revision) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        (
            version.garment,
            version.number,
            micros(version.at),
            version.why,
            pack(version.text),
            pack_aside(version.aside),
            version.name,
            version.revision,
        ),
    )


def listed(connection: sqlite3.Connection, garment: str) -> tuple[Version, ...]:
    """Return the versions of a garment, newest first."""
    documents.get(connection, garment)
    rows = connection.execute(f"{_COLUMNS} WHERE garment = ? ORDER BY number DESC", (garment,))
    return tuple(_version(row) for row in rows)


def get(connection: sqlite3.Connection, garment: str, number: int) -> Version:
    """Return one version.

    Raises:
        NoSuchGarment: No garment has this id.
        NoSuchVersion: It has no version of this number.
    """
    documents.get(connection, garment)
    row = None
    if 0 < number < MOST_NUMBER:
        row = connection.execute(f"{_COLUMNS} WHERE garment = ? AND number = ?", (garment, number)).fetchone()
    if row is None:
        raise NoSuchVersion(f"this garment has no version {number}; look at the list of its versions again")
    return _version(row)


def go_back(
    connection: sqlite3.Connection, garment: str, revision: int, number: int, at: int, said: str
) -> Document:
    """Make a version's text and aside the present ones, by an ordinary change.

    What is the present one before is kept as a version too, so that it outlasts the undo list.
    """
    document = documents.current(connection, garment, revision)
    version = get(connection, garment, number)
    if (version.text, version.aside) == (document.text, document.aside):
        return document
    keep(connection, document, at, "", "before going back")
    content = Content.of(version.text, version.aside)
    said = said or f"back to {version.name or f'version {number}'}"
    return documents.change(connection, garment, revision, content, at, said)

"""The make log: each time a garment was made, of what, and what to do differently next time."""

import sqlite3
from dataclasses import replace
from datetime import date

from likesewn.library import documents, versions
from likesewn.library.errors import MakeConflict, NoSuchMake
from likesewn.library.packing import clean, clean_lines
from likesewn.library.reading import read_text
from likesewn.library.values import Make

__all__ = ["add", "change", "get", "listed", "put_away"]

_COLUMNS = "SELECT garment, number, revision, version, made, cloth, picture, next_time, deleted FROM make"


def _make(row: tuple[str, int, int, int, str, str, str, str, int]) -> Make:
    garment, number, revision, version, made, cloth, picture, next_time, deleted = row
    return Make(
        garment=garment,
        number=number,
        revision=revision,
        version=version,
        made=date.fromisoformat(made),
        cloth=cloth,
        picture=picture,
        next_time=next_time,
        deleted=bool(deleted),
    )


def get(connection: sqlite3.Connection, garment: str, number: int) -> Make:
    """Return one make, also one that was taken out of the log.

    Raises:
        NoSuchGarment: No garment has this id.
        NoSuchMake: It has no make of this number.
    """
    documents.get(connection, garment)
    row = None
    if 0 < number < versions.MOST_NUMBER:
        row = connection.execute(f"{_COLUMNS} WHERE garment = ? AND number = ?", (garment, number)).fetchone()
    if row is None:
        raise NoSuchMake(f"this garment has no make {number}; look at its make log again")
    return _make(row)


def listed(connection: sqlite3.Connection, garment: str, *, deleted: bool) -> tuple[Make, ...]:
    """Return the makes of a garment, the latest day first; those taken out of the log instead."""
    documents.get(connection, garment)
    rows = connection.execute(
        f"{_COLUMNS} WHERE garment = ? AND deleted = ? ORDER BY made DESC, number DESC",
        (garment, int(deleted)),
    )
    return tuple(_make(row) for row in rows)


def add(connection: sqlite3.Connection, make: Make) -> Make:
    """Write a make into the log, under the next number of its garment."""
    versions.get(connection, make.garment, make.version)
    number = connection.execute(
        "SELECT coalesce(max(number), 0) + 1 FROM make WHERE garment = ?", (make.garment,)
    ).fetchone()[0]
    connection.execute(
        "INSERT INTO make (garment, number, revision, version, made, cloth, picture, next_time, deleted) "
        "VALUES (?, ?, 1, ?, ?, ?, ?, ?, ?)",
        (
            make.garment,
            number,
            make.version,
            make.made.isoformat(),
            clean(make.cloth),
            make.picture,
            clean_lines(make.next_time),
            int(make.deleted),
        ),
    )
    return _renewed(connection, make.garment, number)


def change(connection: sqlite3.Connection, make: Make, *, revision: int) -> Make:
    """Write a make anew; ``revision`` is the one that the change was made from.

    Raises:
        MakeConflict: It was changed in the meantime, or taken out of the log.
    """
    newest = get(connection, make.garment, make.number)
    if newest.deleted or newest.revision != revision:
        raise MakeConflict(newest)
    return _write(connection, newest, make)


def put_away(connection: sqlite3.Connection, garment: str, number: int, *, deleted: bool) -> Make:
    """Take a make out of the log, or put it back; nothing happens where that is done already."""
    newest = get(connection, garment, number)
    return _write(connection, newest, replace(newest, deleted=deleted))


def _write(connection: sqlite3.Connection, newest: Make, make: Make) -> Make:
    make = replace(make, cloth=clean(make.cloth), next_time=clean_lines(make.next_time))
    if make == newest:
        return newest
    connection.execute(
        "UPDATE make SET revision = revision + 1, made = ?, cloth = ?, picture = ?, next_time = ?, "
        "deleted = ? WHERE garment = ? AND number = ?",
        (
            make.made.isoformat(),
            make.cloth,
            make.picture,
            make.next_time,
            int(make.deleted),
            make.garment,
            make.number,
        ),
    )
    return _renewed(connection, make.garment, make.number)


def _renewed(connection: sqlite3.Connection, garment: str, number: int) -> Make:
    documents.refresh_words(connection, garment, read_text(documents.get(connection, garment).text))
    return get(connection, garment, number)

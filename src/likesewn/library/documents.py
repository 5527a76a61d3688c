"""Garments as rows of documents: reading the present one, and every way to make another the present.

All functions take a connection: those that change anything one that is within a writing transaction.
"""

import secrets
import sqlite3
from collections.abc import Mapping
from contextlib import suppress
from typing import NamedTuple

from likesewn.garment import update_garment
from likesewn.library.errors import Conflict, NoSuchGarment, NothingToUndo
from likesewn.library.packing import as_time, clean, folded, pack, pack_aside, unpack, unpack_aside
from likesewn.library.reading import Told, read_text
from likesewn.library.values import Document, Json

__all__ = [
    "MOST_STEPS",
    "Content",
    "add",
    "change",
    "current",
    "duplicate",
    "get",
    "move",
    "new_id",
    "put_away",
    "refresh_words",
    "revision",
]

MOST_STEPS = 400
"""Changes of a garment that can be undone."""

_LONGEST_SAID = 80

_DOCUMENT = """
    SELECT g.revision, s.text, s.aside, g.name, g.kind, g.changed, g.deleted,
        CASE WHEN b.number IS NULL THEN '' ELSE s.said END, coalesce(a.said, '')
    FROM garment AS g
    JOIN step AS s ON s.garment = g.id AND s.place = g.place
    LEFT JOIN step AS b ON b.garment = g.id AND b.place = g.place - 1
    LEFT JOIN step AS a ON a.garment = g.id AND a.place = g.place + 1
    WHERE g.id = ?
"""


class Content(NamedTuple):
    """A text and aside that were found fit to be kept, as they are stored, and what the text tells."""

    text: bytes
    aside: bytes
    told: Told

    @classmethod
    def of(cls, text: str, aside: Mapping[str, Json] | None) -> "Content":
        """Check a text and its aside.

        Raises:
            InputError: The text is not TOML or names no kind, or the aside cannot be kept.
        """
        told = read_text(text)
        return cls(pack(text), pack_aside(aside or {}), told)


def new_id() -> str:
    """Return a random id, fit for addresses and for file names of any system."""
    return secrets.token_hex(8)


def get(connection: sqlite3.Connection, garment: str) -> Document:
    """Return the present document of a garment, deleted or not.

    Raises:
        NoSuchGarment: No garment has this id.
    """
    row = None
    with suppress(UnicodeEncodeError):  # no id holds what UTF-8 cannot
        row = connection.execute(_DOCUMENT, (garment,)).fetchone()
    if row is None:
        raise _no_such_garment()
    newest, text, aside, name, kind, changed, deleted, can_undo, can_redo = row
    return Document(
        garment=garment,
        revision=newest,
        text=unpack(text),
        aside=unpack_aside(aside),
        name=name,
        kind=kind,
        changed=as_time(changed),
        deleted=bool(deleted),
        can_undo=can_undo,
        can_redo=can_redo,
    )


def revision(connection: sqlite3.Connection, garment: str) -> int:
    """Return the newest revision of a garment.

    Raises:
        NoSuchGarment: No garment has this id.
    """
    row = None
    with suppress(UnicodeEncodeError):
        row = connection.execute("SELECT revision FROM garment WHERE id = ?", (garment,)).fetchone()
    if row is None:
        raise _no_such_garment()
    return int(row[0])


def _no_such_garment() -> NoSuchGarment:
    return NoSuchGarment("there is no such garment on this shelf; look for it on the shelf again")


def current(connection: sqlite3.Connection, garment: str, revision: int) -> Document:
    """Return the present document if it is the one that a change was made from.

    Raises:
        NoSuchGarment: No garment has this id.
        Conflict: The revision is not the newest, or the garment is deleted.
    """
    document = get(connection, garment)
    if document.deleted or document.revision != revision:
        raise Conflict(document)
    return document


def add(connection: sqlite3.Connection, content: Content, at: int, said: str) -> Document:
    """Put a new garment on the shelf."""
    garment, told = new_id(), content.told
    connection.execute(
        "INSERT INTO garment (id, revision, place, turn, changed, name, kind, size, wearer, words) "
        "VALUES (?, 1, 1, ?, ?, ?, ?, ?, ?, ?)",
        (garment, _next_turn(connection), at, told.name, told.kind, told.size, told.wearer, told.words),
    )
    _add_step(connection, garment, 1, at, said or "new", content)
    return get(connection, garment)


def _next_turn(connection: sqlite3.Connection) -> int:
    return int(connection.execute("SELECT coalesce(max(turn), 0) + 1 FROM garment").fetchone()[0])


def _add_step(
    connection: sqlite3.Connection, garment: str, place: int, at: int, said: str, content: Content
) -> None:
    connection.execute(
        "INSERT INTO step (garment, place, at, said, text, aside) VALUES (?, ?, ?, ?, ?, ?)",
        (garment, place, at, clean(said, _LONGEST_SAID) or "change", content.text, content.aside),
    )


def change(
    connection: sqlite3.Connection, garment: str, revision: int, content: Content, at: int, said: str
) -> Document:
    """Make another text and aside the present one; what had been undone can no longer be redone.

    The very same text and aside change nothing, and are no step.
    """
    current(connection, garment, revision)
    place, text, aside = connection.execute(
        "SELECT s.place, s.text, s.aside FROM garment AS g JOIN step AS s "
        "ON s.garment = g.id AND s.place = g.place WHERE g.id = ?",
        (garment,),
    ).fetchone()
    if (text, aside) == (content.text, content.aside):
        return get(connection, garment)
    connection.execute("DELETE FROM step WHERE garment = ? AND place > ?", (garment, place))
    _add_step(connection, garment, place + 1, at, said, content)
    connection.execute("DELETE FROM step WHERE garment = ? AND place < ?", (garment, place + 1 - MOST_STEPS))
    return _moved(connection, garment, place + 1, at, content.told)


def _moved(connection: sqlite3.Connection, garment: str, place: int, at: int, told: Told) -> Document:
    connection.execute(
        "UPDATE garment SET revision = revision + 1, place = ?, turn = ?, changed = ?, "
        "name = ?, kind = ?, size = ?, wearer = ? WHERE id = ?",
        (place, _next_turn(connection), at, told.name, told.kind, told.size, told.wearer, garment),
    )
    refresh_words(connection, garment, told)
    return get(connection, garment)


def move(connection: sqlite3.Connection, garment: str, revision: int, by: int, at: int) -> Document:
    """Undo (``by`` = -1) or redo (+1) one change.

    Raises:
        NothingToUndo: There is no document on that side.
    """
    current(connection, garment, revision)
    row = connection.execute(
        "SELECT s.place, s.text FROM garment AS g JOIN step AS s "
        "ON s.garment = g.id AND s.place = g.place + ? WHERE g.id = ?",
        (by, garment),
    ).fetchone()
    if row is None:
        raise NothingToUndo(f"there is no change to {'undo' if by < 0 else 'redo'}")
    return _moved(connection, garment, row[0], at, read_text(unpack(row[1])))


def duplicate(connection: sqlite3.Connection, garment: str, name: str, at: int) -> Document:
    """Put a copy on the shelf, under another name where one is given; its undo list starts anew."""
    document = get(connection, garment)
    name = clean(name)
    text = update_garment(document.text, {"garment.name": name}) if name else document.text
    return add(connection, Content.of(text, document.aside), at, "copy")


def put_away(connection: sqlite3.Connection, garment: str, at: int, *, deleted: bool) -> Document:
    """Delete a garment or restore it; nothing happens where that is done already."""
    document = get(connection, garment)
    if document.deleted == deleted:
        return document
    connection.execute(
        "UPDATE garment SET revision = revision + 1, deleted = ?, turn = ?, changed = ? WHERE id = ?",
        (int(deleted), _next_turn(connection), at, garment),
    )
    return get(connection, garment)


def refresh_words(connection: sqlite3.Connection, garment: str, told: Told) -> None:
    """Renew what a search looks through: what the text tells, and the notes of makes."""
    notes = connection.execute(
        "SELECT cloth, next_time FROM make WHERE garment = ? AND NOT deleted ORDER BY number", (garment,)
    ).fetchall()
    words = " ".join((told.words, *(folded(" ".join(note)) for note in notes)))
    connection.execute("UPDATE garment SET words = ? WHERE id = ?", (words, garment))

"""The tables of a library, as a row of migrations: each is run once, in order, with its record.

A text or aside is stored whole and compressed (``packing``), so that a damaged one is known by its
checksum. Times are whole microseconds since 1970 in UTC.
"""

import sqlite3

from likesewn.library.errors import LibraryNewer, NotALibrary

__all__ = ["APPLICATION", "MIGRATIONS", "NEWEST", "applied", "migrate", "pending"]

APPLICATION = 0x6C736577
"""SQLite's application id of a library: ``lsew`` in ASCII."""

_FIRST = (
    """CREATE TABLE migration (
        number INTEGER PRIMARY KEY,
        at INTEGER NOT NULL
    )""",
    """CREATE TABLE garment (
        id TEXT PRIMARY KEY,
        revision INTEGER NOT NULL,
        place INTEGER NOT NULL,    -- which of its steps is the present one
        turn INTEGER NOT NULL,     -- order of the last changes of all garments, whatever the clock does
        changed INTEGER NOT NULL,
        deleted INTEGER NOT NULL DEFAULT 0,
        name TEXT NOT NULL,
        kind TEXT NOT NULL,
        size TEXT NOT NULL,
        wearer TEXT NOT NULL,
        words TEXT NOT NULL        -- what a search looks through
    )""",
    "CREATE UNIQUE INDEX garment_turn ON garment (turn)",
    "CREATE INDEX garment_shelf ON garment (deleted, turn DESC)",
    # Rows tell by themselves which garment and change they are of, so that a rescue can read them alone.
    """CREATE TABLE step (
        number INTEGER PRIMARY KEY,
        garment TEXT NOT NULL REFERENCES garment (id) ON DELETE CASCADE,
        place INTEGER NOT NULL,
        at INTEGER NOT NULL,
        said TEXT NOT NULL,
        text BLOB NOT NULL,
        aside BLOB NOT NULL,
        UNIQUE (garment, place)
    )""",
    """CREATE TABLE thumbnail (
        garment TEXT PRIMARY KEY REFERENCES garment (id) ON DELETE CASCADE,
        revision INTEGER NOT NULL,
        svg TEXT NOT NULL
    )""",
)

_SECOND = (
    """CREATE TABLE version (
        garment TEXT NOT NULL REFERENCES garment (id) ON DELETE CASCADE,
        number INTEGER NOT NULL,
        at INTEGER NOT NULL,
        why TEXT NOT NULL,
        text BLOB NOT NULL,
        aside BLOB NOT NULL,
        name TEXT NOT NULL,
        revision INTEGER NOT NULL,
        PRIMARY KEY (garment, number)
    )""",
    """CREATE TABLE make (
        garment TEXT NOT NULL REFERENCES garment (id) ON DELETE CASCADE,
        number INTEGER NOT NULL,
        revision INTEGER NOT NULL,
        version INTEGER NOT NULL,
        made TEXT NOT NULL,
        cloth TEXT NOT NULL,
        picture TEXT NOT NULL,
        next_time TEXT NOT NULL,
        deleted INTEGER NOT NULL DEFAULT 0,
        PRIMARY KEY (garment, number),
        FOREIGN KEY (garment, version) REFERENCES version (garment, number)
    )""",
    """CREATE TABLE cloth (
        id TEXT PRIMARY KEY,
        revision INTEGER NOT NULL,
        changed INTEGER NOT NULL,
        deleted INTEGER NOT NULL DEFAULT 0,
        name TEXT NOT NULL,
        text TEXT NOT NULL,
        note TEXT NOT NULL,
        picture TEXT NOT NULL
    )""",
)

MIGRATIONS: tuple[tuple[str, ...], ...] = (_FIRST, _SECOND)
"""Statements of each migration; the first has number 1."""

NEWEST = len(MIGRATIONS)


def applied(connection: sqlite3.Connection) -> int:
    """Return the number of the last migration that a file has had; 0 for a new, empty file.

    Raises:
        NotALibrary: The file is a database of something else.
        LibraryNewer: It has migrations that this likesewn does not know.
    """
    # tables first: another program may fill a new file between the two questions, and marks it as it does so
    tables = connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()[0]
    application = int(connection.execute("PRAGMA application_id").fetchone()[0])
    if application != APPLICATION:
        if application == 0 and tables == 0:
            return 0
        raise NotALibrary("the file in the library's place is a database of something else")
    if tables == 0:
        return 0
    number = int(connection.execute("SELECT max(number) FROM migration").fetchone()[0] or 0)
    if number > NEWEST:
        raise LibraryNewer("this library was written by a newer likesewn; update likesewn, and try again")
    return number


def pending(connection: sqlite3.Connection) -> tuple[int, ...]:
    """Return the numbers of the migrations that a file still needs; only reads."""
    return tuple(range(applied(connection) + 1, NEWEST + 1))


def migrate(connection: sqlite3.Connection, at: int) -> tuple[int, ...]:
    """Run what is pending, each with its record; to be called within a transaction.

    Args:
        connection: A connection that is writing.
        at: The time, in microseconds since 1970.
    """
    numbers = pending(connection)
    if 1 in numbers:
        connection.execute(f"PRAGMA application_id = {APPLICATION}")
    for number in numbers:
        for statement in MIGRATIONS[number - 1]:
            connection.execute(statement)
        connection.execute("INSERT INTO migration (number, at) VALUES (?, ?)", (number, at))
    return numbers

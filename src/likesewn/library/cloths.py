"""The drawer of cloths: each a name, the keys of a garment file's ``[cloth]``, a note and a picture."""

import sqlite3
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import replace
from typing import cast

from likesewn.errors import InputError, Problem
from likesewn.garment.keys import file_tables
from likesewn.garment.problems import Problems
from likesewn.garment.toml_text import load_toml
from likesewn.garment.values import ValueReader
from likesewn.garment.walk import Walk
from likesewn.library.documents import new_id
from likesewn.library.errors import ClothConflict, NoSuchCloth
from likesewn.library.packing import as_time, clean, clean_lines
from likesewn.library.values import KeptCloth

__all__ = ["add", "change", "check_cloth", "get", "listed", "put_away"]

_COLUMNS = "SELECT id, revision, name, text, note, picture, changed, deleted FROM cloth"
_SEAMS = "match"
"""The key whose names are of seams: which there are is known with a garment alone."""


def check_cloth(text: str) -> None:
    """See that a text is keys of ``[cloth]`` as TOML, without the heading; it may be empty.

    A drawer has no unit of its own, so each length says its unit.

    Raises:
        InputError: It is not; with every fault.
    """
    if not text.strip():
        return
    values, lines = load_toml(text)
    problems = Problems("", lines)
    _check_seams(values.pop(_SEAMS, None), problems)
    for name in [name for name, value in values.items() if isinstance(value, dict)]:
        del values[name]
        todo = "write the keys without a heading; another cloth is another entry of the drawer"
        problems.add((name,), "a cloth of the drawer has no tables", todo=todo)
    table = next(table for table in file_tables(None, ()) if table.name == "cloth")
    walk = Walk((table,), ValueReader(None, problems), problems, complete=True)
    walk.read({"cloth": values})
    try:
        problems.stop()
    except InputError as error:
        raise InputError(*(_of_cloth(problem, lines.of) for problem in error.problems)) from None


def _check_seams(value: object, problems: Problems) -> None:
    names = cast("list[object]", value) if isinstance(value, list) else None
    if value is not None and (names is None or not all(isinstance(name, str) for name in names)):
        problems.add((_SEAMS,), "this should be a list of names")


def _of_cloth(problem: Problem, lines: Mapping[tuple[str | int, ...], int]) -> Problem:
    """Say a fault as one of the text alone: it was read as a table of a file that has a unit."""
    if problem.key == "garment.unit":
        return replace(
            problem,
            message="a length here has no unit",
            key="",
            allowed="",
            todo='write the unit with every length, such as width = "150 cm"',
        )
    key = problem.key.removeprefix("cloth.")
    return replace(problem, key=key, line=problem.line or lines.get((key,), 0))


def _cloth(row: tuple[str, int, str, str, str, str, int, int]) -> KeptCloth:
    cloth, revision, name, text, note, picture, changed, deleted = row
    return KeptCloth(
        cloth=cloth,
        revision=revision,
        name=name,
        text=text,
        note=note,
        picture=picture,
        changed=as_time(changed),
        deleted=bool(deleted),
    )


def _fit(cloth: KeptCloth) -> KeptCloth:
    """Return a cloth as it is stored.

    Raises:
        InputError: It has no name, or its text is not keys of a cloth.
    """
    check_cloth(cloth.text)
    name = clean(cloth.name)
    if not name:
        raise InputError(Problem("a cloth needs a name", todo="write what you would call it"))
    return replace(cloth, name=name, note=clean_lines(cloth.note))


def get(connection: sqlite3.Connection, cloth: str) -> KeptCloth:
    """Return one cloth, also one that was taken out of the drawer.

    Raises:
        NoSuchCloth: No cloth has this id.
    """
    row = None
    with suppress(UnicodeEncodeError):  # no id holds what UTF-8 cannot
        row = connection.execute(f"{_COLUMNS} WHERE id = ?", (cloth,)).fetchone()
    if row is None:
        raise NoSuchCloth("there is no such cloth in the drawer; look into it again")
    return _cloth(row)


def listed(connection: sqlite3.Connection, *, deleted: bool) -> tuple[KeptCloth, ...]:
    """Return the cloths of the drawer by name; those that were taken out instead."""
    rows = connection.execute(f"{_COLUMNS} WHERE deleted = ?", (int(deleted),))
    return tuple(sorted((_cloth(row) for row in rows), key=lambda c: (c.name.casefold(), c.cloth)))


def add(connection: sqlite3.Connection, cloth: KeptCloth, at: int) -> KeptCloth:
    """Put a cloth into the drawer, under an id of its own."""
    cloth = _fit(cloth)
    made = new_id()
    connection.execute(
        "INSERT INTO cloth (id, revision, changed, name, text, note, picture) VALUES (?, 1, ?, ?, ?, ?, ?)",
        (made, at, cloth.name, cloth.text, cloth.note, cloth.picture),
    )
    return get(connection, made)


def change(connection: sqlite3.Connection, cloth: KeptCloth, revision: int, at: int) -> KeptCloth:
    """Write a cloth anew; ``revision`` is the one that the change was made from.

    Raises:
        ClothConflict: It was changed in the meantime, or taken out of the drawer.
    """
    newest = get(connection, cloth.cloth)
    if newest.deleted or newest.revision != revision:
        raise ClothConflict(newest)
    return _write(connection, newest, _fit(cloth), at)


def put_away(connection: sqlite3.Connection, cloth: str, at: int, *, deleted: bool) -> KeptCloth:
    """Take a cloth out of the drawer, or put it back; nothing happens where that is done already."""
    newest = get(connection, cloth)
    return _write(connection, newest, replace(newest, deleted=deleted), at)


def _write(connection: sqlite3.Connection, newest: KeptCloth, cloth: KeptCloth, at: int) -> KeptCloth:
    if cloth == newest:
        return newest
    connection.execute(
        "UPDATE cloth SET revision = revision + 1, changed = ?, deleted = ?, name = ?, text = ?, note = ?, "
        "picture = ? WHERE id = ?",
        (at, int(cloth.deleted), cloth.name, cloth.text, cloth.note, cloth.picture, cloth.cloth),
    )
    return get(connection, cloth.cloth)

"""Libraries of an older likesewn are brought up to date once, whole or not at all."""

import sqlite3
from contextlib import closing
from datetime import date

import pytest

from likesewn.library import LibraryError, LibraryReadOnly, schema
from likesewn.library.packing import pack, pack_aside
from likesewn.library.schema import APPLICATION, MIGRATIONS, NEWEST, pending
from shelves import TOP, a_library, top

GARMENT = "0123456789abcdef"


@pytest.fixture
def old(tmp_path):
    """A library with the tables of the first likesewn that kept one, and a garment with two steps."""
    with closing(sqlite3.connect(tmp_path / "likesewn.sqlite")) as made, made:
        made.execute(f"PRAGMA application_id = {APPLICATION}")
        for statement in MIGRATIONS[0]:
            made.execute(statement)
        made.execute("INSERT INTO migration VALUES (1, 1000)")
        made.execute(
            "INSERT INTO garment VALUES (?, 2, 2, 1, 5, 0, 'Throwing top', ?, 'M', '', 'top')",
            (GARMENT, "set-in-sleeve-top"),
        )
        for place, text in ((1, TOP), (2, top(54))):
            made.execute(
                "INSERT INTO step (garment, place, at, said, text, aside) VALUES (?, ?, 5, 'chest', ?, ?)",
                (GARMENT, place, pack(text), pack_aside({})),
            )
    return tmp_path


def numbers(folder):
    with closing(sqlite3.connect(folder / "likesewn.sqlite")) as reader:
        return [row[0] for row in reader.execute("SELECT number FROM migration ORDER BY number")]


def test_an_old_library_is_brought_up_to_date(old):
    with a_library(old) as library:
        assert library.get(GARMENT).can_undo == "chest"
        assert library.undo(GARMENT, 2).text == TOP
        assert library.add_make(GARMENT, 3, made=date(2026, 3, 1)).version == 1
    assert numbers(old) == list(range(1, NEWEST + 1))
    with a_library(old) as library, library._database.reading() as reader:
        assert pending(reader) == ()


def test_what_it_was_before_is_kept(old):
    a_library(old).close()
    with closing(sqlite3.connect(old / "backups" / "before-update-1.sqlite")) as before:
        assert before.execute("SELECT max(number) FROM migration").fetchone()[0] == 1
        assert before.execute("SELECT count(*) FROM step").fetchone()[0] == 2
    a_library(old).close()
    assert len(list((old / "backups").iterdir())) == 1


def test_asking_what_is_pending_changes_nothing(old):
    before = (old / "likesewn.sqlite").read_bytes()
    with closing(sqlite3.connect(f"file:{old / 'likesewn.sqlite'}?mode=ro", uri=True)) as reader:
        assert pending(reader) == tuple(range(2, NEWEST + 1))
    with pytest.raises(LibraryReadOnly, match="older likesewn"):
        a_library(old, read_only=True)
    assert (old / "likesewn.sqlite").read_bytes() == before


def test_a_migration_that_fails_leaves_the_old_library(old, monkeypatch):
    broken = (*MIGRATIONS, ("CREATE TABLE extra (a)", "CREATE TABLE extra (a)"))
    monkeypatch.setattr(schema, "MIGRATIONS", broken)
    monkeypatch.setattr(schema, "NEWEST", len(broken))
    with pytest.raises(LibraryError):
        a_library(old)
    assert numbers(old) == [1]
    with closing(sqlite3.connect(old / "likesewn.sqlite")) as reader:
        tables = {row[0] for row in reader.execute("SELECT name FROM sqlite_schema WHERE type = 'table'")}
    assert tables == {"migration", "garment", "step", "thumbnail"}
    monkeypatch.undo()
    with a_library(old) as library:
        assert library.get(GARMENT).text == top(54)

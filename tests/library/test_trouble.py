"""What can go wrong: locked, full, read-only, damaged, foreign, newer or closed; and nothing half saved."""

import os
import sqlite3
import subprocess
import sys
import threading
from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest

from likesewn.errors import LikesewnError
from likesewn.library import (
    Library,
    LibraryClosed,
    LibraryDamaged,
    LibraryError,
    LibraryFull,
    LibraryLocked,
    LibraryNewer,
    LibraryReadOnly,
    NotALibrary,
    database,
)
from likesewn.library.database import connect
from shelves import PNG, START, TOP, a_library, clock, top


def test_another_program_that_holds_the_library_is_told_and_waited_for(tmp_path):
    with a_library(tmp_path, busy_seconds=0.05) as library:
        garment = library.add(TOP).garment
        with closing(sqlite3.connect(tmp_path / "likesewn.sqlite", isolation_level=None)) as other:
            other.execute("BEGIN IMMEDIATE")
            with pytest.raises(LibraryLocked, match="another program"):
                library.save(garment, 1, top(54), {}, said="54")
            assert library.get(garment).text == TOP
            other.execute("ROLLBACK")
        assert library.save(garment, 1, top(54), {}, said="54").revision == 2


def test_a_change_waits_for_another_program_that_is_soon_done(tmp_path):
    with a_library(tmp_path, busy_seconds=20) as library:
        garment = library.add(TOP).garment
        other = sqlite3.connect(tmp_path / "likesewn.sqlite", isolation_level=None, check_same_thread=False)
        other.execute("BEGIN IMMEDIATE")
        timer = threading.Timer(0.1, other.execute, ("COMMIT",))
        timer.start()
        assert library.save(garment, 1, top(54), {}, said="54").revision == 2
        timer.join()
        other.close()


def test_a_library_that_another_program_keeps_to_itself_is_not_opened(tmp_path):
    a_library(tmp_path).close()
    with closing(sqlite3.connect(tmp_path / "likesewn.sqlite", isolation_level=None)) as other:
        other.execute("PRAGMA locking_mode = EXCLUSIVE")
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LibraryLocked):
            a_library(tmp_path, busy_seconds=0.05)
    a_library(tmp_path).close()


def test_a_full_database_is_told_and_nothing_is_half_saved(tmp_path):
    aside = {"hints": os.urandom(300_000).hex()}
    with a_library(tmp_path) as library:
        garment = library.add(TOP).garment
        pages = library._database._writer.execute("PRAGMA page_count").fetchone()[0]
        library._database._writer.execute(f"PRAGMA max_page_count = {pages + 5}")
        before = library.get(garment)
        with pytest.raises(LibraryFull, match="Make room"):
            library.save(garment, 1, top(54), aside, said="54")
        with pytest.raises(LibraryFull):
            library.add(TOP, aside)
        assert library.get(garment) == before
        assert library.shelf().total == 1
        library._database._writer.execute("PRAGMA max_page_count = 1000000")
        assert library.save(garment, 1, top(54), aside, said="54").aside == aside
    with a_library(tmp_path) as library:
        assert library.undo(garment, 2).text == TOP


FILE_LIMIT = """
import os, resource, sys
sys.path.insert(0, sys.argv[2])
from pathlib import Path
from shelves import PNG, TOP, a_library, top
from likesewn.library import LibraryFull, LibraryReadOnly
folder = Path(sys.argv[1])
library = a_library(folder)
garment = library.add(TOP).garment
before = library.get(garment)
resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, 200_000))
told = []
for act in (
    lambda: library.save(garment, 1, top(54), {"hints": os.urandom(500_000).hex()}, said="54"),
    lambda: library.keep_photo(PNG + os.urandom(500_000), "png"),
    lambda: library.back_up(folder / "all.zip"),
):
    try:
        act()
    except LibraryFull as error:
        told.append(str(error))
    assert library.get(garment) == before
print(len(told), library.save(garment, 1, top(55), {}, said="55").revision)
print(sorted(p.name for p in folder.rglob("*") if p.is_file() and "-" not in p.name))
library.close()
"""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="limits of a process are of other systems")
def test_files_that_may_not_grow_are_told_and_nothing_is_left_half_written(tmp_path):
    """A limit on the size of files: the system refuses to write on, as it does on a full disk."""
    with a_library(tmp_path) as library:
        library.keep_photo(PNG, "png")
        digest = library.keep_photo(PNG + os.urandom(150_000), "png")
        library.keep_photo(PNG + os.urandom(150_000), "png")
    tests = str(Path(__file__).parent.parent)
    done = subprocess.run(
        [sys.executable, "-c", FILE_LIMIT, str(tmp_path), tests], capture_output=True, text=True, check=False
    )
    assert done.stderr == ""
    told, files = done.stdout.splitlines()
    assert told == "3 2"
    assert files.count(".png") == 3
    assert ".part" not in files
    assert "zip" not in files
    with a_library(tmp_path) as library:
        assert library.shelf().rows[0].revision == 2
        assert library.photo(digest).startswith(PNG)


def contents(folder):
    """Return all files that hold something, without the index of the log that readers share."""
    files = (p for p in folder.rglob("*") if p.is_file() and not p.name.endswith("-shm"))
    return {p: data for p in files if (data := p.read_bytes())}


@pytest.mark.parametrize("write_ahead_log_left", [False, True])
def test_for_reading_only_nothing_is_written(tmp_path, write_ahead_log_left):
    writer = a_library(tmp_path)
    garment = writer.add(TOP).garment
    digest = writer.keep_photo(PNG, "png")
    if not write_ahead_log_left:
        writer.close()
    before = contents(tmp_path)
    with a_library(tmp_path, read_only=True) as library:
        assert library.get(garment).text == TOP
        assert library.photo(digest) == PNG
        assert library.export_garment(garment)
        for change in (
            lambda: library.add(TOP),
            lambda: library.save(garment, 1, top(54), {}, said=""),
            lambda: library.delete(garment),
            lambda: library.keep_photo(PNG, "png"),
            lambda: library.add_cloth("Linen"),
            library.sweep_photos,
        ):
            with pytest.raises(LibraryReadOnly, match="reading only"):
                change()
    assert contents(tmp_path) == before
    writer.close()


def test_a_folder_that_may_not_be_written_can_be_read(tmp_path, monkeypatch):
    """SQLite cannot follow a log in such a folder, and says that it cannot open the file."""
    with a_library(tmp_path) as library:
        garment = library.add(TOP).garment

    def barred(file, how, busy_seconds=2.0):
        if "immutable" not in how:
            error = sqlite3.OperationalError("unable to open database file")
            error.sqlite_errorcode = sqlite3.SQLITE_CANTOPEN
            raise error
        return connect(file, how, busy_seconds)

    monkeypatch.setattr(database, "connect", barred)
    with a_library(tmp_path, read_only=True) as library:
        assert library.get(garment).text == TOP
    (tmp_path / "likesewn.sqlite-wal").write_bytes(b"changes that are not in the file yet")
    with pytest.raises(LibraryReadOnly, match="may not be"):
        a_library(tmp_path, read_only=True)


def test_for_reading_only_none_is_made(tmp_path):
    with pytest.raises(LibraryReadOnly, match="no library"):
        a_library(tmp_path / "none", read_only=True)
    assert not (tmp_path / "none").exists()


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("text", b"This is no database at all, it is a letter. " * 100),
        ("cut short", None),
        ("header lost", None),
        ("middle lost", None),
    ],
)
def test_a_damaged_library_is_told_with_its_newest_good_backup(tmp_path, name, data):
    with a_library(tmp_path) as library:
        for n in range(30):
            library.add(top(n), {"hints": list(range(500))})
        backup = library.daily_backup()
    file = tmp_path / "likesewn.sqlite"
    good = file.read_bytes()
    spoilt = {
        "text": data,
        "cut short": good[: len(good) // 2],
        "header lost": bytes(200) + good[200:],
        "middle lost": good[:20_000] + b"\x55" * 30_000 + good[50_000:],
    }[name]
    file.write_bytes(spoilt)
    with pytest.raises(LibraryDamaged) as caught:
        a_library(tmp_path)
    assert str(backup) in str(caught.value)
    assert "rescue" in str(caught.value)
    assert file.read_bytes() == spoilt


def test_a_damaged_text_is_never_given_out_as_if_it_were_whole(tmp_path):
    with a_library(tmp_path) as library:
        garment = library.add(TOP).garment
    with closing(sqlite3.connect(tmp_path / "likesewn.sqlite")) as other, other:
        (text,) = other.execute("SELECT text FROM step").fetchone()
        other.execute("UPDATE step SET text = ?", (text[:-1] + bytes([text[-1] ^ 1]),))
    with a_library(tmp_path) as library, pytest.raises(LibraryDamaged, match="no good daily backup"):
        library.get(garment)


def test_a_database_of_something_else_is_left_alone(tmp_path):
    with closing(sqlite3.connect(tmp_path / "likesewn.sqlite")) as other:
        other.execute("CREATE TABLE recipe (name TEXT)")
    before = (tmp_path / "likesewn.sqlite").read_bytes()
    for read_only in (False, True):
        with pytest.raises(NotALibrary, match="something else"):
            a_library(tmp_path, read_only=read_only)
    assert (tmp_path / "likesewn.sqlite").read_bytes() == before


def test_a_library_of_a_newer_likesewn_is_left_alone(tmp_path):
    a_library(tmp_path).close()
    with closing(sqlite3.connect(tmp_path / "likesewn.sqlite")) as other, other:
        other.execute("INSERT INTO migration (number, at) VALUES (99, 0)")
    for read_only in (False, True):
        with pytest.raises(LibraryNewer, match="update likesewn"):
            a_library(tmp_path, read_only=read_only)


def test_a_folder_that_cannot_be_one_is_told(tmp_path):
    (tmp_path / "file").write_text("x")
    with pytest.raises(LibraryError):
        a_library(tmp_path / "file" / "library")
    (tmp_path / "likesewn.sqlite").mkdir()
    with pytest.raises(LibraryError):
        a_library(tmp_path)


@pytest.mark.skipif(not Path("/proc/self/fd").is_dir(), reason="open files are told by /proc")
def test_closing_releases_every_file(tmp_path):
    def of_this_library():
        handles = list(Path("/proc/self/fd").iterdir())
        return [h for h in handles if h.exists() and h.readlink().is_relative_to(tmp_path)]

    library = a_library(tmp_path)
    garment = library.add(TOP).garment
    threads = [threading.Thread(target=library.get, args=(garment,)) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    library.photo(library.keep_photo(PNG, "png"))
    library.daily_backup()
    library.back_up(tmp_path / "all.zip")
    library.import_garment(library.export_garment(garment))
    assert of_this_library()
    library.close()
    library.close()
    assert of_this_library() == []
    for use in (library.shelf, lambda: library.add(TOP)):
        with pytest.raises(LibraryClosed):
            use()
    (tmp_path / "likesewn.sqlite").write_bytes(b"x" * 5000)
    with pytest.raises(LibraryDamaged):
        a_library(tmp_path)
    assert of_this_library() == []


def test_a_reader_in_use_is_closed_when_it_is_done(tmp_path):
    library = a_library(tmp_path)
    library.add(TOP)
    with library._database.reading() as reader:
        library.close()
        assert reader.execute("SELECT count(*) FROM garment").fetchone()[0] == 1
    with pytest.raises(sqlite3.ProgrammingError):
        reader.execute("SELECT 1")


def test_writes_last_when_they_return(tmp_path):
    with a_library(tmp_path) as library:
        writer = library._database._writer
        names = ("journal_mode", "synchronous", "foreign_keys")
        told = {name: writer.execute(f"PRAGMA {name}").fetchone()[0] for name in names}
    assert told == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_every_error_is_one_of_likesewn():
    assert all(issubclass(kind, LikesewnError) for kind in LibraryError.__subclasses__())
    assert issubclass(LibraryFull, OSError)
    assert issubclass(LibraryLocked, TimeoutError)


def test_two_programs_make_one_library(tmp_path):
    """Eight threads open a folder that is not there yet; all get the same library."""
    opened, failures = [], []

    def make() -> None:
        try:
            opened.append(Library.open(tmp_path / "new", now=clock(START, timedelta(0)), busy_seconds=20))
        except BaseException as error:  # noqa: BLE001 - told by the main thread
            failures.append(error)

    threads = [threading.Thread(target=make) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert not failures
    garment = opened[0].add(TOP).garment
    assert all(library.get(garment).text == TOP for library in opened)
    for library in opened:
        library.close()

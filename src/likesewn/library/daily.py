"""Daily backups: copies of the database in ``backups/``, each proved readable before an old one goes."""

import os
import re
import secrets
import sqlite3
from collections.abc import Callable, Generator
from contextlib import closing, contextmanager, suppress
from datetime import datetime, timedelta
from pathlib import Path

from likesewn.library.database import connect
from likesewn.library.durable import PART, file_errors, fsync_folder, make_folder
from likesewn.library.errors import LibraryDamaged, LibraryFull
from likesewn.library.schema import APPLICATION

__all__ = ["KEPT", "copied", "daily_backup", "newest_good", "wrong_with"]

KEPT = 14
"""Daily backups that are kept."""

_NAME = re.compile(r"likesewn-(\d{4}-\d{2}-\d{2})\.sqlite")


def wrong_with(file: Path) -> str:
    """Return what is wrong with a copy of a library's database, or nothing; only reads."""
    try:
        with closing(connect(file, "mode=ro&immutable=1")) as copy:
            if copy.execute("PRAGMA application_id").fetchone()[0] != APPLICATION:
                return "it is not a library"
            found = copy.execute("PRAGMA integrity_check(3)").fetchall()
            torn = copy.execute("PRAGMA foreign_key_check").fetchall()
    except sqlite3.Error as error:
        return str(error)
    told = "; ".join(str(row[0]) for row in found)
    if told != "ok":
        return told
    return f"{len(torn)} rows belong to nothing" if torn else ""


@contextmanager
def _room_for(folder: Path) -> Generator[None]:
    """Tell of a copy that finds no room by the folder that it goes to."""
    try:
        yield
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode not in {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR_WRITE}:
            raise
        told = f"there is no room left to write a copy of the library in {folder}; nothing was half saved"
        raise LibraryFull(f"{told}. Make room on this disk, and try again") from error


@contextmanager
def copied(source: sqlite3.Connection, folder: Path) -> Generator[Path]:
    """Copy a database as it is at one moment into a file of its own, which is gone after the block.

    Writers may go on meanwhile. The block may rename the file, and so keep it.
    """
    part = folder / f".{secrets.token_hex(6)}{PART}"
    try:
        with closing(connect(part, "mode=rwc")) as copy:
            with _room_for(folder):
                source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # one file, without a log beside it
        with part.open("r+b") as file:
            os.fsync(file.fileno())
        yield part
    finally:
        for left in (part, *(part.with_name(part.name + end) for end in ("-journal", "-wal", "-shm"))):
            with suppress(OSError):
                left.unlink()


def _kept(folder: Path) -> list[Path]:
    """Return the daily backups there are, newest first."""
    if not folder.is_dir():
        return []
    named = [file for file in folder.iterdir() if _NAME.fullmatch(file.name) and file.is_file()]
    return sorted(named, key=lambda file: file.name, reverse=True)


def newest_good(folder: Path) -> Path | None:
    """Return the newest daily backup that can be read whole, or None."""
    return next((file for file in _kept(folder) if not wrong_with(file)), None)


def daily_backup(
    source: sqlite3.Connection, folder: Path, now: datetime, way_back: Callable[[], str]
) -> Path | None:
    """Keep a copy of the database of today, unless there is one, and let go of those beyond ``KEPT``.

    Args:
        source: A connection that reads.
        folder: Where backups are kept.
        now: The time; its own day counts.
        way_back: What to tell of a damaged library.

    Returns:
        The new backup; None where today's is there already.

    Raises:
        LibraryDamaged: The copy is not whole, so the library is not; all older backups were left.
    """
    to = folder / f"likesewn-{now.date().isoformat()}.sqlite"
    if to.exists():
        return None
    with file_errors(folder):
        make_folder(folder)
        with copied(source, folder) as part:
            wrong = wrong_with(part)
            if wrong:
                raise LibraryDamaged(f"this library is damaged ({wrong}). {way_back()}")
            part.replace(to)
        fsync_folder(folder)
        for old in _kept(folder)[KEPT:]:
            old.unlink()
        _tidy(folder, now)
    return to


def _tidy(folder: Path, now: datetime) -> None:
    """Let go of copies that were left half made when the program was ended, a day after."""
    for left in folder.glob(f".*{PART}*"):
        with suppress(FileNotFoundError):
            if left.stat().st_mtime < (now - timedelta(days=1)).timestamp():
                left.unlink()

"""The one SQLite file: one connection that writes, others that read, and plain words for its errors.

Writes are durable when they return: write-ahead log, ``synchronous = FULL``. Each change is one
``BEGIN IMMEDIATE`` transaction under one lock of the process. Readers see one committed state each and
never wait for the writer.
"""

import sqlite3
import threading
import zlib
from collections.abc import Callable, Generator
from contextlib import contextmanager, suppress
from pathlib import Path

from likesewn.library.durable import file_errors
from likesewn.library.errors import (
    LibraryClosed,
    LibraryDamaged,
    LibraryError,
    LibraryFull,
    LibraryLocked,
    LibraryReadOnly,
)
from likesewn.library.schema import applied

__all__ = ["NAME", "Database", "connect"]

NAME = "likesewn.sqlite"
"""Name of the file in the library's folder."""

MOST_IDLE = 4
"""Reading connections that wait for their next use; more than that many at once are closed after it."""

_FULL = {
    sqlite3.SQLITE_FULL,
    sqlite3.SQLITE_IOERR_WRITE,  # a file that may not grow any further fails like this
    sqlite3.SQLITE_IOERR_SHMSIZE,
}
_LOCKED = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_PROTOCOL}
_DAMAGED = {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT}
_BARRED = {sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM, sqlite3.SQLITE_AUTH, sqlite3.SQLITE_CANTOPEN}


def connect(file: Path, how: str, busy_seconds: float = 2.0) -> sqlite3.Connection:
    """Open a connection in autocommit mode.

    Args:
        file: The database.
        how: The open mode as SQLite's file addresses have it: ``mode=rwc``, ``mode=ro``, ``immutable=1``.
        busy_seconds: How long to wait while another program holds the file.
    """
    return sqlite3.connect(
        f"{file.resolve().as_uri()}?{how}",
        uri=True,
        isolation_level=None,
        check_same_thread=False,
        timeout=busy_seconds,
    )


class Database:
    """Connections to one library file.

    Args:
        folder: The library's folder, which exists.
        read_only: Never write, not even what a reader of a write-ahead log may.
        busy_seconds: How long to wait while another program holds the file.
        newest_backup: Gives the newest good daily backup, for the words of ``LibraryDamaged``.
    """

    def __init__(
        self,
        folder: Path,
        *,
        read_only: bool,
        busy_seconds: float,
        newest_backup: Callable[[], Path | None],
    ) -> None:
        self.file = folder / NAME
        self.read_only = read_only
        self._busy = busy_seconds
        self._newest_backup = newest_backup
        self._lock = threading.RLock()
        self._idle_lock = threading.Lock()
        self._idle: list[sqlite3.Connection] = []
        self._closed = False
        self._how_to_read = "mode=ro"
        self._writer: sqlite3.Connection | None = None
        if not read_only:
            with self.told():
                self._writer = self._open_writer()

    def _open_writer(self) -> sqlite3.Connection:
        writer = connect(self.file, "mode=rwc", self._busy)
        try:
            writer.execute("PRAGMA trusted_schema = OFF")
            writer.execute("PRAGMA cell_size_check = ON")
            writer.execute("PRAGMA foreign_keys = ON")
            writer.execute("PRAGMA synchronous = FULL")
            applied(writer)  # a file of something else is left as it is
            writer.execute("PRAGMA journal_mode = WAL")
        except BaseException:
            writer.close()
            raise
        return writer

    def _open_reader(self) -> sqlite3.Connection:
        try:
            return self._open_to_read()
        except sqlite3.OperationalError as error:
            # A write-ahead log cannot be followed in a folder that may not be written; without a log
            # that holds anything, the file alone is the whole of it.
            log = self.file.with_name(f"{NAME}-wal")
            if (
                not self.read_only
                or error.sqlite_errorcode & 0xFF not in _BARRED
                or self._how_to_read == "immutable=1"
                or not self.file.is_file()
                or (log.exists() and log.stat().st_size)
            ):
                raise
            self._how_to_read = "immutable=1"
            return self._open_to_read()

    def _open_to_read(self) -> sqlite3.Connection:
        reader = connect(self.file, self._how_to_read, self._busy)
        try:
            reader.execute("PRAGMA query_only = ON")
            reader.execute("PRAGMA trusted_schema = OFF")
            reader.execute("PRAGMA cell_size_check = ON")
            reader.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        except BaseException:
            reader.close()
            raise
        return reader

    @contextmanager
    def writing(self) -> Generator[sqlite3.Connection]:
        """Give the writer within one transaction: committed when the block ends, undone by any error.

        Raises:
            LibraryError: In the block or here; nothing was changed.
        """
        with self._lock, self.told():
            if self._closed:
                raise LibraryClosed("this library was closed; open it again")
            if self._writer is None:
                raise LibraryReadOnly("this library is open for reading only; nothing can be changed")
            writer = self._writer
            writer.execute("BEGIN IMMEDIATE")
            try:
                yield writer
                writer.execute("COMMIT")
            except BaseException:
                self._undo(writer)
                raise

    def _undo(self, writer: sqlite3.Connection) -> None:
        with suppress(sqlite3.Error):
            if writer.in_transaction:
                writer.execute("ROLLBACK")
        if writer.in_transaction:  # a disk that fails in the undoing too: start afresh from what is on it
            writer.close()
            self._writer = self._open_writer()

    @contextmanager
    def reading(self) -> Generator[sqlite3.Connection]:
        """Give a connection that sees one committed state throughout and that no other thread uses."""
        with self.told():
            reader = self._take_reader()
            try:
                reader.execute("BEGIN")
                yield reader
            finally:
                self._give_back(reader)

    def _take_reader(self) -> sqlite3.Connection:
        with self._idle_lock:
            if self._closed:
                raise LibraryClosed("this library was closed; open it again")
            if self._idle:
                return self._idle.pop()
        return self._open_reader()

    def _give_back(self, reader: sqlite3.Connection) -> None:
        try:
            if reader.in_transaction:
                reader.execute("ROLLBACK")
        except sqlite3.Error:
            reader.close()
            return
        with self._idle_lock:
            if not self._closed and len(self._idle) < MOST_IDLE:
                self._idle.append(reader)
                return
        reader.close()

    def close(self) -> None:
        """Close every connection: those in use when their work is done. Closing again does nothing."""
        with self._lock, self._idle_lock:
            self._closed = True
            for reader in self._idle:
                reader.close()
            self._idle.clear()
            if self._writer is not None:
                self._writer.close()
                self._writer = None

    @contextmanager
    def told(self) -> Generator[None]:
        """Tell SQLite's errors, and those of files, as errors of the library."""
        try:
            with file_errors(self.file):
                yield
        except sqlite3.Error as error:
            raise self._in_words(error) from error
        except zlib.error as error:
            raise LibraryDamaged(f"a text in {self.file} is damaged ({error}). {self.way_back()}") from error

    def _in_words(self, error: sqlite3.Error) -> LibraryError:
        code = getattr(error, "sqlite_errorcode", 0)
        if code in _FULL or code & 0xFF in _FULL:
            return LibraryFull(
                f"there is no room left to write {self.file}; nothing was half saved. "
                "Make room on this disk, and try again"
            )
        if code & 0xFF in _LOCKED:
            return LibraryLocked(
                f"another program holds {self.file}; nothing was changed. "
                "Close the other program, or wait a moment, and try again"
            )
        if code & 0xFF in _DAMAGED:
            return LibraryDamaged(f"{self.file} is damaged ({error}). {self.way_back()}")
        if code & 0xFF in _BARRED:
            return LibraryReadOnly(
                f"{self.file} may not be written or read ({error}); allow it for this user, "
                "or name another folder"
            )
        return LibraryError(f"{self.file} cannot be used: {error}")

    def way_back(self) -> str:
        """Return what to do about a damaged file, with the newest good daily backup by name."""
        backup = self._newest_backup()
        rescued = "what can still be read can be rescued from it; rescuing does not change it"
        if backup is None:
            return f"There is no good daily backup; {rescued}"
        return f"The newest good daily backup is {backup}; {rescued}"

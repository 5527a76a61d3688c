"""Opening a library and closing it: the folder, the checks, the update of one of an older likesewn."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

import platformdirs

from likesewn.library import daily, schema
from likesewn.library.database import NAME, Database
from likesewn.library.durable import file_errors, fsync_folder, make_folder
from likesewn.library.errors import LibraryDamaged, LibraryReadOnly
from likesewn.library.packing import micros

__all__ = ["Opened", "default_folder"]

CHECKED_ON_OPENING = 60_000_000
"""Bytes of a database that is looked through when it is opened; a greater one is at its daily backup."""


def default_folder() -> Path:
    """Return the folder for a library in the platform's place for a user's data."""
    return platformdirs.user_data_path("likesewn", appauthor=False) / "library"


class Opened:
    """A folder with a library's database: ``likesewn.sqlite``, ``photos/`` and ``backups/``."""

    def __init__(self, folder: Path, database: Database, now: Callable[[], datetime]) -> None:
        self.folder = folder
        self._photos = folder / "photos"
        self._database = database
        self._now = now

    @classmethod
    def open(
        cls,
        folder: Path,
        *,
        now: Callable[[], datetime],
        read_only: bool = False,
        busy_seconds: float = 2.0,
    ) -> Self:
        """Open the library of a folder; a new one is made where none is.

        Args:
            folder: The library's folder.
            now: The clock; gives aware times, whose own day counts for daily backups.
            read_only: Change nothing; the library must be there. SQLite may put an empty log beside it.
            busy_seconds: How long a change waits while another program holds the file.

        Raises:
            LibraryError: The library cannot be opened; the class and the words say why.
        """
        if not read_only:
            with file_errors(folder):
                make_folder(folder)
        elif not (folder / NAME).is_file():
            raise LibraryReadOnly(f"there is no library in {folder}, and for reading only none is made")
        backups = folder / "backups"
        database = Database(
            folder,
            read_only=read_only,
            busy_seconds=busy_seconds,
            newest_backup=lambda: daily.newest_good(backups),
        )
        try:
            library = cls(folder, database, now)
            library._make_ready(read_only=read_only)
        except BaseException:
            database.close()
            raise
        return library

    def _make_ready(self, *, read_only: bool) -> None:
        with self._database.reading() as reader:
            before = schema.applied(reader)
            needed = schema.pending(reader)
            if needed and read_only:
                raise LibraryReadOnly("this library is of an older likesewn; open it once for writing")
            if self._database.file.stat().st_size <= CHECKED_ON_OPENING:
                wrong = reader.execute("PRAGMA quick_check(1)").fetchone()[0]
                if wrong != "ok":
                    raise LibraryDamaged(
                        f"{self._database.file} is damaged ({wrong}). {self._database.way_back()}"
                    )
        if needed:
            if before:
                self._back_up_before(before)
            with self._database.writing() as writer:
                schema.migrate(writer, self._at())

    def _back_up_before(self, applied: int) -> None:
        backups = self.folder / "backups"
        with self._database.reading() as reader, file_errors(backups):
            make_folder(backups)
            with daily.copied(reader, backups) as part:
                part.replace(backups / f"before-update-{applied}.sqlite")
            fsync_folder(backups)

    def close(self) -> None:
        """Release every file; what was changed is on the disk already."""
        self._database.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def _at(self) -> int:
        return micros(self._now())

"""A library that is open: every change to it is one transaction, and lasts when the call returns."""

from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

import platformdirs

from likesewn.library import daily, documents, schema
from likesewn.library import shelf as shelves
from likesewn.library.database import NAME, Database
from likesewn.library.documents import Content
from likesewn.library.durable import file_errors, fsync_folder, make_folder
from likesewn.library.errors import LibraryDamaged, LibraryReadOnly
from likesewn.library.packing import micros
from likesewn.library.values import Document, Json, Shelf

__all__ = ["Library", "default_folder"]

CHECKED_ON_OPENING = 60_000_000
"""Bytes of a database that is looked through when it is opened; a greater one is at its daily backup."""


def default_folder() -> Path:
    """Return the folder for a library in the platform's place for a user's data."""
    return platformdirs.user_data_path("likesewn", appauthor=False) / "library"


class Library:
    """Garments in a folder: ``likesewn.sqlite``, ``photos/`` and ``backups/``.

    May be used from any thread, and by several programs at once. Made by ``open``.
    """

    def __init__(self, folder: Path, database: Database, now: Callable[[], datetime]) -> None:
        self.folder = folder
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
            read_only: Change nothing at all; the library must be there.
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

    def add(self, text: str, aside: Mapping[str, Json] | None = None, *, said: str = "") -> Document:
        """Put a new garment on the shelf.

        Args:
            text: The garment file; figures may be missing or impossible.
            aside: What a garment file has no place for.
            said: Where it came from, in a few words.

        Raises:
            InputError: The text is not TOML, or does not name its kind.
        """
        content = Content.of(text, aside)
        with self._database.writing() as writer:
            return documents.add(writer, content, self._at(), said)

    def get(self, garment: str) -> Document:
        """Return the present document of a garment, also of a deleted one.

        Raises:
            NoSuchGarment: No garment has this id.
        """
        with self._database.reading() as reader:
            return documents.get(reader, garment)

    def save(
        self, garment: str, revision: int, text: str, aside: Mapping[str, Json] | None, *, said: str
    ) -> Document:
        """Make another text and aside a garment's present ones, unless they are so already.

        Args:
            garment: Its id.
            revision: The revision that the change was made from.
            text: The garment file.
            aside: What goes with it.
            said: A few words for the undo list, such as ``chest width``.

        Raises:
            NoSuchGarment: No garment has this id.
            Conflict: The revision is not the newest, or the garment is deleted.
            InputError: The text is not TOML, or does not name its kind.
        """
        content = Content.of(text, aside)
        with self._database.writing() as writer:
            return documents.change(writer, garment, revision, content, self._at(), said)

    def undo(self, garment: str, revision: int) -> Document:
        """Take the last change back; raises NothingToUndo, and what ``save`` does."""
        with self._database.writing() as writer:
            return documents.move(writer, garment, revision, -1, self._at())

    def redo(self, garment: str, revision: int) -> Document:
        """Make again what was taken back; raises NothingToUndo, and what ``save`` does."""
        with self._database.writing() as writer:
            return documents.move(writer, garment, revision, 1, self._at())

    def duplicate(self, garment: str, name: str) -> Document:
        """Put a copy of a garment on the shelf, under another name; empty keeps the name."""
        with self._database.writing() as writer:
            return documents.duplicate(writer, garment, name, self._at())

    def delete(self, garment: str) -> None:
        """Take a garment off the shelf; ``restore`` brings it back with all that belongs to it."""
        with self._database.writing() as writer:
            documents.put_away(writer, garment, self._at(), deleted=True)

    def restore(self, garment: str) -> Document:
        """Put a deleted garment back on the shelf."""
        with self._database.writing() as writer:
            return documents.put_away(writer, garment, self._at(), deleted=False)

    def shelf(self, *, search: str = "", deleted: bool = False, limit: int = 60, start: int = 0) -> Shelf:
        """Return garments, newest change first.

        Args:
            search: Words that must all occur, capital or small, in name, kind, size, wearer or makes.
            deleted: Return those that were deleted instead.
            limit: How many at most.
            start: How many of them to pass over.
        """
        with self._database.reading() as reader:
            return shelves.shelf(reader, search, limit, start, deleted=deleted)

    def set_thumbnail(self, garment: str, revision: int, svg: str) -> None:
        """Keep a drawing of a garment at a revision; one of a later revision stays."""
        with self._database.writing() as writer:
            shelves.set_thumbnail(writer, garment, revision, svg)

    def thumbnail(self, garment: str) -> tuple[int, str] | None:
        """Return the revision that the kept drawing shows, and the drawing as SVG, if there is one."""
        with self._database.reading() as reader:
            return shelves.thumbnail(reader, garment)

    def daily_backup(self) -> Path | None:
        """Keep a copy of the database of today in ``backups/``; None where today's is there.

        The last 14 are kept; an old one goes only when the new one was proved to be whole.

        Raises:
            LibraryDamaged: The library is not whole; no backup was let go.
        """
        with self._database.reading() as reader:
            today = self._now().date()
            return daily.daily_backup(reader, self.folder / "backups", today, self._database.way_back)

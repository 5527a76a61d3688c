"""A library that is open: every change to it is one transaction, and lasts when the call returns."""

from collections.abc import Callable, Mapping
from datetime import datetime
from pathlib import Path
from typing import Self

from likesewn.library import backup, bundle, daily, documents, unbundle, versions
from likesewn.library import shelf as shelves
from likesewn.library.documents import Content
from likesewn.library.notebook import Notebook
from likesewn.library.values import Document, Json, Shelf, Version, Why

__all__ = ["Library"]


class Library(Notebook):
    """Garments in a folder: ``likesewn.sqlite``, ``photos/`` and ``backups/``.

    May be used from any thread, and by several programs at once. Made by ``open``.
    """

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

    def revision(self, garment: str) -> int:
        """Return the newest revision of a garment, without reading its text; raises NoSuchGarment."""
        with self._database.reading() as reader:
            return documents.revision(reader, garment)

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

    def keep_version(self, garment: str, revision: int, *, name: str = "", why: Why = "named") -> Version:
        """Keep the present state of a garment; an unnamed one that was kept last already stands.

        Raises:
            Conflict: The revision is not the newest.
        """
        with self._database.writing() as writer:
            document = documents.current(writer, garment, revision)
            return versions.keep(writer, document, self._at(), name, why)

    def versions(self, garment: str) -> tuple[Version, ...]:
        """Return the versions of a garment, newest first."""
        with self._database.reading() as reader:
            return versions.listed(reader, garment)

    def version(self, garment: str, number: int) -> Version:
        """Return one version; raises NoSuchVersion."""
        with self._database.reading() as reader:
            return versions.get(reader, garment, number)

    def go_back(self, garment: str, revision: int, number: int, *, said: str = "") -> Document:
        """Make a version the present state, by an ordinary change that can be undone.

        The state before is kept as a version too. ``said`` are words for the undo list.
        """
        with self._database.writing() as writer:
            return versions.go_back(writer, garment, revision, number, self._at(), said)

    def export_garment(self, garment: str) -> bytes:
        """Return one garment as one file, with its versions, makes and photographs (docs/library.md)."""
        with self._database.reading() as reader:
            return bundle.bundled(reader, self._photos, garment, self._now())

    def import_garment(self, data: bytes) -> Document:
        """Put a garment on the shelf from a file of ``export_garment``; all of it or nothing.

        Raises:
            InputError: It is not such a file, or not whole; with what was found in it.
        """
        read = unbundle.read_bundle(data)
        with self._database.writing() as writer:
            unbundle.keep_photos(data, read, self._photos, self._now())
            return unbundle.bring_in(writer, read, self._at())

    def back_up(self, to: Path) -> None:
        """Write the whole library as one zip, which takes its name only once it is whole.

        Raises:
            LibraryDamaged: The library is not whole; nothing was written.
            LibraryFull: There is no room left; nothing was written.
        """
        with self._database.reading() as reader:
            backup.back_up(reader, self._photos, to, self._now(), self._database.way_back)

    @classmethod
    def restore_backup(
        cls, backed_up: bytes | Path, folder: Path, *, now: Callable[[], datetime], busy_seconds: float = 2.0
    ) -> Self:
        """Make a library in an empty or new folder from a file of ``back_up``, and open it.

        Raises:
            InputError: It is not a whole backup, or the folder holds something; nothing was made.
            LibraryFull: There is no room for it; nothing was made.
        """
        backup.unpack_backup(backed_up, folder)
        return cls.open(folder, now=now, busy_seconds=busy_seconds)

    def daily_backup(self) -> Path | None:
        """Keep a copy of the database of today in ``backups/``; None where today's is there.

        The last 14 are kept; an old one goes only when the new one was proved to be whole.

        Raises:
            LibraryDamaged: The library is not whole; no backup was let go.
        """
        with self._database.reading() as reader:
            return daily.daily_backup(reader, self.folder / "backups", self._now(), self._database.way_back)

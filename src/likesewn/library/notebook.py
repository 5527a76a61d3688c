"""What a library keeps beside its garments' documents: the make log, the drawer of cloths, photographs."""

from dataclasses import replace
from datetime import date
from pathlib import Path

from likesewn.library import cloths, documents, makes, photos, versions
from likesewn.library.opening import Opened
from likesewn.library.packing import as_time
from likesewn.library.values import KeptCloth, Make

__all__ = ["Notebook"]


class Notebook(Opened):
    """The part of a library that is not documents."""

    def add_make(
        self,
        garment: str,
        revision: int,
        *,
        made: date,
        cloth: str = "",
        picture: str = "",
        next_time: str = "",
        version: int = 0,
    ) -> Make:
        """Write into the make log that a garment was made.

        Args:
            garment: Its id.
            revision: The revision that it was made from, which is kept as a version.
            made: The day.
            cloth: What it was made of, in words.
            picture: Digest of a kept photograph, or empty.
            next_time: What to do differently next time.
            version: Number of the version that it was made from, where it was not the present state;
                the revision does not count then.

        Raises:
            NoSuchGarment: No garment has this id.
            NoSuchVersion: It has no version of this number.
            NoSuchPhoto: No such picture is kept.
            Conflict: The revision is not the newest.
        """
        with self._database.writing() as writer:
            photos.check_there(self._photos, picture)
            if not version:
                document = documents.current(writer, garment, revision)
                version = versions.keep(writer, document, self._at(), "", "make").number
            return makes.add(writer, Make(garment, 0, 1, version, made, cloth, picture, next_time))

    def makes(self, garment: str, *, deleted: bool = False) -> tuple[Make, ...]:
        """Return the makes of a garment, the latest day first; those taken out of the log instead."""
        with self._database.reading() as reader:
            return makes.listed(reader, garment, deleted=deleted)

    def change_make(
        self,
        garment: str,
        number: int,
        revision: int,
        *,
        made: date | None = None,
        cloth: str | None = None,
        picture: str | None = None,
        next_time: str | None = None,
    ) -> Make:
        """Change what the log says of a make; what is None stays.

        Raises:
            NoSuchMake: The garment has no make of this number.
            NoSuchPhoto: No such picture is kept.
            MakeConflict: The make's revision is not the newest, or it was taken out of the log.
        """
        with self._database.writing() as writer:
            photos.check_there(self._photos, picture or "")
            given = {"made": made, "cloth": cloth, "picture": picture, "next_time": next_time}
            changed = {name: value for name, value in given.items() if value is not None}
            make = replace(makes.get(writer, garment, number), **changed)
            return makes.change(writer, make, revision=revision)

    def delete_make(self, garment: str, number: int) -> None:
        """Take a make out of the log; ``restore_make`` puts it back."""
        with self._database.writing() as writer:
            makes.put_away(writer, garment, number, deleted=True)

    def restore_make(self, garment: str, number: int) -> Make:
        """Put a make back into the log."""
        with self._database.writing() as writer:
            return makes.put_away(writer, garment, number, deleted=False)

    def add_cloth(self, name: str, text: str = "", *, note: str = "", picture: str = "") -> KeptCloth:
        """Put a cloth into the drawer.

        Args:
            name: What a person calls it.
            text: Keys of a garment file's ``[cloth]`` as TOML without the heading, each length with its unit.
            note: Anything else.
            picture: Digest of a kept photograph, or empty.

        Raises:
            InputError: There is no name, or the text is not keys of a cloth.
            NoSuchPhoto: No such picture is kept.
        """
        with self._database.writing() as writer:
            photos.check_there(self._photos, picture)
            at = self._at()
            return cloths.add(writer, KeptCloth("", 1, name, text, note, picture, as_time(at)), at)

    def cloth(self, cloth: str) -> KeptCloth:
        """Return one cloth, also one that was taken out; raises NoSuchCloth."""
        with self._database.reading() as reader:
            return cloths.get(reader, cloth)

    def cloths(self, *, deleted: bool = False) -> tuple[KeptCloth, ...]:
        """Return the cloths in the drawer by name; those that were taken out instead."""
        with self._database.reading() as reader:
            return cloths.listed(reader, deleted=deleted)

    def change_cloth(
        self,
        cloth: str,
        revision: int,
        *,
        name: str | None = None,
        text: str | None = None,
        note: str | None = None,
        picture: str | None = None,
    ) -> KeptCloth:
        """Change a cloth of the drawer; what is None stays.

        Raises:
            NoSuchCloth: No cloth has this id.
            InputError: There is no name, or the text is not keys of a cloth.
            NoSuchPhoto: No such picture is kept.
            ClothConflict: The cloth's revision is not the newest, or it was taken out.
        """
        with self._database.writing() as writer:
            photos.check_there(self._photos, picture or "")
            given = {"name": name, "text": text, "note": note, "picture": picture}
            changed = {key: value for key, value in given.items() if value is not None}
            return cloths.change(writer, replace(cloths.get(writer, cloth), **changed), revision, self._at())

    def delete_cloth(self, cloth: str) -> None:
        """Take a cloth out of the drawer; ``restore_cloth`` puts it back."""
        with self._database.writing() as writer:
            cloths.put_away(writer, cloth, self._at(), deleted=True)

    def restore_cloth(self, cloth: str) -> KeptCloth:
        """Put a cloth back into the drawer."""
        with self._database.writing() as writer:
            return cloths.put_away(writer, cloth, self._at(), deleted=False)

    def keep_photo(self, data: bytes, suffix: str) -> str:
        """Keep a photograph on the disk, and return the digest to name it by; it is not decoded.

        Args:
            data: The file as it came.
            suffix: jpg, png or heic.

        Raises:
            InputError: It is too large, or not what the suffix says.
        """
        photos.check(data, suffix)
        with self._database.writing():  # no sweep at the same time, here or in another program
            return photos.keep(self._photos, data, suffix, self._now())

    def photo(self, digest: str) -> bytes:
        """Return a photograph as it was kept; raises NoSuchPhoto, also when the file is damaged."""
        return photos.read(self._photos, digest)

    def photo_path(self, digest: str) -> Path:
        """Return where a photograph lies; raises NoSuchPhoto."""
        return photos.path_of(self._photos, digest)

    def sweep_photos(self) -> tuple[str, ...]:
        """Let go of photographs that nothing names, and return their digests.

        What an undo step, version, make or cloth names stays, of deleted garments too; so does what
        was kept less than a day ago.
        """
        with self._database.writing() as writer:
            return photos.sweep(self._photos, photos.named(writer), self._now())

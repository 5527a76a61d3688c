"""The whole library as one zip, and a library from such a zip."""

import hashlib
import re
import secrets
import shutil
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from datetime import datetime
from pathlib import Path

from likesewn.errors import InputError, Problem
from likesewn.library import daily, photos
from likesewn.library.bundle import add_file, manifest
from likesewn.library.database import NAME, connect
from likesewn.library.durable import PART, file_errors, fsync_folder, make_folder, writing_whole
from likesewn.library.errors import LibraryDamaged, LibraryFull, NoSuchPhoto
from likesewn.library.schema import applied
from likesewn.library.unzipping import Limits, SafeZip, read_manifest, refuse, unzipping

__all__ = ["back_up", "unpack_backup"]

LIBRARY = "likesewn library"
"""What the manifest calls such a file."""

_PHOTO = re.compile(r"photos/([0-9a-f]{2})/(\1[0-9a-f]{62})\.(jpg|png|heic)")
_LIMITS = Limits(
    names={
        re.compile(r"manifest\.toml"): 2_000_000,
        re.compile(re.escape(NAME)): 64_000_000_000,
        _PHOTO: photos.MOST_BYTES,
    },
    files=1_000_000,
    total=1_000_000_000_000,
)


def back_up(
    connection: sqlite3.Connection, folder: Path, to: Path, at: datetime, way_back: Callable[[], str]
) -> None:
    """Write a library's database, as it is at one moment, and all its photographs as one zip.

    Args:
        connection: A connection that reads.
        folder: Where photographs are kept.
        to: The file to write; it takes this name only once it is whole.
        at: The time.
        way_back: What to tell of a damaged library.

    Raises:
        LibraryDamaged: The library is not whole; nothing was written.
        LibraryFull: There is no room left; nothing was written.
    """
    with file_errors(to):
        make_folder(to.parent)
        with daily.copied(connection, to.parent) as copy:
            wrong = daily.wrong_with(copy)
            if wrong:
                raise LibraryDamaged(f"this library is damaged ({wrong}). {way_back()}")
            with closing(connect(copy, "mode=ro&immutable=1")) as reader:
                named = photos.named(reader)
            with copy.open("rb") as file:
                digest = hashlib.file_digest(file, "sha256").hexdigest()
            entry = {"name": NAME, "bytes": copy.stat().st_size, "sha256": digest}
            with writing_whole(to) as out, zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as bundle:
                bundle.write(copy, NAME)
                written = _add_photos(bundle, folder, at)
                lost = sorted(named & _damaged(folder, written))
                text = manifest(LIBRARY, at, [entry], photos=len(written), damaged_photos=lost)
                add_file(bundle, "manifest.toml", text.encode("utf-8"), at)


def _add_photos(bundle: zipfile.ZipFile, folder: Path, at: datetime) -> set[str]:
    written: set[str] = set()
    for place in photos.kept(folder):
        try:
            data = photos.read(folder, place.stem)
        except NoSuchPhoto:
            continue  # swept meanwhile, or damaged
        add_file(bundle, f"photos/{place.parent.name}/{place.name}", data, at)
        written.add(place.stem)
    return written


def _damaged(folder: Path, written: set[str]) -> set[str]:
    return {place.stem for place in photos.kept(folder)} - written


def unpack_backup(data: bytes | Path, folder: Path) -> None:
    """Unpack a backup into a folder that is empty or not there; all of it or nothing.

    Raises:
        InputError: It is not a whole backup, or the folder holds something.
        LibraryFull: There is no room for it.
        LibraryNewer: It was written by a newer likesewn.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        problem = Problem(
            "there is something in this folder already", str(folder), todo="name a new or an empty folder"
        )
        raise InputError(problem)
    with file_errors(folder):
        if isinstance(data, Path) and not data.is_file():
            raise InputError(Problem("there is no such file", str(data)))
        make_folder(folder.parent)
        part = folder.parent / f".{secrets.token_hex(6)}{PART}"
        part.mkdir()
        try:
            with unzipping(data, _LIMITS) as opened:
                _unpack(opened, part)
            _check(part / NAME)
            if folder.exists():
                folder.rmdir()
            part.replace(folder)
        except BaseException:
            shutil.rmtree(part, ignore_errors=True)
            raise
        fsync_folder(folder.parent)


def _unpack(opened: SafeZip, part: Path) -> None:
    digests = read_manifest(opened, LIBRARY, unlisted=_PHOTO)
    if opened.size() > shutil.disk_usage(part).free:
        raise LibraryFull(
            f"there is no room for this backup: it takes {opened.size() / 1e6:.0f} MB. "
            "Make room on this disk, or name a folder on another"
        )
    if NAME not in digests:
        refuse("a file is missing in it", NAME)
    for name in opened.names():
        wanted = digests.get(name) or Path(name).stem
        if name == "manifest.toml":
            continue
        to = part / name
        make_folder(to.parent)
        digest = hashlib.sha256()
        with writing_whole(to) as file:
            for chunk in opened.chunks(name):
                digest.update(chunk)
                file.write(chunk)
        if digest.hexdigest() != wanted:
            refuse("a file in it is damaged or was changed", name)


def _check(database: Path) -> None:
    wrong = daily.wrong_with(database)
    if wrong:
        refuse("the library in it is damaged", wrong, todo="take an older backup")
    with closing(connect(database, "mode=ro&immutable=1")) as reader:
        applied(reader)
        odd = reader.execute("SELECT name FROM sqlite_schema WHERE type NOT IN ('table', 'index')").fetchone()
    if odd:
        refuse("the library in it holds what likesewn does not write", str(odd[0]))

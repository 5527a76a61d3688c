"""Writing files so that a crash or a lost current leaves either the old state or the new one, whole."""

import errno
import os
import secrets
from collections.abc import Generator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from likesewn.library.errors import LibraryError, LibraryFull, LibraryReadOnly

__all__ = ["PART", "file_errors", "fsync_folder", "make_folder", "writing_whole"]

PART = ".part"
"""Ending of a file that is still being written; one that was left over holds nothing that counts."""

_FULL = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG}
_BARRED = {errno.EROFS, errno.EACCES, errno.EPERM}


@contextmanager
def file_errors(place: Path) -> Generator[None]:
    """Tell what the system says of a file or folder as an error of the library."""
    try:
        yield
    except LibraryError:
        raise
    except OSError as error:
        if error.errno in _FULL:
            raise LibraryFull(
                f"there is no room left to write {place}; nothing was half saved. "
                "Make room on this disk, and try again"
            ) from error
        if error.errno in _BARRED:
            raise LibraryReadOnly(
                f"{place} may not be written or read; allow it for this user, or name another folder"
            ) from error
        raise LibraryError(f"{place} cannot be used: {error.strerror or error}") from error


def fsync_folder(folder: Path) -> None:
    """Make the names in a folder last; some systems do that by themselves and refuse to be asked."""
    with suppress(PermissionError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def make_folder(folder: Path) -> None:
    """Make a folder and those above it, and make their names last."""
    missing = [f for f in (folder, *folder.parents) if not f.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    for made in reversed(missing):
        fsync_folder(made.parent)


@contextmanager
def writing_whole(to: Path) -> Generator[BinaryIO]:
    """Open a file that takes the name ``to`` only once it is written whole and lies on the disk.

    Another file of that name is replaced in one step. When the block is left by an error, nothing
    remains of what was written.
    """
    part = to.with_name(f".{secrets.token_hex(6)}{PART}")
    try:
        with part.open("xb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        part.replace(to)
    except BaseException:
        with suppress(OSError):
            part.unlink()
        raise
    fsync_folder(to.parent)

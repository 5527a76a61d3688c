"""Opens zips that may come from anywhere: nothing is written, and nothing is read that was not looked at.

Refused are names that likesewn does not write (so no path can lead anywhere), links, names that occur
twice, encryption, unusual compression, more files or bytes than make sense, and files that differ from
what the manifest says of them.
"""

import hashlib
import lzma
import re
import stat
import struct
import zipfile
import zlib
from collections.abc import Generator, Iterator, Mapping
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path
from typing import NamedTuple, NoReturn, cast

from likesewn.errors import InputError, Problem
from likesewn.garment.toml_text import load_toml
from likesewn.library.bundle import FORMAT

__all__ = ["Limits", "SafeZip", "checked", "read_manifest", "refuse", "unzipping"]

MANIFEST = "manifest.toml"
_TODO = "write the file again with the likesewn that it came from, and bring that one"
_SHOWN = 60


class Limits(NamedTuple):
    """What a zip may be.

    Attributes:
        names: Which names there may be, each with the most bytes of such a file.
        files: Most files in it.
        total: Most bytes of all its files, unpacked.
        directory: Most bytes of its list of files, which is read whole; 0 for no such limit.
    """

    names: Mapping[re.Pattern[str], int]
    files: int
    total: int
    directory: int = 0


def refuse(message: str, found: str = "", *, allowed: str = "", todo: str = _TODO) -> NoReturn:
    """Refuse a zip, with what was found in it."""
    shown = "".join(c if c.isprintable() else "�" for c in found[:_SHOWN])
    raise InputError(Problem(message, shown, allowed=allowed, todo=todo))


class SafeZip:
    """A zip whose list of files was found in order."""

    def __init__(self, opened: zipfile.ZipFile, limits: Limits) -> None:
        self._zip = opened
        self._limits = limits
        infos = opened.infolist()
        if len(infos) > limits.files:
            refuse("this file holds too many files", str(len(infos)), allowed=f"at most {limits.files}")
        self._infos: dict[str, zipfile.ZipInfo] = {}
        seen: set[str] = set()
        for info in infos:
            self._look_at(info)
            if info.filename.casefold() in seen:
                refuse("a name is in this file twice", info.filename)
            seen.add(info.filename.casefold())
            self._infos[info.filename] = info
        total = sum(info.file_size for info in infos)
        if total > limits.total:
            found, allowed = f"{total / 1e6:.0f} MB unpacked", f"at most {limits.total / 1e6:.0f} MB"
            refuse("this file is too large", found, allowed=allowed)

    def _look_at(self, info: zipfile.ZipInfo) -> None:
        name, mode = info.orig_filename, info.external_attr >> 16
        if stat.S_IFMT(mode) not in {0, stat.S_IFREG}:
            refuse("there is a link or a folder in this file where only files belong", name)
        if name != info.filename or self._most(name) is None:
            refuse("there is a file in it that does not belong here", name)
        if info.flag_bits & 0x1:
            refuse("a file in it is encrypted", name)
        if info.compress_type not in {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}:
            refuse("a file in it is packed in a way that likesewn does not write", name)
        most = self._most(name) or 0
        if info.file_size > most:
            found = f"{name}: {info.file_size / 1e6:.1f} MB"
            refuse("a file in it is too large", found, allowed=f"at most {most / 1e6:.1f} MB")

    def _most(self, name: str) -> int | None:
        return next((most for names, most in self._limits.names.items() if names.fullmatch(name)), None)

    def names(self) -> tuple[str, ...]:
        """Return the names of all files."""
        return tuple(self._infos)

    def size(self) -> int:
        """Return the bytes of all files, unpacked."""
        return sum(info.file_size for info in self._infos.values())

    def read(self, name: str) -> bytes:
        """Return a file whole; it was seen to be of a size that makes sense."""
        if name not in self._infos:
            refuse("a file is missing in it", name)
        return b"".join(self.chunks(name))

    def chunks(self, name: str) -> Iterator[bytes]:
        """Yield a file in parts."""
        left = self._infos[name].file_size
        with self._zip.open(self._infos[name]) as file:
            while part := file.read(1 << 20):
                left -= len(part)
                if left < 0:
                    refuse("a file in it is longer than it says", name)
                yield part


@contextmanager
def unzipping(data: bytes | Path, limits: Limits) -> Generator[SafeZip]:
    """Open a zip, and tell whatever is wrong with it as an InputError."""
    source = BytesIO(data) if isinstance(data, bytes) else data
    try:
        if limits.directory and isinstance(data, bytes):
            _look_at_end(data, limits)
        with zipfile.ZipFile(source) as opened:
            yield SafeZip(opened, limits)
    except InputError:
        raise
    except (
        zipfile.BadZipFile,
        zipfile.LargeZipFile,
        zlib.error,
        lzma.LZMAError,
        struct.error,
        EOFError,
        NotImplementedError,
        OverflowError,
        ValueError,  # of a place before the start, and of text that is none
        RuntimeError,
    ) as error:
        refuse("this is not a whole zip file", str(error))


def _look_at_end(data: bytes, limits: Limits) -> None:
    """See that the list of files is short before anything reads it.

    The end record: APPNOTE.TXT of the ZIP format, 4.3.16; 64-bit records (4.3.14) are never needed here.
    """
    tail = data[-(22 + 65535) :]
    at = tail.rfind(b"PK\5\6")
    if at < 0 or len(tail) - at < 22:
        refuse("this is not a zip file, or its end is missing", f"{len(data)} bytes")
    size = struct.unpack_from("<I", tail, at + 12)[0]
    if size > limits.directory or b"PK\6\7" in tail[max(0, at - 20) : at]:
        refuse("the list of files in it is too long", f"{size} bytes")


def read_manifest(opened: SafeZip, what: str, unlisted: re.Pattern[str] | None = None) -> dict[str, str]:
    """Return the digest of each file that a zip's manifest names; ``unlisted`` ones it need not name.

    Raises:
        InputError: It is no manifest of this, or of a newer layout, or names other files than there are.
    """
    values, _ = load_toml(opened.read(MANIFEST), MANIFEST)
    if values.get("what") != what:
        refuse(
            f"this is not a file of a {what}", str(values.get("what", "nothing said")), todo="choose another"
        )
    number = values.get("format")
    if not isinstance(number, int) or isinstance(number, bool) or not 1 <= number <= FORMAT:
        newer = isinstance(number, int) and number > FORMAT
        todo = "update likesewn, and try again" if newer else _TODO
        refuse("this file is of a format that is not known here", str(number), allowed=str(FORMAT), todo=todo)
    digests: dict[str, str] = {}
    files = values.get("file")
    for entry in cast("list[object]", files) if isinstance(files, list) else []:
        table = cast("dict[str, object]", entry) if isinstance(entry, dict) else {}
        digests[str(table.get("name"))] = str(table.get("sha256"))
    extra = [name for name in opened.names() if not (name in digests or _goes_without(name, unlisted))]
    missing = [name for name in digests if name not in opened.names()]
    if extra or missing:
        refuse("its files are not those that its manifest names", ", ".join((extra + missing)[:5]))
    return digests


def _goes_without(name: str, unlisted: re.Pattern[str] | None) -> bool:
    return name == MANIFEST or (unlisted is not None and unlisted.fullmatch(name) is not None)


def checked(opened: SafeZip, name: str, digest: str) -> bytes:
    """Return a file that is as the manifest says."""
    data = opened.read(name)
    if hashlib.sha256(data).hexdigest() != digest:
        refuse("a file in it is damaged or was changed", name)
    return data

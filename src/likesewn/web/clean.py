"""Takes everything out of a photograph's file but the picture: place, time, camera, owner, remarks.

The pixels of JPEG and PNG are passed on as they came, byte for byte, without being unpacked: segments and
chunks are read, and only those that the picture itself needs are written again. Two notes are kept, because
the picture cannot be shown or measured as well without: which way up it is, and the focal length as for 35 mm
film. HEIC has to be unpacked, which the studio does in a process of its own.

JPEG: ITU-T T.81, annex B. PNG: ISO/IEC 15948, clause 11. Notes: Exif 2.32 (CIPA DC-008), clause 4.6.
"""

import re
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass

from likesewn.errors import InputError
from likesewn.pictures import damaged, no_picture, sort_of

__all__ = ["Notes", "clean", "exif"]

_ORIENTATION, _EXIF_FOLDER, _FOCAL_35 = 0x0112, 0x8769, 0xA405
_SHORT, _LONG = 3, 4
_MOST_ENTRIES = 1000

_PNG = b"\x89PNG\r\n\x1a\n"
_CHUNKS = {b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"}

_SOI, _EOI, _SOS, _APP0, _APP1, _APP14 = 0xD8, 0xD9, 0xDA, 0xE0, 0xE1, 0xEE
_PLAIN_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC8}  # frames (SOF) with DHT (C4) and DAC (CC)
_KEPT = _PLAIN_FRAMES | {0xDB, 0xDC, 0xDD}  # DQT, DNL, DRI
_ALONE = frozenset({0x01, *range(0xD0, 0xD8)})
_END_OF_RUN = re.compile(rb"\xff[^\x00\xd0-\xd7\xff]", re.DOTALL)
_JFIF = b"JFIF\x00\x01\x02\x00\x00\x01\x00\x01\x00\x00"
_XMP_ORIENTATION = re.compile(rb"tiff:Orientation(?:=\"|>)([1-8])")


@dataclass(frozen=True, slots=True)
class Notes:
    """What is kept of a picture's notes.

    Attributes:
        orientation: Which way up it is, 1 to 8 as Exif counts; 1 for upright.
        focal_35: Focal length as for 35 mm film, mm; 0 where the camera noted none.
    """

    orientation: int = 1
    focal_35: int = 0


def clean(data: bytes, name: str) -> tuple[bytes, str]:
    """Return a JPEG or PNG file without any notes, and the suffix that goes with it.

    Args:
        data: The file's content.
        name: What it is called, for messages.

    Raises:
        InputError: It is neither, or breaks off.
    """
    sort = sort_of(data)
    try:
        if sort == "jpg":
            return _clean_jpeg(data), sort
        if sort == "png":
            return _clean_png(data), sort
    except (struct.error, IndexError, ValueError):
        raise InputError(damaged(data, name)) from None
    raise InputError(no_picture(data, name))


def exif(notes: Notes) -> bytes:
    """Return notes as an Exif block (TIFF, without the name that a JPEG puts before it); empty for none."""
    if notes == Notes():
        return b""
    entries = [(_ORIENTATION, _SHORT, notes.orientation)]
    folder = b""
    if notes.focal_35:
        at = 8 + 2 + 12 * 2 + 4
        entries.append((_EXIF_FOLDER, _LONG, at))
        folder = _table([(_FOCAL_35, _SHORT, notes.focal_35)])
    return b"MM\x00\x2a\x00\x00\x00\x08" + _table(entries) + folder


def _table(entries: list[tuple[int, int, int]]) -> bytes:
    out = struct.pack(">H", len(entries))
    for tag, sort, value in entries:
        held = struct.pack(">HH", value, 0) if sort == _SHORT else struct.pack(">I", value)
        out += struct.pack(">HHI", tag, sort, 1) + held
    return out + b"\x00\x00\x00\x00"


# --- JPEG ---------------------------------------------------------------------------------------------------


def _clean_jpeg(data: bytes) -> bytes:
    kept: list[bytes] = []
    noted, xmp, jfif = b"", 0, False
    for marker, segment in _segments(data):
        body = segment[4:]
        if marker == _APP0 and body.startswith(b"JFIF\x00"):
            jfif = True
        elif marker == _APP1 and body.startswith(b"Exif\x00"):
            noted = noted or body[6:]
        elif marker == _APP1 and (found := _XMP_ORIENTATION.search(body)):
            xmp = int(found[1])
        elif marker == _APP14 and body.startswith(b"Adobe") and len(body) >= 12:
            # how colours are stored; anything after these 12 bytes is no part of that
            kept.append(struct.pack(">BBH", 0xFF, _APP14, 14) + body[:12])
        elif marker in _KEPT or marker in {_SOS, _EOI}:
            kept.append(segment)
    block = exif(_notes(noted, xmp))
    head = b"\xff\xd8"
    if jfif:
        head += struct.pack(">BBH", 0xFF, _APP0, len(_JFIF) + 2) + _JFIF
    if block:
        head += struct.pack(">BBH", 0xFF, _APP1, len(block) + 8) + b"Exif\x00\x00" + block
    return head + b"".join(kept)


def _segments(data: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield each marker with its whole segment, coded picture lines with the scan that they belong to.

    Ends at the picture's end: what follows there (a second picture, a film) is no part of it.
    """
    at = 2
    while True:
        at = data.index(b"\xff", at) if b"\xff" in data[at : at + 65536] else _broken()
        while data[at + 1] == 0xFF:
            at += 1
        marker = data[at + 1]
        if marker == _EOI:
            yield marker, b"\xff\xd9"
            return
        if marker in _ALONE or marker in {0x00, _SOI}:
            at += 2
            continue
        (length,) = struct.unpack_from(">H", data, at + 2)
        end = at + 2 + length
        if length < 2 or end > len(data):
            _broken()
        if marker == _SOS:
            found = _END_OF_RUN.search(data, end)
            end = found.start() if found else _broken()
        yield marker, data[at:end]
        at = end


def _broken() -> int:
    raise IndexError


def _notes(block: bytes, xmp_orientation: int = 0) -> Notes:
    """Read an Exif block; damaged notes are no reason to refuse a sound picture, and count as none."""
    order = {b"II": "<", b"MM": ">"}.get(block[:2])
    first: dict[int, int] = {}
    inner: dict[int, int] = {}
    if order:
        try:
            (at,) = struct.unpack_from(f"{order}I", block, 4)
            first = _read_table(block, at, order)
            if _EXIF_FOLDER in first:
                inner = _read_table(block, first[_EXIF_FOLDER], order)
        except struct.error:
            pass
    orientation = first.get(_ORIENTATION) or xmp_orientation
    focal = inner.get(_FOCAL_35, 0)
    return Notes(orientation if 1 <= orientation <= 8 else 1, focal if 0 < focal < 65536 else 0)


def _read_table(block: bytes, at: int, order: str) -> dict[int, int]:
    """Return the whole numbers of a table of notes by tag."""
    (count,) = struct.unpack_from(f"{order}H", block, at)
    out: dict[int, int] = {}
    for i in range(min(count, _MOST_ENTRIES)):
        tag, sort, many = struct.unpack_from(f"{order}HHI", block, at + 2 + 12 * i)
        if many == 1 and sort in {_SHORT, _LONG}:
            form = "H" if sort == _SHORT else "I"
            (out[tag],) = struct.unpack_from(f"{order}{form}", block, at + 2 + 12 * i + 8)
    return out


# --- PNG ----------------------------------------------------------------------------------------------------


def _clean_png(data: bytes) -> bytes:
    kept: list[tuple[bytes, bytes]] = []
    noted, xmp, at = b"", 0, len(_PNG)
    while True:
        length, sort = struct.unpack_from(">I4s", data, at)
        end = at + 12 + length
        if end > len(data):
            _broken()
        body = data[at + 8 : at + 8 + length]
        if sort == b"eXIf":
            noted = noted or body
        elif sort == b"iTXt" and (found := _XMP_ORIENTATION.search(body)):
            xmp = int(found[1])
        elif sort in _CHUNKS:
            kept.append((sort, data[at:end]))
        at = end
        if sort == b"IEND":
            break
    block = exif(_notes(noted, xmp))
    out = [_PNG]
    for i, (_, chunk) in enumerate(kept):
        out.append(chunk)
        if i == 0 and block:
            sum_ = zlib.crc32(b"eXIf" + block)
            out.append(struct.pack(">I4s", len(block), b"eXIf") + block + struct.pack(">I", sum_))
    return b"".join(out)

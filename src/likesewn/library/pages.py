"""Rows out of the pages of a SQLite file one by one, for a file that SQLite itself no longer reads.

Follows the published file format (https://www.sqlite.org/fileformat2.html, sections 1.3 header, 1.6
b-tree pages, 1.7 overflow pages, 2.1 records, 4.1 write-ahead log). A page that is no leaf of a table, a
row whose figures make no sense and a chain of overflow pages that breaks are passed over. Rows of pages
that the file has let go of are found too: the caller tells the newest.
"""

import struct
from collections.abc import Iterator

__all__ = ["Value", "rows"]

Value = int | float | str | bytes | None

LEAF = 0x0D
MOST_PAYLOAD = 20_000_000
"""Bytes of the largest row that is believed."""

_USUAL_PAGE = 4096


def rows(file: bytes, log: bytes = b"") -> Iterator[tuple[int, tuple[Value, ...]]]:
    """Yield row number and values of every row of every table that can be read.

    Args:
        file: The database's bytes.
        log: Those of its write-ahead log; its pages stand in for the file's.
    """
    size = _page_size(file, log)
    pages = {n + 1: file[n * size : (n + 1) * size] for n in range(len(file) // size)}
    pages |= dict(_logged(log, size))
    for number in sorted(pages):
        yield from _leaf(pages, number, size)


def _page_size(file: bytes, log: bytes) -> int:
    sizes: list[int] = []
    if len(log) >= 32:
        sizes.append(struct.unpack_from(">I", log, 8)[0])
    if len(file) >= 100 and file.startswith(b"SQLite format 3\0"):
        size = struct.unpack_from(">H", file, 16)[0]
        sizes.append(65536 if size == 1 else size)
    return next((s for s in sizes if 512 <= s <= 65536 and not s & (s - 1)), _USUAL_PAGE)


def _logged(log: bytes, size: int) -> Iterator[tuple[int, bytes]]:
    """Yield the pages of a log in order: those that belong to its present run, told by its salt."""
    salt = log[16:24]
    for at in range(32, len(log) - 24 - size + 1, 24 + size):
        if log[at + 8 : at + 16] == salt:
            yield struct.unpack_from(">I", log, at)[0], log[at + 24 : at + 24 + size]


def _leaf(pages: dict[int, bytes], number: int, size: int) -> Iterator[tuple[int, tuple[Value, ...]]]:
    page = pages[number]
    start = 100 if number == 1 else 0
    if len(page) < size or page[start] != LEAF:
        return
    count = struct.unpack_from(">H", page, start + 3)[0]
    for n in range(min(count, (size - start - 8) // 2)):
        at = struct.unpack_from(">H", page, start + 8 + 2 * n)[0]
        try:
            yield _row(pages, page, at, size)
        except (IndexError, ValueError, struct.error):
            continue


def _row(pages: dict[int, bytes], page: bytes, at: int, size: int) -> tuple[int, tuple[Value, ...]]:
    length, at = _varint(page, at)
    number, at = _varint(page, at)
    if not 0 < length <= MOST_PAYLOAD:
        raise ValueError("a row of no likely length")
    most, least = size - 35, (size - 12) * 32 // 255 - 23
    local = length
    if length > most:
        local = least + (length - least) % (size - 4)
        local = local if local <= most else least
    payload = bytearray(page[at : at + local])
    following = struct.unpack_from(">I", page, at + local)[0] if local < length else 0
    while len(payload) < length:
        more = pages.get(following, b"")
        if len(more) < size:
            raise ValueError("a chain of pages that breaks")
        payload += more[4 : 4 + length - len(payload)]
        following = struct.unpack_from(">I", more)[0]
    if len(payload) != length:
        raise ValueError("a row that goes beyond its page")
    return number, _record(bytes(payload))


def _varint(data: bytes, at: int) -> tuple[int, int]:
    value = 0
    for n in range(9):
        byte = data[at + n]
        if n == 8:
            return (value << 8) | byte, at + 9
        value = (value << 7) | (byte & 0x7F)
        if byte < 0x80:
            return value, at + n + 1
    raise AssertionError("the ninth byte ends it")


_INTEGERS = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}


def _record(payload: bytes) -> tuple[Value, ...]:
    end, at = _varint(payload, 0)
    if end > len(payload):
        raise ValueError("a heading longer than its row")
    kinds: list[int] = []
    while at < end:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    values: list[Value] = []
    at = end
    for kind in kinds:
        value, at = _value(payload, at, kind)
        values.append(value)
    if at != len(payload):
        raise ValueError("a row that is longer or shorter than its heading says")
    return tuple(values)


def _value(payload: bytes, at: int, kind: int) -> tuple[Value, int]:
    if kind in {0, 8, 9}:
        return (None if kind == 0 else kind - 8), at
    if kind == 7:
        return struct.unpack_from(">d", payload, at)[0], at + 8
    if kind in _INTEGERS:
        length = _INTEGERS[kind]
        return int.from_bytes(payload[at : at + length], "big", signed=True), at + length
    if kind < 12:
        raise ValueError("a kind of value that no file holds")
    length = (kind - 12) // 2
    data = payload[at : at + length]
    return (data if kind % 2 == 0 else data.decode("utf-8")), at + length

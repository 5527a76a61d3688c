"""Changes single values of a garment file and keeps everything else as its writer left it."""

import re
import tomllib
from collections.abc import Mapping, MutableMapping, Sequence
from typing import Any, cast

import tomlkit
from tomlkit.exceptions import TOMLKitError

from likesewn.errors import InputError, Problem
from likesewn.garment.toml_text import load_toml
from likesewn.garment.writing import toml_key

__all__ = ["Change", "update_garment"]

Change = (
    str
    | bool
    | int
    | float
    | Sequence[Sequence[float | str]]
    | Sequence[Sequence[Sequence[float | str]]]
    | None
)
"""A new value as TOML has it; None takes the key away."""

_HEADER = re.compile(
    r"^[ \t]*\[{1,2}[ \t]*(?P<name>[A-Za-z_][A-Za-z0-9_.-]*)[ \t]*\]{1,2}[ \t]*(?:#.*)?$", re.MULTILINE
)
"""The header of a table whose name needs no quotes."""

_PART = re.compile(r'(?:"(?P<quoted>[^"]*)"|(?P<bare>[^."\[\]]+))(?:\[(?P<entry>[0-9]+)\])?(?:\.|$)')


def update_garment(text: str, changes: Mapping[str, Change]) -> str:
    """Return the text of a garment file with some of its values changed.

    Remarks, order and spacing stay. A key that waits in its table as a remark (``# hem_width = ""``)
    is written in that place, under the words that explain it; other new keys go to the end of their
    table, and new tables to the end of the file. The result is not checked against the kind: read it.

    Args:
        text: The file's text.
        changes: New values by dotted key: ``tape.chest_width``, ``ease."front armhole"``,
            ``points[2].sigma`` (counting from 1). None takes a key away.

    Raises:
        InputError: The text is not TOML, or a dotted key leads nowhere.
    """
    _check(text)
    for key, value in changes.items():
        path = _path(key)
        text = _fill_in(text, path) if value is not None else text
        start, end, inside = _section(text, path)
        try:
            changed = _changed(text[start:end], inside, value, key)
        except TOMLKitError:
            start, end = 0, len(text)  # the section does not stand by itself
            try:
                changed = _changed(text, path, value, key)
            except TOMLKitError as error:
                raise InputError(Problem("this value cannot be changed", found=str(error), key=key)) from None
        text = text[:start] + changed + text[end:]
    return text


def _check(text: str) -> None:
    """Refuse what is not TOML; what is wrong with it is only looked for where something is."""
    try:
        tomllib.loads(text)
    except ValueError:
        load_toml(text)
        raise


def _changed(text: str, path: list[str | int], value: Change, key: str) -> str:
    document = tomlkit.parse(text)
    _change(cast("MutableMapping[str, Any]", document), path, value, key)
    return tomlkit.dumps(document)  # pyright: ignore[reportUnknownMemberType]


def _section(text: str, path: list[str | int]) -> tuple[int, int, list[str | int]]:
    """Return where the table of a key starts and ends, and the key's path in that part alone.

    A file with traced points is long, and only the table that changes needs to be taken apart. The whole
    text is returned where the table is not there, or is not written under one plain header of its own.
    """
    whole = (0, len(text), path)
    if '"""' in text or "'''" in text:
        return whole  # a header may be part of a text of several lines
    entry = path[1] if len(path) > 1 and isinstance(path[1], int) else None
    names = path[:1] if entry is not None else path[:-1]
    if not names or not all(isinstance(name, str) for name in names):
        return whole
    wanted = ".".join(str(name) for name in names)
    headers = list(_HEADER.finditer(text))
    found = [i for i, header in enumerate(headers) if header["name"] == wanted]
    if entry is None:
        if len(found) != 1:
            return whole
        here = found[0]
    elif entry < len(found):
        here, path = found[entry], [path[0], 0, *path[2:]]
    else:
        return whole
    end = headers[here + 1].start() if here + 1 < len(headers) else len(text)
    return headers[here].start(), end, path


def _path(key: str) -> list[str | int]:
    path: list[str | int] = []
    at = 0
    while at < len(key):
        part = _PART.match(key, at)
        if part is None:
            raise _nowhere(key)
        path.append(part["bare"] if part["quoted"] is None else part["quoted"])
        if part["entry"]:
            path.append(int(part["entry"]) - 1)
        at = part.end()
    if not path or isinstance(path[-1], int):
        raise _nowhere(key)
    return path


def _nowhere(key: str) -> InputError:
    return InputError(
        Problem("this key leads nowhere in the file", key=key, allowed="tape.chest_width, points[1].at")
    )


def _fill_in(text: str, path: list[str | int]) -> str:
    """Take the # from the line that waits for this key in its table, if there is one."""
    if len(path) != 2 or not isinstance(path[1], str):
        return text
    assignment = re.escape(toml_key(path[1])) + r"\s*="
    rows = text.split("\n")
    table = ""
    waiting = -1
    for i, row in enumerate(rows):
        header = re.match(r"\s*\[+\s*([^\]]*?)\s*\]", row)
        table = header[1] if header else table
        if table != path[0]:
            continue
        if re.match(rf"\s*{assignment}", row):
            return text
        if waiting < 0 and re.match(rf"#\s*{assignment}\s*\S", row):
            waiting = i
    if waiting >= 0:
        rows[waiting] = rows[waiting].lstrip("# ")
    return "\n".join(rows)


def _change(document: MutableMapping[str, Any], path: list[str | int], value: Change, key: str) -> None:
    place: object = document
    for part in path[:-1]:
        if isinstance(part, str) and isinstance(place, MutableMapping):
            table = cast("MutableMapping[str, object]", place)
            if part not in table:
                if value is None:
                    return
                table[part] = tomlkit.table()
            place = table[part]
        elif isinstance(part, int) and isinstance(place, list):
            entries = cast("list[object]", place)
            if part >= len(entries):
                raise _nowhere(key)
            place = entries[part]
        else:
            raise _nowhere(key)
    if not isinstance(place, MutableMapping):
        raise _nowhere(key)
    table = cast("MutableMapping[str, object]", place)
    if value is None:
        table.pop(str(path[-1]), None)
    else:
        table[str(path[-1])] = value

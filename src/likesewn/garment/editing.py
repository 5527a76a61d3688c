"""Changes single values of a garment file and keeps everything else as its writer left it."""

import re
from collections.abc import Mapping, MutableMapping, Sequence
from typing import Any, cast

import tomlkit
from tomlkit.exceptions import TOMLKitError

from likesewn.errors import InputError, Problem
from likesewn.garment.toml_text import load_toml
from likesewn.garment.writing import toml_key

__all__ = ["Change", "update_garment"]

Change = str | bool | int | float | Sequence[Sequence[float | str]] | None
"""A new value as TOML has it; None takes the key away."""

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
    load_toml(text)
    for key, value in changes.items():
        path = _path(key)
        text = _fill_in(text, path) if value is not None else text
        try:
            document = tomlkit.parse(text)
            _change(cast("MutableMapping[str, Any]", document), path, value, key)
        except TOMLKitError as error:
            raise InputError(Problem("this value cannot be changed", found=str(error), key=key)) from None
        text = tomlkit.dumps(document)  # pyright: ignore[reportUnknownMemberType]
    return text


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

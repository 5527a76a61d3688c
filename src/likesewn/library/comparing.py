"""Tells two texts of one garment apart, key by key."""

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from typing import cast

from likesewn.garment.toml_lines import dotted
from likesewn.garment.toml_text import load_toml

__all__ = ["Change", "compare"]

TomlPath = tuple[str | int, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """One key that differs.

    Attributes:
        key: The dotted key, entries counted from 1: ``tape.chest_width``, ``points[2].at``. An entry
            that is gone is counted as it was before.
        before: Its value as written, without quotes; of points, how many; empty where it was missing.
        after: Likewise.
    """

    key: str
    before: str
    after: str


def compare(before: str, after: str) -> tuple[Change, ...]:
    """Return what differs between two garment files, in the order of the later one; remarks do not count.

    Entries of a table that is written more than once (``[[points]]``) are matched by what they are of,
    so that taking one away does not make those after it differ.

    Raises:
        InputError: One of them is not TOML.
    """
    return tuple(_tables((), _read(before), _read(after)))


def _read(text: str) -> dict[str, object]:
    load_toml(text)  # for its words on what is not TOML
    plain = text.replace("\r\n", "\n").removeprefix("\ufeff")
    return tomllib.loads(plain, parse_float=_Written)


class _Written(str):
    """A number with a point as it is written, 52.50, which a float would not keep."""

    __slots__ = ()


def _tables(path: TomlPath, before: Mapping[str, object], after: Mapping[str, object]) -> Iterator[Change]:
    for name in (*after, *(name for name in before if name not in after)):
        yield from _values((*path, name), before.get(name), after.get(name))


def _values(path: TomlPath, before: object, after: object) -> Iterator[Change]:
    tables = _table(before), _table(after)
    if tables[0] is not None and tables[1] is not None:
        yield from _tables(path, tables[0], tables[1])
        return
    rows = _entries(before), _entries(after)
    if rows[0] is not None and rows[1] is not None:
        yield from _listed(path, rows[0], rows[1])
    elif before != after or isinstance(before, bool) != isinstance(after, bool):  # false equals 0 here
        yield Change(dotted(path), _shown(before), _shown(after))


def _table(value: object) -> dict[str, object] | None:
    """Return a table, an empty one where there is nothing; None for any other value."""
    if value is None:
        return {}
    return cast("dict[str, object]", value) if isinstance(value, dict) else None


def _list(value: object) -> list[object] | None:
    return cast("list[object]", value) if isinstance(value, list) else None


def _entries(value: object) -> list[dict[str, object]] | None:
    """Return the entries of a table that is written more than once; None for any other value."""
    rows = _list(value) or ([] if value is None else None)
    if rows is None or not all(isinstance(row, dict) for row in rows):
        return None
    return cast("list[dict[str, object]]", rows)


def _listed(
    path: TomlPath, before: Sequence[dict[str, object]], after: Sequence[dict[str, object]]
) -> Iterator[Change]:
    """Match entries by the values that say what they are of, then by their order."""
    olds, news = [_of(entry) for entry in before], [_of(entry) for entry in after]
    for what, i, i_end, j, j_end in SequenceMatcher(None, olds, news, autojunk=False).get_opcodes():
        both = min(i_end - i, j_end - j) if what in {"equal", "replace"} else 0
        for n in range(both):
            yield from _tables((*path, j + n), before[i + n], after[j + n])
        for n in range(i + both, i_end):
            yield Change(dotted((*path, n)), _shown(before[n]), "")
        for n in range(j + both, j_end):
            yield Change(dotted((*path, n)), "", _shown(after[n]))


def _of(entry: Mapping[str, object]) -> tuple[tuple[str, str], ...]:
    return tuple(
        sorted((k, v) for k, v in entry.items() if isinstance(v, str) and not isinstance(v, _Written))
    )


def _shown(value: object) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, dict):
        parts = (f"{k} {_shown(v)}" for k, v in cast("dict[str, object]", value).items())
        return ", ".join(parts) or "an empty table"
    rows = _list(value)
    if rows is not None:
        return _counted(rows) or ", ".join(_shown(row) for row in rows) or "none"
    return str(value)


def _counted(rows: list[object]) -> str:
    """Return how many points or outlines a list is; empty where it is a list of something else."""
    inner = [_list(row) for row in rows]
    if not inner or None in inner:
        return ""
    what = "outline" if any(_list(figure) is not None for figure in inner[0] or ()) else "point"
    return f"{len(rows)} {what}{'' if len(rows) == 1 else 's'}"

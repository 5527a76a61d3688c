"""Whether the values of a kind's file are of the sorts that a kind is made of, before one is built.

What a table may hold follows from the fields of the class that is made of it: their names, their types, and
which have a value of their own.
"""

import types
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import MISSING, dataclass, fields, is_dataclass
from functools import cache
from math import isfinite
from typing import Any, Union, cast, get_args, get_origin, get_type_hints

from likesewn.errors import Problem
from likesewn.garment.problems import nearest, shown

__all__ = ["Each", "Many", "Table", "faults", "table_of"]

_WORDS = {str: "text", int: "a whole number", float: "a number", bool: "true or false"}


@dataclass(frozen=True, slots=True)
class Table:
    """A table of a file: the sort of value of each key, and the keys that have to be there."""

    keys: Mapping[str, Any]
    needed: frozenset[str]


@dataclass(frozen=True, slots=True)
class Each:
    """A table under whose keys, whatever they are, stand values of one sort."""

    sort: Any


@dataclass(frozen=True, slots=True)
class Many:
    """A list of values of one sort."""

    sort: Any


def table_of(cls: type, without: Sequence[str] = (), **other: object) -> Table:
    """Return the table that a dataclass is made of.

    Args:
        cls: The class.
        without: Fields that the file does not give as keys.
        other: Sorts of value that differ from those of the fields of that name.
    """
    hints, known = get_type_hints(cls), [f for f in fields(cls) if f.name not in without]
    needed = {f.name for f in known if f.default is MISSING and f.default_factory is MISSING}
    return Table({f.name: other.get(f.name, hints[f.name]) for f in known}, frozenset(needed))


@cache
def _table(cls: type) -> Table:
    return table_of(cls)


def faults(value: object, sort: Any, key: str) -> Iterator[Problem]:  # noqa: ANN401 - types are of no one type
    """Yield what is wrong with a value read from TOML.

    Args:
        value: The value.
        sort: What it should be: a plain type, a tuple or mapping of sorts, a dataclass, or ``Table``,
            ``Each`` or ``Many``.
        key: Where it stands, as a dotted key.
    """
    origin, args = get_origin(sort), get_args(sort)
    if origin in {Union, types.UnionType}:
        sort = next(arg for arg in args if arg is not type(None))
        origin, args = get_origin(sort), get_args(sort)
    if isinstance(sort, type) and is_dataclass(sort):
        sort = _table(cast("type", sort))
    if isinstance(sort, Table):
        yield from _in_table(value, sort, key)
    elif isinstance(sort, Many):
        yield from _in_list(value, (sort.sort, ...), key)
    elif origin is tuple:
        yield from _in_list(value, args, key)
    elif isinstance(sort, Each) or origin is Mapping:
        yield from _in_each(value, sort.sort if isinstance(sort, Each) else args[1], key)
    elif not _plain(value, cast("type", sort)):
        yield _wrong(value, _WORDS[cast("type", sort)], key)


def _plain(value: object, sort: type) -> bool:
    if sort is float:
        return isinstance(value, int | float) and not isinstance(value, bool) and isfinite(value)
    return isinstance(value, sort) and (sort is bool or not isinstance(value, bool))


def _in_table(value: object, table: Table, key: str) -> Iterator[Problem]:
    if not isinstance(value, dict):
        yield _wrong(value, f"a table with {', '.join(sorted(table.needed or table.keys))}", key)
        return
    held = cast("dict[str, object]", value)
    start = f"{key}." if key else ""
    for name, one in held.items():
        if name in table.keys:
            yield from faults(one, table.keys[name], start + name)
        else:
            known = ", ".join(sorted(table.keys))
            yield Problem(
                "this key is not known", key=start + name, allowed=known, nearest=nearest(name, table.keys)
            )
    for name in sorted(table.needed - set(held)):
        yield Problem("this key is missing", key=start + name, allowed=_named(table.keys[name]))


def _in_each(value: object, sort: Any, key: str) -> Iterator[Problem]:  # noqa: ANN401 - as above
    if not isinstance(value, dict):
        yield _wrong(value, "a table", key)
        return
    for name, one in cast("dict[str, object]", value).items():
        yield from faults(one, sort, f"{key}.{name}")


def _in_list(value: object, args: tuple[Any, ...], key: str) -> Iterator[Problem]:
    any_number = args[-1] is Ellipsis
    held = cast("list[object]", value) if isinstance(value, list) else None
    if held is None or not (any_number or len(held) == len(args)):
        allowed = "a list" if any_number else f"a list of {len(args)}"
        yield _wrong(cast("object", value), allowed, key)
        return
    for i, one in enumerate(held):
        yield from faults(one, args[0] if any_number else args[i], f"{key}[{i + 1}]")


def _named(sort: Any) -> str:  # noqa: ANN401 - types are of no one type
    if isinstance(sort, type) and sort in _WORDS:
        return _WORDS[sort]
    return "a list" if get_origin(sort) is tuple or isinstance(sort, Many) else "a table"


def _wrong(value: object, allowed: str, key: str) -> Problem:
    return Problem("this is of another sort than it should be", found=shown(value), key=key, allowed=allowed)

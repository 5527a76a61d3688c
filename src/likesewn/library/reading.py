"""What the library takes from a garment's text when it is saved, and which texts it refuses."""

import tomllib
from contextlib import suppress
from dataclasses import dataclass
from functools import lru_cache
from typing import cast

from likesewn.errors import InputError, Problem
from likesewn.garment import kind_names, load_kind
from likesewn.garment.toml_lines import DEEPEST
from likesewn.garment.toml_text import MOST_BYTES, load_toml
from likesewn.library.packing import clean, folded

__all__ = ["Told", "read_text"]


@dataclass(frozen=True, slots=True)
class Told:
    """What a garment file says about itself, for the shelf.

    Attributes:
        name: Its name, or its kind's title, or its kind.
        kind: Name of its kind.
        size: Its size, or empty.
        wearer: Its wearer's name, or empty.
        words: All of these as a search compares them.
    """

    name: str
    kind: str
    size: str
    wearer: str
    words: str


@lru_cache(maxsize=16)
def read_text(text: str) -> Told:
    """Read what a garment file says about itself; figures are not judged.

    Raises:
        InputError: It is not TOML, or does not say which kind of garment it is of.
    """
    values = _read_quickly(text)
    kind = clean(_word(values, "garment", "kind"))
    if not kind:
        values, lines = load_toml(text)
        kind = clean(_word(values, "garment", "kind"))
        if not kind:
            raise _without_kind(lines.near(("garment", "kind")))
    title = ""
    with suppress(KeyError):
        title = load_kind(kind).title
    name = clean(_word(values, "garment", "name")) or title or kind
    size, wearer = clean(_word(values, "garment", "size")), clean(_word(values, "wearer", "name"))
    words = folded(f"{name} {kind} {title} {size} {wearer}")
    return Told(name, kind, size, wearer, words)


def _without_kind(line: int) -> InputError:
    known = kind_names()
    problem = Problem(
        "the kind of garment is missing",
        line=line,
        key="garment.kind",
        allowed=", ".join(known),
        todo=f'write kind = "{known[0]}" under [garment]',
    )
    return InputError(problem)


def _read_quickly(text: str) -> dict[str, object]:
    """Read a text that ``load_toml`` would accept; nothing where only that can say what is wrong.

    It looks up the line of every key, which takes twice as long as reading a long list of points.
    """
    with suppress(ValueError, RecursionError):
        if len(text.encode("utf-8")) <= MOST_BYTES:
            values = tomllib.loads(text.removeprefix("\ufeff"))
            return values if _nests(values, DEEPEST) else {}
    return {}


def _nests(value: object, most: int) -> bool:
    """Return whether tables and lists nest at most so deep."""
    if isinstance(value, dict):
        inner = list(cast("dict[str, object]", value).values())
    elif isinstance(value, list):
        inner = cast("list[object]", value)
    else:
        return True
    return most > 0 and all(_nests(one, most - 1) for one in inner)


def _word(values: dict[str, object], table: str, key: str) -> str:
    found = values.get(table)
    word = cast("dict[str, object]", found).get(key) if isinstance(found, dict) else None
    return word if isinstance(word, str) else ""

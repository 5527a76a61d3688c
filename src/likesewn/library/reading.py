"""What the library takes from a garment's text when it is saved, and which texts it refuses."""

from contextlib import suppress
from dataclasses import dataclass
from typing import cast

from likesewn.errors import InputError, Problem
from likesewn.garment import kind_names, load_kind
from likesewn.garment.toml_text import load_toml
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


def read_text(text: str) -> Told:
    """Read what a garment file says about itself; figures are not judged.

    Raises:
        InputError: It is not TOML, or does not say which kind of garment it is of.
    """
    values, lines = load_toml(text)
    kind = clean(_word(values, "garment", "kind"))
    if not kind:
        known = kind_names()
        problem = Problem(
            "the kind of garment is missing",
            line=lines.near(("garment", "kind")),
            key="garment.kind",
            allowed=", ".join(known),
            todo=f'write kind = "{known[0]}" under [garment]',
        )
        raise InputError(problem)
    title = ""
    with suppress(KeyError):
        title = load_kind(kind).title
    name = clean(_word(values, "garment", "name")) or title or kind
    size, wearer = clean(_word(values, "garment", "size")), clean(_word(values, "wearer", "name"))
    words = folded(f"{name} {kind} {title} {size} {wearer}")
    return Told(name, kind, size, wearer, words)


def _word(values: dict[str, object], table: str, key: str) -> str:
    found = values.get(table)
    word = cast("dict[str, object]", found).get(key) if isinstance(found, dict) else None
    return word if isinstance(word, str) else ""

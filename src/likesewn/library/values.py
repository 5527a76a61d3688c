"""What a library gives out: frozen values, each a copy of what was committed."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, TypeAlias

__all__ = ["Document", "Json", "KeptCloth", "Make", "Row", "Shelf", "Version", "Why"]

Json: TypeAlias = "bool | int | float | str | Sequence[Json] | Mapping[str, Json] | None"
"""A value that JSON can write."""

Why = Literal["named", "make", "import", "before going back"]
"""What a version was kept for."""


@dataclass(frozen=True, slots=True)
class Document:
    """A garment as it stood at one revision.

    Attributes:
        garment: Its id: random, fit for an address.
        revision: Grows by one with every change, undo, redo, deletion and restoring.
        text: The garment file.
        aside: What a garment file has no place for.
        name: The garment's name, or its kind's title where it has none.
        kind: Name of its kind, which this likesewn may not know.
        changed: When it was last changed, in UTC.
        deleted: Whether it is among the deleted garments.
        can_undo: A few words for the change that undo would take back; empty when there is none.
        can_redo: A few words for the change that redo would make again; empty when there is none.
    """

    garment: str
    revision: int
    text: str
    aside: Mapping[str, Json]
    name: str
    kind: str
    changed: datetime
    deleted: bool = False
    can_undo: str = ""
    can_redo: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """A garment on the shelf.

    Attributes:
        garment: Its id.
        revision: Its newest revision.
        name: Its name, or its kind's title.
        kind: Name of its kind.
        size: Its size as written, or empty.
        wearer: Its wearer's name, or empty.
        changed: When it was last changed, in UTC.
        deleted: Whether it is among the deleted garments.
        thumbnail: Revision that the kept thumbnail shows; 0 where there is none.
        makes: How often it was made.
    """

    garment: str
    revision: int
    name: str
    kind: str
    size: str
    wearer: str
    changed: datetime
    deleted: bool
    thumbnail: int
    makes: int


@dataclass(frozen=True, slots=True)
class Shelf:
    """Some of the garments that were asked for, newest change first.

    Attributes:
        rows: Those from ``start`` on, at most ``limit``.
        total: How many there are altogether.
    """

    rows: tuple[Row, ...]
    total: int


@dataclass(frozen=True, slots=True)
class Version:
    """A garment as it was kept on purpose.

    Attributes:
        garment: Its id.
        number: Counts from 1 within the garment.
        name: What a person called it, or empty.
        why: What it was kept for.
        at: When, in UTC.
        revision: The revision that was kept; 0 where it came with an imported garment.
        text: The garment file.
        aside: What goes with it.
    """

    garment: str
    number: int
    name: str
    why: Why
    at: datetime
    revision: int
    text: str
    aside: Mapping[str, Json]


@dataclass(frozen=True, slots=True)
class Make:
    """One time that a garment was made.

    Attributes:
        garment: Its id.
        number: Counts from 1 within the garment.
        revision: Grows by one with every change of this make.
        version: Number of the version that it was made from.
        made: The day.
        cloth: What it was made of, in words.
        picture: Digest of a kept photograph, or empty.
        next_time: What to do differently next time.
        deleted: Whether it was taken out of the log.
    """

    garment: str
    number: int
    revision: int
    version: int
    made: date
    cloth: str = ""
    picture: str = ""
    next_time: str = ""
    deleted: bool = False


@dataclass(frozen=True, slots=True)
class KeptCloth:
    """A cloth in the drawer.

    Attributes:
        cloth: Its id: random, fit for an address.
        revision: Grows by one with every change.
        name: What a person calls it.
        text: Keys of a garment file's ``[cloth]``, as TOML without the heading; lengths carry their unit.
        note: Anything else.
        picture: Digest of a kept photograph, or empty.
        changed: When it was last changed, in UTC.
        deleted: Whether it was taken out of the drawer.
    """

    cloth: str
    revision: int
    name: str
    text: str
    note: str
    picture: str
    changed: datetime
    deleted: bool = False

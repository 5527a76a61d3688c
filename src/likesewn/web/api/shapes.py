"""The values of the API as JSON has them: what comes in is checked here, what goes out is described here."""

from datetime import date, datetime
from typing import Annotated, Any, Self

from pydantic import BaseModel, ConfigDict, Field

from likesewn.library import Document, KeptCloth, Make, Row, Version

__all__ = [
    "Aside",
    "Changes",
    "ClothIn",
    "ClothOut",
    "DocumentOut",
    "Faults",
    "Id",
    "LayIn",
    "MakeIn",
    "MakeOut",
    "NameIn",
    "NewGarment",
    "RevisionIn",
    "RowOut",
    "ShelfOut",
    "TextIn",
    "VersionIn",
    "VersionOut",
]

MOST_TEXT = 2_000_000
"""Letters in a garment file; a thoroughly traced one has some hundred thousand."""

Id = Annotated[str, Field(pattern="^[0-9A-Za-z_-]{1,64}$")]
Said = Annotated[str, Field(max_length=80)]
Words = Annotated[str, Field(max_length=4000)]
Revision = Annotated[int, Field(ge=1, le=2**53)]
Aside = dict[str, Any]
Value = str | bool | int | float | list[list[float | str]] | list[list[list[float | str]]] | None


class _In(BaseModel):
    model_config = ConfigDict(extra="forbid")


class Faults(BaseModel):
    """Why a request was refused: ``{"error": {"problems": [...]}}``."""

    error: dict[str, list[dict[str, str | int]]]


class NewGarment(_In):
    """A garment to begin."""

    kind: Annotated[str, Field(max_length=80)]
    unit: Annotated[str, Field(pattern="^(mm|cm|in)$")] = "cm"
    name: Annotated[str, Field(max_length=80)] = ""


class RevisionIn(_In):
    """The revision that a change is made from."""

    revision: Revision


class NameIn(_In):
    """A name."""

    name: Annotated[str, Field(min_length=1, max_length=80)]


class Changes(RevisionIn):
    """New values of a garment file by dotted key (null takes one away), and of what is kept beside it."""

    changes: Annotated[dict[str, Value], Field(max_length=400)] = {}
    aside: Aside | None = None
    said: Said = "change"


class TextIn(RevisionIn):
    """A whole garment file."""

    text: Annotated[str, Field(max_length=MOST_TEXT)]
    said: Said = "file"


class LayIn(BaseModel):
    """How long to search for a lay, seconds."""

    model_config = ConfigDict(extra="forbid")
    seconds: Annotated[float, Field(ge=0, le=120)] = 0.0


class VersionIn(RevisionIn):
    """A version to keep."""

    name: Annotated[str, Field(max_length=80)] = ""


class MakeIn(RevisionIn):
    """A make: when, of what cloth, and what to do differently next time.

    ``revision`` is the garment's for a new make, and the make's own for a change.
    """

    made: date
    cloth: Annotated[str, Field(max_length=400)] = ""
    picture: Annotated[str, Field(pattern="^([0-9a-f]{64})?$")] = ""
    next_time: Words = ""


class ClothIn(_In):
    """A cloth of the drawer; ``text`` holds the keys of a garment file's ``[cloth]`` as TOML."""

    revision: Revision | None = None
    name: Annotated[str, Field(min_length=1, max_length=80)]
    text: Annotated[str, Field(max_length=20_000)] = ""
    note: Words = ""
    picture: Annotated[str, Field(pattern="^([0-9a-f]{64})?$")] = ""


class _Out(BaseModel):
    """A value of the library as the API gives it: the fields that are named here."""

    @classmethod
    def of(cls, kept: Document | Row | Version | Make | KeptCloth) -> Self:
        """Return what is kept as the API gives it."""
        return cls.model_validate(kept, from_attributes=True)


class DocumentOut(_Out):
    """A garment as it stands."""

    garment: str
    revision: int
    name: str
    kind: str
    changed: datetime
    deleted: bool
    can_undo: str
    can_redo: str
    text: str
    aside: Aside


class RowOut(_Out):
    """A garment on the shelf."""

    garment: str
    revision: int
    name: str
    kind: str
    size: str
    wearer: str
    changed: datetime
    deleted: bool
    makes: int


class ShelfOut(BaseModel):
    """Some garments, newest change first, and how many there are."""

    garments: list[RowOut]
    total: int


class VersionOut(_Out):
    """A kept version."""

    number: int
    name: str
    why: str
    at: datetime
    revision: int


class MakeOut(_Out):
    """A make."""

    number: int
    revision: int
    version: int
    made: date
    cloth: str
    picture: str
    next_time: str
    deleted: bool


class ClothOut(_Out):
    """A cloth of the drawer."""

    cloth: str
    revision: int
    name: str
    text: str
    note: str
    picture: str

"""What a garment keeps of its photographs, in its document's aside under ``photos``: one entry for each lay.

An entry names the stored picture, says how it was laid, and holds all that a person showed or drew in it, in
pixels of the photograph. What is traced is not kept, since it follows from these; so undo covers everything.
"""

import hashlib
import json
from collections.abc import Mapping, Sequence
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from likesewn.garment import Kind
from likesewn.units import PAPER
from likesewn.web.curves import LEAST, curve_through

__all__ = ["MOST_OF_A_LAY", "Hint", "PhotoEntry", "Pictured", "Place", "Seam", "entries_of", "free_name"]

MOST_OF_A_LAY = 6
"""Photographs of one lay that are traced together."""

_Number = Annotated[float, Field(allow_inf_nan=False, ge=-1e6, le=1e6)]
Place = tuple[_Number, _Number]
Places = Annotated[tuple[Place, ...], Field(max_length=5000)]
Digest = Annotated[str, Field(pattern="^[0-9a-f]{64}$")]
Words = Annotated[str, Field(max_length=120)]


class _Kept(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")


class Pictured(_Kept):
    """A stored photograph.

    Attributes:
        digest: The name it is stored by.
        name: What the person called it.
        width: Its width the right way up, px.
        height: Its height the right way up, px.
    """

    digest: Digest
    name: Words
    width: Annotated[int, Field(ge=1, le=10**6)]
    height: Annotated[int, Field(ge=1, le=10**6)]


class Hint(_Kept):
    """What a person showed: a box or a line round the garment, strokes, corners put in place."""

    rectangle: tuple[_Number, _Number, _Number, _Number] | None = None
    round: Places = ()
    garment: Annotated[tuple[Places, ...], Field(max_length=100)] = ()
    table: Annotated[tuple[Places, ...], Field(max_length=100)] = ()
    corners: Annotated[dict[Words, Place], Field(max_length=100)] = {}


class Seam(_Kept):
    """A seam inside the garment: the edge that it is, and the points picked on it."""

    piece: Words
    edge: Words
    picked: Places


class PhotoEntry(Pictured):
    """A photograph with what was said, shown and drawn about it.

    Attributes:
        more: Further photographs of the same lay.
        face: The piece that lies up; empty for the kind's usual one.
        thickness: Height of the cloth above the table as typed; empty where it is left to the fabric.
        scale: What gives the scale: ``sheets``, ``card``, the name of a paper, or ``measure``.
        rulers: The printed 200 mm rulers as measured, along and then across, as typed.
        thing: Corners of the card or paper, px.
        measure: Key of the known measure.
        length: Its figure as typed.
        hint: What was shown in the photograph.
        edges: Points that edges put by hand run through, by ``piece.edge.side``.
        seams: Seams to be followed.
        drawn_in: The photograph of the lay that holds what was shown and drawn; empty where nothing was.
        traced: A few figures of the tracing that was asked for last; None before the first.
        used: What the garment file holds of it: the mark of what was asked, and the measures filled in.
    """

    more: Annotated[tuple[Pictured, ...], Field(max_length=MOST_OF_A_LAY - 1)] = ()
    face: Words = ""
    thickness: Words = ""
    scale: Words = "sheets"
    rulers: Annotated[tuple[Words, ...], Field(max_length=2)] = ()
    thing: Annotated[tuple[Place, ...], Field(max_length=4)] = ()
    measure: Words = ""
    length: Words = ""
    hint: Hint = Hint()
    edges: Annotated[dict[Words, Places], Field(max_length=100)] = {}
    seams: Annotated[tuple[Seam, ...], Field(max_length=100)] = ()
    drawn_in: Annotated[str, Field(pattern="^([0-9a-f]{64})?$")] = ""
    traced: dict[str, float | None] | None = None
    used: dict[str, Any] | None = None

    @property
    def pictures(self) -> tuple[Pictured, ...]:
        """All photographs of the lay, the one that gives its name first."""
        return self, *self.more

    @property
    def held(self) -> int | None:
        """Place of the photograph that has to be traced, since something was drawn in it; None for any."""
        digests = [picture.digest for picture in self.pictures]
        return digests.index(self.drawn_in) if self.drawn_in in digests else None

    @property
    def by_thing(self) -> bool:
        """Whether the corners of a card or a paper give the scale."""
        return self.scale == "card" or self.scale in PAPER

    @property
    def drawn(self) -> bool:
        """Whether anything was shown or drawn in it."""
        return self.hint != Hint() or bool(self.edges or self.seams or self.thing)

    def but(self, **new: object) -> "PhotoEntry":
        """Return the entry with some values changed."""
        return type(self).model_validate({**dict(self), **new})

    def undrawn(self) -> "PhotoEntry":
        """Return the entry without what was shown and drawn in it."""
        return self.but(hint=Hint(), edges={}, seams=(), thing=(), drawn_in="")

    def data(self) -> dict[str, Any]:
        """Return the entry as the aside keeps it."""
        return self.model_dump(mode="json", exclude_defaults=True)

    def asked(self, kind: Kind | None, construction: str) -> dict[str, Any]:
        """Return what the studio is asked to trace.

        Args:
            kind: The garment's kind; None, or one without a silhouette, for the outline alone.
            construction: ``knit`` or ``woven`` as the garment file has it, or empty.
        """
        told = self.model_dump(mode="json")
        hint = told["hint"]
        asked: dict[str, Any] = {
            "kind": kind.name if kind and kind.silhouette else "",
            "face": self.face,
            "thickness": self.thickness,
            "construction": construction,
            "rectangle": hint["rectangle"],
            "garment": hint["garment"],
            "table": hint["table"],
            "corners": hint["corners"],
            "seams": told["seams"],
            "edges": {
                name: curve_through(points).round(2).tolist()
                for name, points in self.edges.items()
                if len(points) >= LEAST
            },
        }
        if hint["round"]:
            asked["round"] = hint["round"]
        if self.scale == "sheets":
            asked["rulers"] = [length for length in self.rulers if length]
        elif self.scale == "measure" and self.measure and self.length:
            asked["known"] = {"measure": self.measure, "length": self.length}
        elif self.by_thing and len(self.thing) == 4:
            asked["thing"] = {"what": self.scale, "corners": told["thing"]}
        if self.held is not None:
            asked["photo"] = self.held
        return asked

    def mark(self, asked: Mapping[str, Any]) -> str:
        """Return a short mark that differs where another tracing was asked for."""
        whole = [[picture.digest for picture in self.pictures], asked]
        return hashlib.sha256(json.dumps(whole, sort_keys=True).encode()).hexdigest()[:16]


def entries_of(aside: Mapping[str, Any]) -> tuple[PhotoEntry, ...]:
    """Return a garment's photographs; what cannot be understood is passed over."""
    kept = aside.get("photos")
    found: list[PhotoEntry] = []
    for one in kept if isinstance(kept, Sequence) and not isinstance(kept, str) else ():
        try:
            found.append(PhotoEntry.model_validate(one))
        except ValidationError:
            continue
    return tuple(found)


def free_name(name: str, entries: Sequence[PhotoEntry]) -> str:
    """Return a name that no photograph of the garment has: ``front.jpg``, ``front (2).jpg``, and so on."""
    taken = {entry.name for entry in entries}
    stem, dot, suffix = name.rpartition(".")
    if not dot:
        stem, suffix = name, ""
    number = 1
    fresh = name
    while fresh in taken:
        number += 1
        fresh = f"{stem} ({number}){dot}{suffix}"
    return fresh

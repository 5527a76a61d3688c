"""A scene: what the drawing component shows, as plain data.

Places are scene units, x to the right and y downward. A scene of pieces or cloth counts mm; a scene of a
photograph counts its pixels. Items are drawn in order. Whatever can be picked has an ``id`` such as
``front.armhole`` and words (``says``) for the pointer and for those who hear the drawing.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal, TypeAlias

__all__ = [
    "LOOKS",
    "TONES",
    "Area",
    "Backdrop",
    "Bounds",
    "Handle",
    "HandleLook",
    "Item",
    "Line",
    "Part",
    "Scene",
    "Text",
    "lines_of",
]

Bounds: TypeAlias = tuple[float, float, float, float]
"""Left, top, right, bottom."""

LOOKS = (
    "seam",
    "cut",
    "fold",
    "grain",
    "notch",
    "mark",
    "guide",
    "shown",
    "recorded",
    "trued",
    "band",
    "measure",
    "before",
    "placed",
    "cloth",
    "sheet",
    "outline",
    "proposed",
    "chosen",
)
"""Every look that a line can have; the component's style sheet gives each its weight, dash and colour."""

TONES = ("paper", "piece", "second", "cloth", "unsure", "ink", "black", "brick", "slate")
"""Every fill and letter colour, by name."""

HandleLook: TypeAlias = Literal["corner", "curve", "picked"]


@dataclass(frozen=True, slots=True)
class Line:
    """A line.

    Attributes:
        d: Where it runs: path data of absolute ``M``, ``L``, ``C`` and ``Z``.
        look: One of ``LOOKS``.
        id: Its name, such as ``front.armhole``; empty for a line that nothing refers to.
        says: What it is, in words; needed where it can be picked.
        closed: True where its end is its start.
        pick: True where a person can pick it; it then has an ``id`` and words.
        faint: True for a line that recedes behind the others.
    """

    d: str
    look: str
    id: str = ""
    says: str = ""
    closed: bool = False
    pick: bool = False
    faint: bool = False


@dataclass(frozen=True, slots=True)
class Area:
    """A filled closed path without an outline; ``tone`` is one of ``TONES``."""

    d: str
    tone: str
    id: str = ""


@dataclass(frozen=True, slots=True)
class Text:
    """One line of lettering.

    Attributes:
        at: Where its baseline starts, is centred or ends, as ``anchor`` says.
        text: What it says.
        size: Height of the lettering: scene units, or pixels of the screen where ``fixed``.
        anchor: ``start``, ``middle`` or ``end``.
        angle: Direction of the baseline, degrees from x towards y.
        bold: True for titles.
        tone: One of ``TONES``.
        fixed: True for lettering that stays of one size however near the drawing is looked at.
        room: For fixed lettering: the width that it has, scene units; it shows only where it fits. 0 for any.
        id: Its name, where one is needed.
    """

    at: tuple[float, float]
    text: str
    size: float
    anchor: str = "start"
    angle: float = 0.0
    bold: bool = False
    tone: str = "ink"
    fixed: bool = False
    room: float = 0.0
    id: str = ""


@dataclass(frozen=True, slots=True)
class Part:
    """A piece, or another thing that its items belong to.

    Attributes:
        id: Its name, such as ``front``.
        says: What it is: "Front, cut 1 on the fold".
        items: What it holds.
        d: Its outline, closed, where it has one that can be pointed at.
        tone: Fill of the outline, one of ``TONES``.
        pick: True where it can be picked as a whole, by its outline.
    """

    id: str
    says: str
    items: tuple["Item", ...]
    d: str = ""
    tone: str = "piece"
    pick: bool = False


Item: TypeAlias = Line | Area | Text | Part


@dataclass(frozen=True, slots=True)
class Handle:
    """A point to take hold of.

    Attributes:
        id: Its name.
        at: Its place.
        says: What it is, in words.
        look: ``corner``, ``curve`` or ``picked``.
        movable: True where it can be moved.
    """

    id: str
    at: tuple[float, float]
    says: str
    look: HandleLook = "corner"
    movable: bool = True


@dataclass(frozen=True, slots=True)
class Backdrop:
    """A picture that lies under everything.

    Attributes:
        url: Where the browser gets it.
        width: Scene units.
        height: Scene units.
        left: Its left edge, scene units.
        top: Its upper edge, scene units.
        says: What it shows.
    """

    url: str
    width: float
    height: float
    left: float = 0.0
    top: float = 0.0
    says: str = ""


@dataclass(frozen=True, slots=True)
class Scene:
    """Everything that one drawing shows.

    Attributes:
        title: Its name.
        summary: What it shows, in a sentence, for those who hear it.
        bounds: The part of the plane that is shown at first.
        items: What it holds, drawn in order.
        unit: Unit of the rulers: ``mm``, ``cm`` or ``in``.
        scale: Length of one scene unit, mm; None where it has none (a photograph), and rulers are left out.
        backdrop: A picture under everything, or None.
        handles: Points to take hold of, drawn over everything.
        clip: The only part of the plane where items show, or None for all of it.
        paper: A sheet of paper under everything, or None.
    """

    title: str
    summary: str
    bounds: Bounds
    items: tuple[Item, ...]
    unit: str = "cm"
    scale: float | None = 1.0
    backdrop: Backdrop | None = None
    handles: tuple[Handle, ...] = ()
    clip: Bounds | None = None
    paper: Bounds | None = None

    def to_data(self) -> dict[str, Any]:
        """Return the scene as the component takes it: plain data, what is usual left out."""
        data: dict[str, Any] = {
            "title": self.title,
            "summary": self.summary,
            "bounds": [_short(v) for v in self.bounds],
            "unit": self.unit,
            "scale": self.scale,
            "items": [_item(item) for item in self.items],
            "handles": [
                {"id": h.id, "at": _place(h.at), "says": h.says, "look": h.look, "movable": h.movable}
                for h in self.handles
            ],
        }
        for key, box in (("clip", self.clip), ("paper", self.paper)):
            if box is not None:
                data[key] = [_short(v) for v in box]
        if self.backdrop is not None:
            back = self.backdrop
            data["backdrop"] = {
                "url": back.url,
                "width": back.width,
                "height": back.height,
                "left": back.left,
                "top": back.top,
                "says": back.says,
            }
        return data


def lines_of(items: tuple[Item, ...]) -> Iterator[Line]:
    """Yield the lines themselves, those of parts too, in the order in which they are drawn."""
    for item in items:
        if isinstance(item, Part):
            yield from lines_of(item.items)
        elif isinstance(item, Line):
            yield item


def _short(value: float) -> float:
    return round(float(value), 2)


def _place(at: tuple[float, float]) -> list[float]:
    return [_short(at[0]), _short(at[1])]


def _item(item: Item) -> dict[str, Any]:
    match item:
        case Line():
            data: dict[str, Any] = {"is": "line", "d": item.d, "look": item.look}
            more = {"id": item.id, "says": item.says, "closed": item.closed, "pick": item.pick}
            return data | _given({**more, "faint": item.faint})
        case Area():
            return {"is": "area", "d": item.d, "tone": item.tone} | _given({"id": item.id})
        case Text():
            data = {"is": "text", "at": _place(item.at), "text": item.text, "size": round(item.size, 3)}
            anchor = "" if item.anchor == "start" else item.anchor
            tone = "" if item.tone == "ink" else item.tone
            more = {"anchor": anchor, "angle": _short(item.angle), "bold": item.bold, "tone": tone}
            return data | _given({**more, "fixed": item.fixed, "room": _short(item.room), "id": item.id})
        case Part():
            data = {"is": "part", "id": item.id, "says": item.says}
            more = {"d": item.d, "tone": item.tone if item.d else "", "pick": item.pick}
            return data | _given(more) | {"items": [_item(i) for i in item.items]}


def _given(values: dict[str, Any]) -> dict[str, Any]:
    """Leave out what is empty, false or 0."""
    return {key: value for key, value in values.items() if value}

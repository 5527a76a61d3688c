"""A drawing: what is to be seen, recorded once and replayed to every format.

A drawing is a tree of groups; a group holds strokes, areas, boxes, labels and further groups. Nothing
in it knows a format: a ``Backend`` (SVG, PDF pages, later a cutter's file) receives the items one by
one, so that no two formats can disagree about where a line runs.

Coordinates and line widths are mm, y downward, angles degrees turning the x axis towards the y axis.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Protocol, TypeAlias

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import Path
from likesewn.publish import lettering

__all__ = [
    "INK",
    "LINES",
    "TONES",
    "Area",
    "Backend",
    "Bounds",
    "Box",
    "Drawing",
    "Group",
    "Item",
    "Label",
    "LineStyle",
    "Role",
    "Stroke",
    "item_bounds",
    "moved",
    "replay",
    "scaled",
    "turned",
    "walk",
]

Bounds: TypeAlias = tuple[float, float, float, float]
"""Left, top, right, bottom, mm."""

INK = "#1b2430"
"""The colour of every line and letter: nearly black, so that it survives any home printer."""


class Role(StrEnum):
    """What a line means; each has one look."""

    SEAM = "seam"
    CUT = "cut"
    FOLD = "fold"
    GRAIN = "grain"
    NOTCH = "notch"
    MARK = "mark"  # arrow heads, scale bars and other marks on a piece
    GUIDE = "guide"  # thin lines of the sheet itself: joins, frames, dimension lines
    SHOWN = "shown"  # the run that a picture is about
    RECORDED = "recorded"  # a seam line as the record alone has it
    TRUED = "trued"  # the same line after truing


@dataclass(frozen=True, slots=True)
class LineStyle:
    """How a line looks: width and dashes in mm, colour as ``#rrggbb``."""

    width: float
    dash: tuple[float, ...] = ()
    colour: str = INK


# Told apart by weight and dash alone, so that grey toner or a faint cartridge loses nothing.
LINES: Mapping[Role, LineStyle] = {
    Role.CUT: LineStyle(0.55),
    Role.SEAM: LineStyle(0.3, (1.4, 1.3)),
    Role.FOLD: LineStyle(0.45, (13.0, 3.0)),
    Role.GRAIN: LineStyle(0.35),
    Role.NOTCH: LineStyle(0.5),
    Role.MARK: LineStyle(0.3),
    Role.GUIDE: LineStyle(0.18, (), "#6c7480"),
    Role.SHOWN: LineStyle(0.9, (), "#8a3b2e"),
    Role.RECORDED: LineStyle(0.35, (1.0, 1.0), "#8a3b2e"),
    Role.TRUED: LineStyle(0.4),
}

TONES: Mapping[str, str] = {
    "paper": "#ffffff",
    "piece": "#f3efe6",
    "second": "#e3e6de",
    "cloth": "#e9e2d3",
    "unsure": "#d9d3c3",
    "ink": INK,
    "black": "#000000",  # for coded squares: printed with black ink alone, never mixed from colours
    "brick": "#8a3b2e",
    "slate": "#6c7480",
}
"""Fills and letter colours by name."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line.

    Attributes:
        path: Where it runs.
        role: What it means.
        edge: Name of the edge that it follows, for seam and cut lines.
        closed: True where its end is its start and the two are joined.
    """

    path: Path
    role: Role
    edge: str = ""
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Area:
    """A filled closed path without an outline; ``tone`` is a key of ``TONES``."""

    path: Path
    tone: str


@dataclass(frozen=True, slots=True)
class Box:
    """An upright rectangle; ``name`` is its class in formats that have classes."""

    x: float
    y: float
    width: float
    height: float
    name: str
    tone: str = ""
    line: Role | None = None


@dataclass(frozen=True, slots=True)
class Label:
    """One line of lettering.

    Attributes:
        text: What it says; any Unicode.
        at: Where its baseline starts, is centred or ends, as ``anchor`` says.
        size: Height of the lettering (em), mm.
        anchor: ``start``, ``middle`` or ``end``.
        angle: Direction of the baseline, degrees.
        bold: True for titles.
        tone: Key of ``TONES``.
    """

    text: str
    at: tuple[float, float]
    size: float
    anchor: str = "start"
    angle: float = 0.0
    bold: bool = False
    tone: str = "ink"

    def corners(self) -> NDArray[np.float64]:
        """Return the four corners of the lettering's box, shape (4, 2), mm."""
        width = lettering.width(self.text, self.size, bold=self.bold)
        left = {"start": 0.0, "middle": -0.5, "end": -1.0}[self.anchor] * width
        top, bottom = -lettering.ASCENT * self.size, lettering.DESCENT * self.size
        box = np.array([(left, top), (left + width, top), (left + width, bottom), (left, bottom)])
        return turned(box, self.angle) + np.array(self.at)


@dataclass(frozen=True, slots=True)
class Group:
    """Items that belong together.

    Attributes:
        name: Its class in formats that have classes, such as ``piece``.
        items: What it holds, drawn in order.
        data: Facts about it by name (``piece``, ``copies``), for formats that can carry them.
        title: What it is, for people who hear the drawing rather than see it.
    """

    name: str
    items: tuple["Item", ...]
    data: tuple[tuple[str, str], ...] = ()
    title: str = ""


Item: TypeAlias = Stroke | Area | Box | Label | Group


@dataclass(frozen=True, slots=True)
class Drawing:
    """A whole drawing.

    Attributes:
        title: Its name.
        summary: What it shows, in a sentence.
        items: What it holds, drawn in order.
        bounds: The part of the plane that it covers.
    """

    title: str
    summary: str
    items: tuple[Item, ...]
    bounds: Bounds


class Backend(Protocol):
    """A format that a drawing can be replayed to."""

    def begin(self, group: Group) -> None:
        """Open a group."""
        ...

    def end(self, group: Group) -> None:
        """Close the group that was opened last."""
        ...

    def stroke(self, stroke: Stroke) -> None:
        """Draw a line."""
        ...

    def area(self, area: Area) -> None:
        """Fill a closed path."""
        ...

    def box(self, box: Box) -> None:
        """Draw an upright rectangle."""
        ...

    def label(self, label: Label) -> None:
        """Write a line of lettering."""
        ...


def replay(items: tuple[Item, ...], backend: Backend) -> None:
    """Hand every item to ``backend``, in order."""
    for item in items:
        match item:
            case Group():
                backend.begin(item)
                replay(item.items, backend)
                backend.end(item)
            case Stroke():
                backend.stroke(item)
            case Area():
                backend.area(item)
            case Box():
                backend.box(item)
            case Label():
                backend.label(item)


def walk(items: tuple[Item, ...]) -> Iterator[Stroke | Area | Box | Label]:
    """Yield the items themselves, those in groups too, in the order in which they are drawn."""
    for item in items:
        if isinstance(item, Group):
            yield from walk(item.items)
        else:
            yield item


def item_bounds(items: tuple[Item, ...]) -> Bounds:
    """Return the box round ``items``: control points of paths, boxes of lettering."""
    parts: list[NDArray[np.float64]] = []
    for item in walk(items):
        match item:
            case Stroke() | Area():
                parts.append(item.path.segments.reshape(-1, 2))
            case Box():
                right, bottom = item.x + item.width, item.y + item.height
                parts.append(np.array([(item.x, item.y), (right, bottom)]))
            case Label():
                parts.append(item.corners())
    points = np.concatenate(parts)
    (left, top), (right, bottom) = points.min(axis=0), points.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def turned(points: NDArray[np.float64], degrees: float) -> NDArray[np.float64]:
    """Return points, shape (n, 2), turned about (0, 0)."""
    a = np.radians(degrees)
    c, s = np.cos(a), np.sin(a)
    return points @ np.array([[c, s], [-s, c]])


def scaled(item: Item, factor: float) -> Item:
    """Return the item made larger about (0, 0) by ``factor``; line widths stay."""
    match item:
        case Group():
            return replace(item, items=tuple(scaled(i, factor) for i in item.items))
        case Stroke() | Area():
            return replace(item, path=Path(item.path.segments * factor))
        case Label():
            return replace(item, at=(item.at[0] * factor, item.at[1] * factor), size=item.size * factor)
        case Box():
            return replace(
                item,
                x=item.x * factor,
                y=item.y * factor,
                width=item.width * factor,
                height=item.height * factor,
            )


def moved(item: Item, angle: float = 0.0, by: tuple[float, float] = (0.0, 0.0)) -> Item:
    """Return the item turned by ``angle`` degrees about (0, 0), then moved by ``by``, mm.

    A ``Box`` stays upright, so it can be moved but not turned.
    """
    match item:
        case Group():
            return replace(item, items=tuple(moved(i, angle, by) for i in item.items))
        case Stroke() | Area():
            return replace(item, path=item.path.moved(float(np.radians(angle)), by))
        case Label():
            at = turned(np.array(item.at), angle) + np.array(by)
            return replace(item, at=(float(at[0]), float(at[1])), angle=item.angle + angle)
        case Box():
            if angle:
                raise ValueError(f"the box {item.name!r} is upright and cannot be turned")
            return replace(item, x=item.x + by[0], y=item.y + by[1])

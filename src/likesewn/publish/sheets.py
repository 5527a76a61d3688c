"""What a printed sheet carries beside the pattern: its name, its joins, and the page that explains.

Joins are matched by buttons: each sheet prints half of one, with its two holes and a number, and the
halves make a whole button where the sheets lie right.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from likesewn.errors import InputError, Problem
from likesewn.geometry import Path
from likesewn.publish import lettering
from likesewn.publish.arrange import Placement, arrange
from likesewn.publish.drawing import Area, Bounds, Box, Item, Label, Role, Stroke, moved, turned, walk
from likesewn.publish.piece_lines import sampled
from likesewn.publish.pieces import PatternDrawing
from likesewn.publish.tiles import Tiling, sheet_name, sheets_needed

__all__ = ["Layout", "front_page", "sheet_marks", "spread"]

Array = NDArray[np.float64]
Sheet = tuple[int, int]

_BUTTON_MM = 4.2
_NUMBER_MM = 4.8
"""Room for a button's number beside it."""

_NEAR_MM = 1.0
"""Lettering keeps this far from a join."""

_HOLE_MM = 0.8
_QUARTER = 4.0 / 3.0 * (np.sqrt(2.0) - 1.0)  # handle of the cubic nearest to a quarter circle
_CM_MM, _INCHES_MM = 100.0, 101.6


@dataclass(frozen=True, eq=False)
class Layout:
    """Pieces as they lie on a grid of sheets.

    Attributes:
        tiles: The sheets.
        titles: Names of the pieces as printed.
        items: The pieces' lines and lettering on the plane, one tuple for each piece.
        outlines: Their cut lines as polygons on the plane, for the map.
        sheets: Numbers of the pieces on each sheet, by row and column.
    """

    tiles: Tiling
    titles: tuple[str, ...]
    items: tuple[tuple[Item, ...], ...]
    outlines: tuple[Array, ...]
    sheets: Mapping[Sheet, tuple[int, ...]]

    def joins(self) -> tuple[tuple[Sheet, Sheet], ...]:
        """Return pairs of neighbours, the earlier sheet first; a join's number is its place, from 1."""
        return _neighbours(self.sheets)


def spread(pattern: PatternDrawing, tiles: Tiling) -> Layout:
    """Return a pattern's pieces arranged on sheets of paper.

    Raises:
        InputError: There is no piece.
    """
    if not pattern.pieces:
        raise InputError(Problem("there is no piece to print", allowed="a cut list with at least one piece"))
    placed = list(
        zip(pattern.pieces, arrange([piece.outline for piece in pattern.pieces], tiles), strict=True)
    )
    outlines = [turned(piece.outline, at.angle) + np.array(at.by) for piece, at in placed]
    sheets = sheets_needed(tiles, outlines)
    joins = _joins_of(tiles, sheets)
    items = [
        (moved(piece.lettered([_seen_from(at, join) for join in joins]), at.angle, at.by),)
        for piece, at in placed
    ]
    titles = tuple(piece.title for piece in pattern.pieces)
    return Layout(tiles, titles, tuple(items), tuple(outlines), sheets)


def _neighbours(sheets: Iterable[Sheet]) -> tuple[tuple[Sheet, Sheet], ...]:
    """Return pairs of sheets side by side or one under the other, the earlier one first."""
    there = set(sheets)
    return tuple(
        ((row, column), other)
        for row, column in sorted(there)
        for other in ((row, column + 1), (row + 1, column))
        if other in there
    )


def _joins_of(tiles: Tiling, sheets: Iterable[Sheet]) -> tuple[BaseGeometry, BaseGeometry]:
    """Return what lettering keeps off: what two sheets show and the marks of joins, or the joins alone."""
    wide: list[BaseGeometry] = []
    narrow: list[BaseGeometry] = []
    for earlier, later in _neighbours(sheets):
        left, top, right, bottom = tiles.window(*later)
        marks = _BUTTON_MM + _NUMBER_MM
        after = max(tiles.overlap, marks)
        sideways = earlier[0] == later[0]
        for joins, before, behind in ((wide, marks, after), (narrow, _NEAR_MM, _NEAR_MM)):
            if sideways:
                joins.append(shapely.box(left - before, top, left + behind, bottom))
            else:
                joins.append(shapely.box(left, top - before, right, top + behind))
    return shapely.union_all(wide), shapely.union_all(narrow)


def _seen_from(placement: Placement, shape: BaseGeometry) -> BaseGeometry:
    """Return a shape on the plane in the frame of a piece that is placed on it."""
    return shapely.transform(shape, lambda points: turned(points - np.array(placement.by), -placement.angle))


def _arc(at: Array, radius: float, start: float, quarters: int) -> Path:
    """A circular arc of so many quarters from the angle ``start``, degrees."""
    segments: list[Array] = []
    for i in range(quarters):
        a, b = np.radians(start + 90.0 * i), np.radians(start + 90.0 * (i + 1))
        p, q = np.array([np.cos(a), np.sin(a)]), np.array([np.cos(b), np.sin(b)])
        u, v = np.array([-p[1], p[0]]), np.array([-q[1], q[0]])
        segments.append(at + radius * np.array([p, p + _QUARTER * u, q - _QUARTER * v, q]))
    return Path(np.stack(segments))


def _half_button(at: Array, into: float, number: int) -> tuple[Item, ...]:
    """The half of a button that lies towards the angle ``into`` (degrees) from the join."""
    way = np.array([np.cos(np.radians(into)), np.sin(np.radians(into))])
    side = np.array([-way[1], way[0]])
    items: list[Item] = [Stroke(_arc(at, _BUTTON_MM, into - 90.0, 2), Role.GUIDE)]
    items += [
        Stroke(_arc(at + way * 1.5 + side * s * 1.5, _HOLE_MM, 0.0, 4), Role.GUIDE, closed=True)
        for s in (-1.0, 1.0)
    ]
    text = at + way * (_BUTTON_MM + 0.5 * _NUMBER_MM) + np.array([0.0, 1.1])
    items.append(Label(str(number), (float(text[0]), float(text[1])), 3.0, "middle", tone="slate"))
    return tuple(items)


def _join_marks(layout: Layout, sheet: Sheet) -> list[Item]:
    """Half buttons at a sheet's joins, the line to glue up to, and the edges to trim."""
    items: list[Item] = []
    left, top, right, bottom = layout.tiles.window(*sheet)
    overlap = layout.tiles.overlap
    for number, (earlier, later) in enumerate(layout.joins(), start=1):
        if sheet not in {earlier, later}:
            continue
        x, y = layout.tiles.window(*later)[:2]
        sideways = earlier[0] == later[0]
        low, high = (top, bottom) if sideways else (left, right)
        for share in (0.25, 0.75):
            along = low + share * (high - low)
            at = np.array([x, along]) if sideways else np.array([along, y])
            into = (0.0 if sideways else 90.0) + (180.0 if sheet == earlier else 0.0)
            items += _half_button(at, into, number)
        if sheet == later:
            words, depth = "trim this edge", 2.6
        else:
            line = ((x, top), (x, bottom)) if sideways else ((left, y), (right, y))
            items.append(Stroke(Path.line(*line), Role.GUIDE))
            words, depth = f"glue sheet {sheet_name(*later)} here, up to the line", 0.5 * overlap + 0.9
        middle = low + 0.5 * (high - low)
        if sheet == earlier and overlap < 4.0:
            continue
        at = (x + depth, middle) if sideways else (middle, y + depth)
        items.append(Label(words, at, 2.3, "middle", -90.0 if sideways else 0.0, tone="slate"))
    return items


def _free_corner(layout: Layout, sheet: Sheet, width: float, height: float) -> tuple[float, float]:
    """Where a sheet's name hides nothing of the pattern: the first free place, or else the first."""
    left, top, right, bottom = layout.tiles.window(*sheet)
    edge = layout.tiles.overlap + 3.0
    xs = np.linspace(left + 5.0, right - edge - width, 7)
    ys = np.linspace(top + 5.0, bottom - edge - height, 11)
    spots = [(float(x), float(y)) for y in ys for x in xs]
    shapes = [
        shapely.Polygon(item.corners()) if isinstance(item, Label) else shapely.LineString(sampled(item.path))
        for number in layout.sheets[sheet]
        for item in walk(layout.items[number])
        if isinstance(item, Label | Stroke)
    ]
    near = 1.5
    boxes = [shapely.box(x - near, y - near, x + width + near, y + height + near) for x, y in spots]
    met = shapely.STRtree(shapes).query(boxes, predicate="intersects")[0]
    free = np.setdiff1d(np.arange(len(spots)), met)
    return spots[int(free[0])] if len(free) else spots[0]


def sheet_marks(layout: Layout, sheet: Sheet, garment: str, made: str) -> tuple[Item, ...]:
    """Return a sheet's frame, joins and name, in the plane's coordinates."""
    left, top, right, bottom = layout.tiles.window(*sheet)
    frame = Box(left, top, right - left, bottom - top, "sheet", line=Role.GUIDE)
    place = list(layout.sheets).index(sheet) + 1
    # the mark of left-to-right keeps the date in order after a name that runs from right to left
    small = f"{lettering.shorten(garment, 2.7, 60.0)}\u200e, {made}" if garment else made
    rows = (
        (sheet_name(*sheet), 8.0, True),
        (small, 2.7, False),
        (f"sheet {place} of {len(layout.sheets)}", 2.7, False),
    )
    width = max(lettering.width(text, size, bold=bold) for text, size, bold in rows)
    x, y = _free_corner(layout, sheet, width, 14.8)
    name = [
        Label(text, (x, y + down), size, bold=bold, tone="slate")
        for (text, size, bold), down in zip(rows, (6.6, 10.4, 14.0), strict=True)
    ]
    return (frame, *_join_marks(layout, sheet), *name)


def _paragraphs(
    texts: Sequence[str], x: float, y: float, room: float, size: float
) -> tuple[list[Item], float]:
    """Set texts under one another; returns the labels and where the next line would start."""
    items: list[Item] = []
    for text in texts:
        for line in lettering.fold(text, size, room):
            y += size * 1.3
            items.append(Label(line, (x, y), size))
        y += size * 0.7
    return items, y


def _square(x: float, y: float, side: float, words: str, steps: Sequence[str]) -> list[Item]:
    """A test square with its size written on two sides and something to read inside."""
    items: list[Item] = [
        Box(x, y, side, side, "test-square", line=Role.CUT),
        Label(words, (x + side / 2, y + 6.2), 4.4, "middle", bold=True),
        Label(words, (x + 5.6, y + side / 2), 3.2, "middle", -90.0),
    ]
    head, *rest = steps
    items.append(Label(head, (x + 10.0, y + 15.0), 3.7, bold=True))
    return items + _paragraphs(rest, x + 10.0, y + 17.0, side - 16.0, 3.7)[0]


def _map(layout: Layout, room: Bounds) -> tuple[list[Item], float]:
    """A small picture of all sheets, their names and the pieces; returns its lower end too."""
    tiles = layout.tiles
    rows = 1 + max(row for row, _ in layout.sheets)
    columns = 1 + max(column for _, column in layout.sheets)
    right, bottom = tiles.window(rows - 1, columns - 1)[2:]
    x, y = room[:2]
    scale = min((room[2] - x) / right, (room[3] - y) / bottom)
    corner = np.array([x, y])
    items: list[Item] = []
    for outline in layout.outlines:
        path = Path.polyline(np.concatenate([outline, outline[:1]]) * scale + corner)
        items += [Area(path, "piece"), Stroke(path, Role.MARK, closed=True)]
    for sheet in layout.sheets:
        left, top, *far = (v * scale for v in tiles.core(*sheet))
        wide, high = far[0] - left, far[1] - top
        items.append(Box(x + left, y + top, wide, high, "sheet", line=Role.GUIDE))
        size = min(3.4, wide * 0.28)
        at = (x + left + 0.8, y + top + size)
        items.append(Label(sheet_name(*sheet), at, size, tone="slate"))
    for title, outline in zip(layout.titles, layout.outlines, strict=True):
        at = shapely.make_valid(shapely.Polygon(outline)).representative_point()
        size = 3.0
        text = lettering.shorten(title, size, 40.0, bold=True)
        items.append(Label(text, (x + at.x * scale, y + at.y * scale + 1.0), size, "middle", bold=True))
    return items, y + bottom * scale


def front_page(layout: Layout, garment: str, made: str) -> tuple[Item, ...]:
    """Return the first page, in mm from its window's left top corner.

    It has two test squares (10 cm and 4 in), how to print and how to join, a map of the sheets, and
    for each piece the sheets that it is on.
    """
    width, height = layout.tiles.window_size
    count = len(layout.sheets)
    title = lettering.shorten(garment or "Pattern", 8.0, width, bold=True)
    sub = f"{count} sheets" if count > 1 else "1 sheet"
    items: list[Item] = [
        Label(title, (0.0, 7.0), 8.0, bold=True),
        Label(f"Pattern at true size: this page and {sub}, {layout.tiles.title}. {made}", (0.0, 13.4), 3.6),
    ]
    top = 18.0
    items += _square(
        0.3,
        top,
        _CM_MM,
        "10 cm each way",
        (
            "How to print",
            "1. Print this page first, at 100 % (actual size). Do not scale or fit to the page.",
            "2. Measure both squares with your sewing ruler, across and down.",
            "3. If they are not right, find the printer's scaling and switch it off.",
            "4. Then print the other sheets the same way, on one side of the paper.",
        ),
    )
    items += _square(
        0.3,
        top + _CM_MM + 5.0,
        _INCHES_MM,
        "4 in each way",
        (
            "How to join the sheets",
            "1. Lay the sheets out as on the map. Gaps in it need no paper.",
            "2. Where a sheet says so, trim its edge along the frame.",
            "3. Glue it over its neighbour: half buttons of one number make whole ones.",
            "4. Join each row first, then the rows. Cut out along the solid outer line.",
        ),
    )
    left = _INCHES_MM + 6.0
    drawn, y = _map(layout, (left, top, width - 0.3, top + (height - top) * 0.62))
    items += drawn
    lines = [
        f"{piece}: {', '.join(sheet_name(*s) for s, held in layout.sheets.items() if i in held)}"
        for i, piece in enumerate(layout.titles)
    ]
    most = height - y - 16.0
    size = next((s for s in (3.4, 3.0, 2.6) if _height(lines, width - left, s) <= most), 2.2)
    items.append(Label("Which sheets each piece is on", (left, y + 8.0), 3.6, bold=True))
    items += _paragraphs(lines, left, y + 10.0, width - left, size)[0]
    return tuple(items)


def _height(lines: Sequence[str], room: float, size: float) -> float:
    return _paragraphs(lines, 0.0, 0.0, room, size)[1]

"""A photograph that is being traced: what was found in it, what was drawn, and what is being drawn."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray
from shapely import LineString

from likesewn.web.scene import Bounds, Handle, Item, Line, Part, Scene, Text
from likesewn.web.scenes.photographs import PhotoLines, photo_scene
from likesewn.web.scenes.wording import plain
from likesewn.web.words import say

__all__ = ["Shown", "corner_title", "edge_title", "thinned", "tracing_scene"]

Array = NDArray[np.float64]
Place = tuple[float, float]

NEAR_PX = 0.4
"""How far a line that is shown may stray from the one that was found, px of the photograph."""


STEPS = 24
"""Boxes round an outline begin and end at multiples of this part of the photograph."""

NUMBER = 16.0
"""Height of a sheet's number, pixels of the screen."""


@dataclass(frozen=True, slots=True)
class Shown:
    """What is shown over a photograph, px.

    Attributes:
        lines: What was found and drawn.
        by_hand: Ids of what a person put by hand, such as ``edge.front.side.left``.
        box: Left, top, right and bottom of the box round the garment, or None.
        round: Points of the line that was drawn round the garment; empty for none.
        garment: Strokes on the garment.
        table: Strokes on the table.
        drawing: Points of what is being drawn, in order.
        closed: Whether what is being drawn closes.
        snapped: The path that a seam that is being drawn takes, or None.
        thing: Corners of the card or paper that gives the scale.
        seam_words: What each seam is called, by its name.
        whole: True to show the whole photograph at first, not the garment alone.
    """

    lines: PhotoLines
    by_hand: frozenset[str] = frozenset()
    box: tuple[float, float, float, float] | None = None
    round: Sequence[Place] = ()
    garment: Sequence[ArrayLike] = ()
    table: Sequence[ArrayLike] = ()
    drawing: Sequence[Place] = ()
    closed: bool = False
    snapped: ArrayLike | None = None
    thing: Sequence[Place] = ()
    seam_words: Mapping[str, str] = field(default_factory=dict[str, str])
    whole: bool = False


def edge_title(name: str) -> str:
    """Return what a traced edge is called: ``front.side.left`` as ``Front: side, left``."""
    piece, _, rest = name.partition(".")
    edge, _, side = rest.partition(".")
    words = f"{plain(piece).capitalize()}: {plain(edge)}"
    return f"{words}, {side}" if side else words


def corner_title(name: str) -> str:
    """Return what a corner is called: ``underarm_left`` as ``Underarm, left``."""
    stem, _, side = name.rpartition("_")
    if stem and side in {"left", "right"}:
        return f"{plain(stem).capitalize()}, {side}"
    return plain(name).capitalize()


def thinned(points: ArrayLike, *, closed: bool = False) -> Array:
    """Return a line with no more points than it takes to keep within ``NEAR_PX`` of it."""
    line = np.asarray(points, dtype=np.float64)
    if len(line) < 3:
        return line
    whole = np.vstack([line, line[:1]]) if closed else line
    kept = np.asarray(LineString(whole).simplify(NEAR_PX).coords)
    return kept[:-1] if closed else kept


def tracing_scene(url: str, size: tuple[int, int], name: str, shown: Shown, unit: str = "cm") -> Scene:
    """Show a photograph that is being traced; ids are those of ``photo_scene``.

    Further ids: ``box``, ``round``, ``garment.0``, ``table.0`` and ``thing``; handles ``thing.0`` to
    ``thing.3``.
    """
    lines = replace(shown.lines, picked=tuple(shown.drawing))
    scene = photo_scene(url, size, name, lines, unit)
    items = [_worded(item, shown) for item in scene.items]
    if shown.box is not None:
        left, top, right, bottom = shown.box
        box = ((left, top), (right, top), (right, bottom), (left, bottom))
        items.append(_line(box, "mark", "box", say("scene.box"), closed=True))
    if shown.round:
        items.append(_line(shown.round, "mark", "round", say("scene.round"), closed=True))
    for sort, says in (("garment", say("scene.garment_stroke")), ("table", say("scene.table_stroke"))):
        look = "band" if sort == "garment" else "before"
        strokes = shown.garment if sort == "garment" else shown.table
        items += [_line(px, look, f"{sort}.{i}", f"{says}, {i + 1}") for i, px in enumerate(strokes)]
    if len(shown.thing) == 4:
        around = _in_order(shown.thing)
        items.append(_line(around, "measure", "thing", say("scene.thing"), closed=True))
    if shown.snapped is not None:
        items.append(Line(_d(thinned(shown.snapped)), "chosen"))
    elif len(shown.drawing) > 1:
        items.append(Line(_d(shown.drawing, closed=shown.closed), "chosen", closed=shown.closed))
    items += [
        Text((float(x), float(y)), str(number), NUMBER, "middle", bold=True, fixed=True)
        for number, (x, y) in ((number, px.mean(axis=0)) for number, px in shown.lines.sheets.items())
    ]
    corners = [
        Handle(f"thing.{i}", at, say("scene.thing_corner", number=i + 1), "curve")
        for i, at in enumerate(shown.thing)
    ]
    bounds = scene.bounds
    if shown.lines.outline is not None and not shown.whole:
        bounds = _about(shown.lines.outline, size)
    handles = (*(_handle(handle, shown) for handle in scene.handles), *corners)
    return replace(scene, items=tuple(items), handles=handles, bounds=bounds)


def _about(outline: Array, size: tuple[int, int]) -> Bounds:
    """Return a box round an outline that stays the same while the outline changes a little."""
    step = max(size) / STEPS
    low = np.floor(outline.min(axis=0) / step - 0.25) * step
    high = np.ceil(outline.max(axis=0) / step + 0.25) * step
    (left, top), (right, bottom) = np.maximum(low, 0.0), np.minimum(high, size)
    return float(left) - 0.5, float(top) - 0.5, float(right) - 0.5, float(bottom) - 0.5


def _worded(item: Item, shown: Shown) -> Item:
    if isinstance(item, Part) or not isinstance(item, Line) or not item.id:
        return item
    sort, _, name = item.id.partition(".")
    if sort == "edge":
        hand = ", put by hand" if item.id in shown.by_hand else ""
        return replace(item, says=f"{edge_title(name)}{hand}")
    if sort == "seam":
        return replace(item, says=shown.seam_words.get(name, item.says))
    return item


def _handle(handle: Handle, shown: Shown) -> Handle:
    sort, _, name = handle.id.partition(".")
    if sort == "corner":
        hand = ", put by hand" if handle.id in shown.by_hand else ""
        return replace(handle, says=f"{corner_title(name)}{hand}")
    if sort == "curve":
        edge, _, number = name.rpartition(".")
        return replace(handle, says=f"{edge_title(edge)}, point {int(number) + 1}")
    return replace(handle, movable=False) if sort == "picked" else handle


def _line(px: ArrayLike, look: str, id_: str, says: str, *, closed: bool = False) -> Line:
    return Line(_d(px, closed=closed), look, id_, says, closed=closed, pick=True)


def _in_order(corners: Sequence[Place]) -> list[Place]:
    """Return four corners in order round their middle."""
    middle = np.mean(corners, axis=0)
    return sorted(corners, key=lambda at: float(np.arctan2(at[1] - middle[1], at[0] - middle[0])))


def _d(px: ArrayLike, *, closed: bool = False) -> str:
    rows = np.asarray(px, dtype=np.float64)
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in rows) + ("Z" if closed else "")

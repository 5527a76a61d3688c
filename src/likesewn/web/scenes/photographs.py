"""A photograph: the sheets found in it, the outline proposed, and the corners and points to take hold of."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from likesewn.web.scene import Backdrop, Handle, Item, Line, Part, Scene
from likesewn.web.scenes.wording import plain
from likesewn.web.words import say

__all__ = ["PhotoLines", "photo_scene"]

Array = NDArray[np.float64]
Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class PhotoLines:
    """What is drawn over a photograph, in its pixels.

    Attributes:
        sheets: Outline of each reference sheet found, shape (n, 2), by its number.
        outline: The garment's outline, closed, shape (n, 2), or None.
        settled: True once a person has accepted the outline; until then it is a proposal.
        corners: Corners by name.
        edges: Edges by name, each shape (n, 2).
        curve_points: Points that an edge's curve runs through, shape (n, 2), by the edge's name.
        seams: Seams inside the garment by name, each shape (n, 2).
        picked: Points put down for a seam that is not yet found, in order.
        strokes: Strokes that say what is garment and what is table, each shape (n, 2).
    """

    sheets: Mapping[int, Array] = field(default_factory=dict[int, Array])
    outline: Array | None = None
    settled: bool = False
    corners: Mapping[str, Place] = field(default_factory=dict[str, Place])
    edges: Mapping[str, Array] = field(default_factory=dict[str, Array])
    curve_points: Mapping[str, Array] = field(default_factory=dict[str, Array])
    seams: Mapping[str, Array] = field(default_factory=dict[str, Array])
    picked: Sequence[Place] = ()
    strokes: Sequence[Array] = ()


def photo_scene(url: str, size: tuple[int, int], name: str, lines: PhotoLines, unit: str = "cm") -> Scene:
    """Show a photograph with what was found in it.

    Args:
        url: Where the browser gets the picture.
        size: Its width and height, px; pixel centres lie at whole numbers.
        name: The photograph's name.
        lines: What is drawn over it.
        unit: The person's unit, for words.

    Returns:
        The scene. Ids: ``sheet.1``, ``outline``, ``edge.NAME``, ``seam.NAME``; handles ``corner.NAME``,
        ``curve.NAME.0`` and ``picked.0``.
    """
    width, height = size
    items: list[Item] = [
        Part(
            f"sheet.{number}",
            say("scene.sheet_found", number=number),
            (Line(d, "sheet", closed=True),),
            d,
            "",
            pick=True,
        )
        for number, d in ((number, _d(px, closed=True)) for number, px in lines.sheets.items())
    ]
    if lines.outline is not None:
        look = "outline" if lines.settled else "proposed"
        says = say(f"scene.{look}")
        items.append(Line(_d(lines.outline, closed=True), look, "outline", says, closed=True, pick=True))
    items += [
        Line(_d(px), "trued", f"edge.{key}", plain(key).capitalize(), pick=True)
        for key, px in lines.edges.items()
    ]
    items += [
        Line(_d(px), "seam", f"seam.{key}", f"{plain(key).capitalize()} seam", pick=True)
        for key, px in lines.seams.items()
    ]
    items += [Line(_d(px), "mark") for px in lines.strokes]
    handles = [Handle(f"corner.{key}", at, plain(key).capitalize()) for key, at in lines.corners.items()]
    handles += [
        Handle(f"curve.{key}.{i}", (float(x), float(y)), f"{plain(key).capitalize()}, point {i + 1}", "curve")
        for key, points in lines.curve_points.items()
        for i, (x, y) in enumerate(points)
    ]
    handles += [
        Handle(f"picked.{i}", at, say("scene.picked", n=i + 1), "picked") for i, at in enumerate(lines.picked)
    ]
    found = len(lines.sheets)
    sheets = say("scene.sheets_found", n=found)
    outline = (
        "no outline yet"
        if lines.outline is None
        else "outline accepted"
        if lines.settled
        else "outline proposed"
    )
    return Scene(
        say("scene.photograph", name=name),
        f"{sheets}, {outline}, {len(lines.corners)} corners.",
        (-0.5, -0.5, width - 0.5, height - 0.5),
        tuple(items),
        unit,
        scale=None,
        # the centre of the first pixel, not its corner, is (0, 0)
        backdrop=Backdrop(url, float(width), float(height), -0.5, -0.5),
        handles=tuple(handles),
    )


def _d(px: Array, *, closed: bool = False) -> str:
    return "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in px) + ("Z" if closed else "")

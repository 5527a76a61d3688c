"""Printing: a map of the sheets, and single sheets as they come out of the printer."""

import numpy as np
from numpy.typing import NDArray

from likesewn.publish.drawing import Bounds
from likesewn.publish.sheets import Layout, front_page, sheet_marks
from likesewn.publish.tiles import sheet_name
from likesewn.web.scene import Area, Item, Line, Part, Scene, Text
from likesewn.web.scenes.places import polygon_title
from likesewn.web.scenes.replay import replayed, ring_of
from likesewn.web.scenes.wording import sheet_words
from likesewn.web.words import say

__all__ = ["FRONT_PAGE", "page_scene", "print_scene"]

FRONT_PAGE = "start"
"""Name of the first page, which says how to print and has the test squares."""

_NAME_PX = 13.0


def print_scene(layout: Layout, name: str, unit: str) -> Scene:
    """Show which sheets there are and what is on them.

    Args:
        layout: The pieces on the sheets, from ``publish.sheets.spread``.
        name: The garment's name.
        unit: Unit of rulers and words.

    Returns:
        The scene; each sheet is a part whose id is its name (``B3``).
    """
    items: list[Item] = [Area(ring_of(outline), "piece") for outline in layout.outlines]
    reach: list[Bounds] = []
    for sheet, numbers in layout.sheets.items():
        core = layout.tiles.core(*sheet)
        reach.append(core)
        title = sheet_name(*sheet)
        wide = core[2] - core[0]
        corner = (core[0] + 0.03 * wide, core[1] + 0.12 * wide)
        letters = Text(corner, title, _NAME_PX, tone="slate", fixed=True, room=0.4 * wide)
        says = sheet_words(title, [layout.titles[i] for i in numbers])
        ring = ring_of(_corners(core))
        items.append(Part(title, says, (Line(ring, "sheet", closed=True), letters), ring, "", pick=True))
    for title, outline in zip(layout.titles, layout.outlines, strict=True):
        items += [Line(ring_of(outline), "cut", closed=True), polygon_title(outline, title)]
    boxes = np.array(reach or [(0.0, 0.0, 100.0, 100.0)])
    left, top = boxes[:, :2].min(axis=0)
    right, bottom = boxes[:, 2:].max(axis=0)
    count = len(layout.sheets)
    sheets = "1 sheet" if count == 1 else f"{count} sheets"
    summary = say("scene.on_sheets", sheets=sheets, paper=layout.tiles.title)
    bounds = (float(left), float(top), float(right), float(bottom))
    return Scene(f"{name}: sheets", summary, bounds, tuple(items), unit)


def page_scene(layout: Layout, sheet: str, garment: str, made: str, unit: str) -> Scene:
    """Show one sheet as it comes out of the printer.

    Args:
        layout: The pieces on the sheets.
        sheet: The sheet's name, or ``FRONT_PAGE``.
        garment: The garment's name.
        made: The date as printed.
        unit: Unit of rulers.

    Raises:
        KeyError: There is no such sheet.
    """
    tiles = layout.tiles
    if sheet == FRONT_PAGE:
        window = (0.0, 0.0, *tiles.window_size)
        items = front_page(layout, garment, made)
        summary = say("scene.first_page")
    else:
        places = {sheet_name(*place): place for place in layout.sheets}
        place = places[sheet]
        window = tiles.window(*place)
        shown = [item for number in layout.sheets[place] for item in layout.items[number]]
        items = (*sheet_marks(layout, place, garment, made), *shown)
        summary = f"{sheet_words(sheet, [layout.titles[i] for i in layout.sheets[place]])}."
    left, top, right, bottom = window
    margin = tiles.margin
    paper = (left - margin, top - margin, right + margin, bottom + margin)
    return Scene(
        f"{garment}: sheet {sheet}", summary, paper, replayed(tuple(items)), unit, clip=window, paper=paper
    )


def _corners(bounds: Bounds) -> NDArray[np.float64]:
    left, top, right, bottom = bounds
    return np.array([(left, top), (right, top), (right, bottom), (left, bottom)])

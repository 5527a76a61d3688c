"""Printing: a map of the sheets, and single sheets as they come out of the printer."""

import numpy as np

from likesewn.geometry import Path
from likesewn.publish.drawing import Bounds
from likesewn.publish.sheets import Layout, front_page, sheet_marks
from likesewn.publish.tiles import sheet_name
from likesewn.web.scene import Area, Item, Line, Part, Scene, Text
from likesewn.web.scenes.places import polygon_title
from likesewn.web.scenes.replay import d_of, replayed
from likesewn.web.scenes.wording import sheet_words

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
    items: list[Item] = [
        Area(d_of(Path.polyline(np.concatenate([outline, outline[:1]])), closed=True), "piece")
        for outline in layout.outlines
    ]
    reach: list[Bounds] = []
    for sheet, numbers in layout.sheets.items():
        core = layout.tiles.core(*sheet)
        reach.append(core)
        title = sheet_name(*sheet)
        wide = core[2] - core[0]
        corner = (core[0] + 0.03 * wide, core[1] + 0.12 * wide)
        letters = Text(corner, title, _NAME_PX, tone="slate", fixed=True, room=0.4 * wide)
        says = sheet_words(title, [layout.titles[i] for i in numbers])
        ring = d_of(_ring(core), closed=True)
        items.append(Part(title, says, (Line(ring, "sheet", closed=True), letters), ring, "", pick=True))
    for title, outline in zip(layout.titles, layout.outlines, strict=True):
        d = d_of(Path.polyline(np.concatenate([outline, outline[:1]])), closed=True)
        items += [Line(d, "cut", closed=True), polygon_title(outline, title)]
    boxes = np.array(reach or [(0.0, 0.0, 100.0, 100.0)])
    left, top = boxes[:, :2].min(axis=0)
    right, bottom = boxes[:, 2:].max(axis=0)
    count = len(layout.sheets)
    sheets = "1 sheet" if count == 1 else f"{count} sheets"
    summary = f"The pattern on {sheets} of {layout.tiles.title} paper."
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
        summary = "The first page: how to print, the test squares and the map."
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
    ground = Area(d_of(_ring(paper), closed=True), "paper")
    edge = Line(d_of(_ring(paper), closed=True), "sheet", closed=True)
    return Scene(
        f"{garment}: sheet {sheet}",
        summary,
        paper,
        (ground, edge, *replayed(tuple(items))),
        unit,
        clip=paper if sheet == FRONT_PAGE else window,
    )


def _ring(bounds: Bounds) -> Path:
    left, top, right, bottom = bounds
    return Path.polyline([(left, top), (right, top), (right, bottom), (left, bottom), (left, top)])

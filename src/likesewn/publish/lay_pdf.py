"""The lay plan on paper: the picture to scale on one page, then what to cut in order and where to pin it."""

from collections.abc import Iterator, Mapping
from itertools import pairwise

from likesewn.garment import Weight
from likesewn.geometry import Path
from likesewn.lay import Placed, Plan, buy_text, place_words
from likesewn.publish import lettering
from likesewn.publish.drawing import Item, Label, Role, Stroke, moved, scaled
from likesewn.publish.lay_svg import lay_plan_drawing
from likesewn.publish.pdf import PdfPages
from likesewn.publish.tiles import tiling
from likesewn.units import format_length

__all__ = ["lay_plan_pdf"]

MARGIN = 10.0
SIZE = 3.4
"""Height of the lettering of the list, mm."""

LINE = 5.4
COLUMNS = (0.0, 10.0, 50.0, 66.0, 90.0, 160.0)
"""Where the columns of the list begin, mm: number, piece, copies, layers, and the two places to pin by."""


def lay_plan_pdf(plan: Plan, titles: Mapping[str, str], unit: str = "cm", paper: str = "a4") -> bytes:
    """Return a lay plan as a PDF; the same plan always gives the same bytes.

    Args:
        plan: Where each piece lies.
        titles: Names of the pieces as printed, by name.
        unit: Unit for lengths in words.
        paper: Name of the paper, such as ``a4`` or ``letter``.

    Raises:
        InputError: The paper is not known.
    """
    sheet = tiling(paper, MARGIN, 10.0)
    drawing = lay_plan_drawing(plan, titles, unit)
    # The cloth is usually longer than it is wide, and so is a sheet on its side.
    wide, high = max(sheet.paper_width, sheet.paper_height), min(sheet.paper_width, sheet.paper_height)
    pages = PdfPages(drawing.title, drawing.summary)
    room = wide - 2 * MARGIN, high - 2 * MARGIN - 8.0
    left, top, right, bottom = drawing.bounds
    factor = min(room[0] / (right - left), room[1] / (bottom - top))
    items = [scaled(item, factor) for item in drawing.items]
    across, down = left * factor, top * factor - 8.0
    heading = Label(f"{drawing.title}, 1 : {1 / factor:.3g}", (across, down + 4.5), 4.2, bold=True)
    window = across, down, across + wide - 2 * MARGIN, down + high - 2 * MARGIN
    pages.page((wide, high), MARGIN, window, [heading, *items], "Lay plan")
    size = sheet.paper_width, sheet.paper_height
    width, height = size[0] - 2 * MARGIN, size[1] - 2 * MARGIN
    for number, lines in enumerate(_pages(list(_list(plan, titles, unit, width)), height), 1):
        pages.page(size, MARGIN, (0.0, 0.0, width, height), lines, f"Cutting list {number}")
    return pages.finish()


def _pages(rows: list[list[Item]], height: float) -> Iterator[list[Item]]:
    """Spread rows, each drawn about y = 0, over pages."""
    per_page = max(int(height / LINE) - 1, 1)
    cuts = [*range(0, len(rows), per_page), len(rows)]
    for first, last in pairwise(cuts):
        shown: list[Item] = []
        for i, row in enumerate(rows[first:last], 1):
            shown += [_down(item, i * LINE) for item in row]
        yield shown


def _down(item: Item, by: float) -> Item:
    return moved(item, 0.0, (0.0, by))


def _list(plan: Plan, titles: Mapping[str, str], unit: str, width: float) -> Iterator[list[Item]]:
    yield [Label(f"Cutting list: {plan.cloth_name}", (0.0, 0.0), 5.0, bold=True)]
    yield []
    heads = ("No.", "Piece", "Copies", "Layers", "Where it lies", "From the end")
    yield [Label(head, (x, 0.0), SIZE, bold=True) for head, x in zip(heads, COLUMNS, strict=True)]
    yield [Stroke(Path.line((0.0, -3.6), (width, -3.6)), Role.GUIDE)]
    number = 0
    for placed in plan.placed:
        number += not (placed.along_with and placed.top > 1)
        cells = (
            f"{number}",
            lettering.shorten(titles.get(placed.piece, placed.piece), SIZE, COLUMNS[2] - COLUMNS[1] - 2),
            str(placed.copies),
            _layers(plan, placed),
            "on the fold" if placed.on_fold else place_words(plan, placed, unit),
            format_length(float(placed.outline[:, 0].min()), unit),
        )
        yield [Label(cell, (x, 0.0), SIZE) for cell, x in zip(cells, COLUMNS, strict=True)]
    yield []
    figures = (
        (
            f"The lay takes up {format_length(plan.length_mm, unit)} of cloth"
            f" {format_length(plan.cloth.width_mm, unit)} wide and uses {plan.used_fraction:.0%} of it."
        ),
        f"Buy {buy_text(plan.buy_mm, unit)}." if plan.cloth.length_mm is None else "",
    )
    says = [f"{f.message} {f.todo}".strip() for f in plan.findings if f.code != "how-near"]
    says += [f.message for f in plan.findings if f.code == "how-near" and f.weight is Weight.NOTE]
    for text in (*figures, *says):
        for line in lettering.fold(text, SIZE, width) if text else ():
            yield [Label(line, (0.0, 0.0), SIZE)]


def _layers(plan: Plan, placed: Placed) -> str:
    last = placed.top + placed.layers - 1
    if plan.layers == 1:
        return "single"
    return f"{placed.top} to {last} of {plan.layers}" if last > placed.top else f"{last} of {plan.layers}"

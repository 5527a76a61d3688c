"""Reference sheets for photographs as a PDF to print: a page that shows how, then the sheets.

Each sheet has its field of coded squares in the middle of the paper and four rulers round it, 200 mm and 8 in
both ways: no photograph can show that a printer draws everything 0.2 % too small, a rule can.
"""

import numpy as np
import shapely

from likesewn.errors import InputError, Problem
from likesewn.geometry import Path
from likesewn.photo.sheet import CELL_MM, FIELD_MM, MOST_SHEETS, SHEET_PAPERS, Sheet, sheet
from likesewn.publish import lettering
from likesewn.publish.drawing import Area, Item, Label, Role, Stroke, moved
from likesewn.publish.lay_pictures import HEIGHT, WIDTH, lay_pictures
from likesewn.publish.pdf import PdfPages
from likesewn.units import MM_PER_INCH, PAPER, Paper

__all__ = ["sheet_pdf"]

_EDGE_MM = 3.0
"""What lies nearer to the paper's edge is not drawn; most printers leave about this much white."""

_STEP_MM = HEIGHT + 46.0
"""From one row of pictures to the next, with title and words."""

_RULER_FROM_EDGE = 6.0
_RULER_MM, _RULER_INCHES = 200, 8


def sheet_pdf(paper: str = "a4", count: int = 4) -> bytes:
    """Return reference sheets 1 to ``count`` and the page that shows how to use them.

    Args:
        paper: ``a4`` or ``letter``.
        count: How many, 1 to 8.

    Returns:
        The file's bytes; the same call always gives the same bytes.

    Raises:
        InputError: The paper or the count is not one of these.
    """
    name = paper.strip().lower()
    problems: list[Problem] = []
    if name not in SHEET_PAPERS:
        problems.append(
            Problem(
                "reference sheets are not made for this paper",
                found=paper[:40],
                key="--paper",
                allowed=", ".join(SHEET_PAPERS),
            )
        )
    if not 1 <= count <= MOST_SHEETS:
        problems.append(
            Problem(
                "there cannot be so many reference sheets",
                found=str(count),
                key="--count",
                allowed=f"1 to {MOST_SHEETS}; four are best",
            )
        )
    if problems:
        raise InputError(*problems)
    size = PAPER[name]
    pages = PdfPages(
        "Reference sheets", f"Sheets to lay round a garment for photographs, {name.capitalize()}"
    )
    window = (_EDGE_MM, _EDGE_MM, size.width_mm - _EDGE_MM, size.height_mm - _EDGE_MM)
    dimensions = (size.width_mm, size.height_mm)
    pages.page(dimensions, _EDGE_MM, window, _how_page(size, count), "How to use the sheets")
    for number in range(1, count + 1):
        pages.page(dimensions, _EDGE_MM, window, _sheet_page(size, sheet(number)), f"Sheet {number}")
    return pages.finish()


def _how_page(size: Paper, count: int) -> tuple[Item, ...]:
    left, gap = 17.0, 8.0
    room = size.width_mm - 2 * left
    scale_left = left + (room - 2 * WIDTH - gap) / 2
    sheets = "one sheet" if count == 1 else f"{count} sheets"
    items: list[Item] = [
        Label("Measuring by photograph", (scale_left, 24.0), 8.0, bold=True),
        Label(
            f"This page shows how; {sheets} to print follow it. Keep them: they serve for every garment.",
            (scale_left, 31.5),
            3.6,
        ),
    ]
    for i, (drawing, words) in enumerate(lay_pictures()):
        x, y = scale_left + (i % 2) * (WIDTH + gap), 42.0 + (i // 2) * _STEP_MM
        items.append(Label(drawing.title, (x, y + 4.0), 4.4, bold=True))
        items += [moved(item, 0.0, (x, y + 8.0)) for item in drawing.items]
        down = y + 8.0 + HEIGHT + 1.5
        for line in lettering.fold(words, 3.5, WIDTH):
            down += 4.7
            items.append(Label(line, (x, down), 3.5))
    return tuple(items)


def _sheet_page(size: Paper, design: Sheet) -> tuple[Item, ...]:
    wide, high = FIELD_MM
    left, top = (size.width_mm - wide) / 2, (size.height_mm - high) / 2
    middle, edge = size.width_mm / 2, _RULER_FROM_EDGE
    baseline = top - 2.6
    items: list[Item] = [
        *_field(design, left, top),
        *_ruler((middle - _RULER_MM / 2, edge), 0.0, metric=True),
        *_ruler((edge, size.height_mm / 2 + _RULER_MM / 2), -90.0, metric=True),
        *_ruler(
            (middle - _RULER_INCHES / 2 * MM_PER_INCH, size.height_mm - edge), 0.0, metric=False, up=True
        ),
        *_ruler(
            (size.width_mm - edge, size.height_mm / 2 - _RULER_INCHES / 2 * MM_PER_INCH), 90.0, metric=False
        ),
        Label(f"Sheet {design.number}", (left, baseline), 4.0, bold=True),
        Label(
            "This side up. Print at actual size (100 %): the rulers must measure true.",
            (left + wide, baseline),
            3.1,
            "end",
        ),
    ]
    return tuple(items)


def _field(design: Sheet, left: float, top: float) -> list[Item]:
    """The dark cells as whole areas, so that no viewer shows hairlines between them."""
    boxes = [
        shapely.box(column, row, column + 1, row + 1)
        for row, column in zip(*np.nonzero(design.cells), strict=True)
    ]
    whole = shapely.unary_union(boxes)
    parts = [part for part in shapely.get_parts(whole) if isinstance(part, shapely.Polygon)]
    rings = [(part.exterior, "black") for part in parts]
    rings += [(ring, "paper") for part in parts for ring in part.interiors]
    # a light hole goes over the dark area round it, and what is dark inside the hole over that
    rings.sort(key=lambda ring: -shapely.Polygon(ring[0]).area)
    return [
        Area(Path.polyline(np.asarray(ring.coords) * CELL_MM + (left, top)), tone) for ring, tone in rings
    ]


def _ruler(at: tuple[float, float], angle: float, *, metric: bool, up: bool = False) -> list[Item]:
    """A ruler from ``at`` along ``angle`` (degrees), its marks below the way it runs, or ``up``."""
    items: list[Item] = []
    if metric:
        ends = float(_RULER_MM)
        marks = [
            (float(mm), 4.0 if mm % 50 == 0 else 3.0 if mm % 10 == 0 else 1.7) for mm in range(0, 201, 2)
        ]
        figures = [(float(mm), str(mm)) for mm in range(0, _RULER_MM, 20)] + [(ends, f"{_RULER_MM} mm")]
    else:
        ends = _RULER_INCHES * MM_PER_INCH
        marks = [
            (i * MM_PER_INCH / 8, 4.0 if i % 8 == 0 else 3.0 if i % 4 == 0 else 1.7)
            for i in range(8 * _RULER_INCHES + 1)
        ]
        figures = [(i * MM_PER_INCH, str(i)) for i in range(_RULER_INCHES)] + [(ends, f"{_RULER_INCHES} in")]
    items.append(Stroke(Path.polyline([(0.0, 0.0), (ends, 0.0)]), Role.MARK))
    items += [
        Stroke(Path.polyline([(x, 0.0), (x, -depth if up else depth)]), Role.MARK) for x, depth in marks
    ]
    for x, text in figures:
        anchor = "start" if x == 0.0 else "end" if x == ends else "middle"
        items.append(Label(text, (x, -5.0 if up else 6.6), 2.3, anchor))
    return [moved(item, angle, at) for item in items]

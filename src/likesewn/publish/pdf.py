"""Drawings as PDF pages at true scale.

Straight lines and cubic curves are written as such, never flattened. The lettering's fonts are carried
inside the file.
"""

from collections.abc import Sequence
from io import BytesIO

from reportlab.lib.colors import HexColor
from reportlab.pdfgen.canvas import Canvas

from likesewn import __version__
from likesewn.geometry import Path
from likesewn.publish import lettering
from likesewn.publish.drawing import (
    LINES,
    TONES,
    Area,
    Bounds,
    Box,
    Group,
    Item,
    Label,
    Role,
    Stroke,
    item_bounds,
    replay,
)
from likesewn.publish.embedding import embedded
from likesewn.publish.pieces import PatternDrawing
from likesewn.publish.sheets import front_page, sheet_marks, spread
from likesewn.publish.tiles import sheet_name, tiling
from likesewn.publish.typesetting import set_line

__all__ = ["POINTS_PER_MM", "PdfPages", "pattern_pdf"]

POINTS_PER_MM = 72.0 / 25.4


class PdfPages:
    """A PDF document, page after page."""

    def __init__(self, title: str, subject: str) -> None:
        """Start a document; the same pages always give the same bytes."""
        self._file = BytesIO()
        self._canvas = Canvas(self._file, invariant=1, pageCompression=1)
        self._canvas.setTitle(lettering.sound(title))
        self._canvas.setSubject(lettering.sound(subject))
        self._canvas.setCreator(f"likesewn {__version__}")
        self._canvas.setAuthor("")
        # asks viewers to offer "actual size" rather than "fit to page"
        self._canvas.setViewerPreference("PrintScaling", "None")

    def page(
        self,
        size: tuple[float, float],
        margin: float,
        window: Bounds,
        items: Sequence[Item],
        name: str,
    ) -> None:
        """Add a page that shows a window of the plane.

        Args:
            size: Width and height of the paper, mm.
            margin: Blank on every side, mm.
            window: The part of the plane to show; it is cut off at the margins.
            items: What to draw, in the plane's coordinates.
            name: The page's name in the reader's list of pages.
        """
        width, height = (v * POINTS_PER_MM for v in size)
        self._canvas.setPageSize((width, height))
        self._canvas.bookmarkPage(name)
        self._canvas.addOutlineEntry(name, name)
        self._canvas.saveState()
        clip = self._canvas.beginPath()
        blank = margin * POINTS_PER_MM
        clip.rect(blank, blank, width - 2 * blank, height - 2 * blank)
        self._canvas.clipPath(clip, stroke=0, fill=0)
        self._canvas.setLineCap(1)
        self._canvas.setLineJoin(1)
        replay(tuple(items), _PageWriter(self._canvas, size[1], margin, window))
        self._canvas.restoreState()
        self._canvas.showPage()

    def finish(self) -> bytes:
        """Return the document."""
        self._canvas.save()
        return self._file.getvalue()


class _PageWriter:
    """Draws items on the current page; what lies outside the window is left out."""

    def __init__(self, canvas: Canvas, height: float, margin: float, window: Bounds) -> None:
        self._canvas = canvas
        self._window = window
        self._left = margin - window[0]
        self._top = height - margin + window[1]

    def _point(self, x: float, y: float) -> tuple[float, float]:
        return (self._left + float(x)) * POINTS_PER_MM, (self._top - float(y)) * POINTS_PER_MM

    def _outside(self, item: Item) -> bool:
        left, top, right, bottom = item_bounds((item,))
        near = 1.0  # line width
        return (
            right < self._window[0] - near
            or left > self._window[2] + near
            or bottom < self._window[1] - near
            or top > self._window[3] + near
        )

    def _path(self, path: Path, *, closed: bool) -> object:
        drawn = self._canvas.beginPath()
        drawn.moveTo(*self._point(*path.start))
        for control, straight in zip(path.segments, path.straight, strict=True):
            points = [value for point in control[1:] for value in self._point(*point)]
            if straight:
                drawn.lineTo(*points[4:])
            else:
                drawn.curveTo(*points)
        if closed:
            drawn.close()
        return drawn

    def _look(self, role: Role) -> None:
        style = LINES[role]
        self._canvas.setStrokeColor(HexColor(style.colour))
        self._canvas.setLineWidth(style.width * POINTS_PER_MM)
        self._canvas.setDash([d * POINTS_PER_MM for d in style.dash])

    def begin(self, group: Group) -> None:
        """Nothing to open: pages have no groups."""

    def end(self, group: Group) -> None:
        """Nothing to close."""

    def stroke(self, stroke: Stroke) -> None:
        if not self._outside(stroke):
            self._look(stroke.role)
            self._canvas.drawPath(self._path(stroke.path, closed=stroke.closed), stroke=1, fill=0)

    def area(self, area: Area) -> None:
        if not self._outside(area):
            self._canvas.setFillColor(HexColor(TONES[area.tone]))
            self._canvas.drawPath(self._path(area.path, closed=True), stroke=0, fill=1)

    def box(self, box: Box) -> None:
        if self._outside(box):
            return
        if box.tone:
            self._canvas.setFillColor(HexColor(TONES[box.tone]))
        if box.line is not None:
            self._look(box.line)
        x, y = self._point(box.x, box.y + box.height)
        self._canvas.rect(
            x,
            y,
            box.width * POINTS_PER_MM,
            box.height * POINTS_PER_MM,
            stroke=int(box.line is not None),
            fill=int(bool(box.tone)),
        )

    def label(self, label: Label) -> None:
        if self._outside(label):
            return
        line = set_line(label.text, bold=label.bold)
        # other formats give the label this much room, and so does what lies round it
        room = lettering.width(label.text, label.size, bold=label.bold)
        size = POINTS_PER_MM * (min(label.size, room / line.width) if line.width else label.size)
        start = {"start": 0.0, "middle": -0.5, "end": -1.0}[label.anchor] * line.width * size
        self._canvas.saveState()
        self._canvas.setFillColor(HexColor(TONES[label.tone]))
        self._canvas.translate(*self._point(*label.at))
        self._canvas.rotate(-label.angle)
        for run in line.runs:
            at = start + run.x * size, run.y * size
            embedded(run.typeface).write(self._canvas, at, size, run.glyphs)
        self._canvas.restoreState()


def pattern_pdf(
    pattern: PatternDrawing, paper: str = "a4", *, margin: float = 10.0, overlap: float = 10.0
) -> bytes:
    """Return the pattern as a PDF to print at home and glue together.

    The first page has the test squares, a map and how to go about it; then comes one page for every
    sheet that holds a share of the pattern, its lines or the inside of a piece.

    Args:
        pattern: The drawn pieces.
        paper: ``a4`` or ``letter``.
        margin: Blank on every side of a sheet, mm.
        overlap: Strip that neighbouring sheets share, mm.

    Returns:
        The file's bytes; the same pattern always gives the same bytes.

    Raises:
        InputError: The paper is not known, or margin or overlap do not suit it, or there is no piece.
    """
    tiles = tiling(paper, margin, overlap)
    layout = spread(pattern, tiles)
    made = pattern.made.isoformat()
    size = (tiles.paper_width, tiles.paper_height)
    pages = PdfPages(
        f"{pattern.garment}: pattern" if pattern.garment else "Pattern",
        f"Sewing pattern at true size on {tiles.title}",
    )
    window = (0.0, 0.0, *tiles.window_size)
    pages.page(size, margin, window, front_page(layout, pattern.garment, made), "Start here")
    for sheet, numbers in layout.sheets.items():
        shown = [item for number in numbers for item in layout.items[number]]
        marks = sheet_marks(layout, sheet, pattern.garment, made)
        pages.page(size, margin, tiles.window(*sheet), [*marks, *shown], sheet_name(*sheet))
    return pages.finish()

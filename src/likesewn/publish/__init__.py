"""Putting it in the hand: drawings, and the files made from them.

``drawing`` records what is to be seen once; ``svg`` and ``pdf`` replay it. ``pieces`` draws the pattern
(with ``piece_lines`` and ``lettering_room``), ``pictures`` shows it on one plane; ``tiles``, ``arrange``
and ``sheets`` spread it over sheets of paper for ``pdf``. ``lay_svg`` shows the lay plan and ``lay_pdf`` puts
it on paper; ``measure_spans`` shows how each measure is taken, ``measures_drawing`` in pictures;
``sewing_page`` is the sewing plan to read.

Names are imported when they are first used, so that a command loads only the formats that it writes.
"""

from importlib import import_module
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from likesewn.publish.lay_pdf import lay_plan_pdf
    from likesewn.publish.lay_svg import lay_plan_svg
    from likesewn.publish.measures_drawing import measure_drawings
    from likesewn.publish.pdf import pattern_pdf
    from likesewn.publish.pictures import overview_svg, pattern_svg
    from likesewn.publish.pieces import PatternDrawing, pattern_drawing
    from likesewn.publish.sewing_page import sewing_plan_html
    from likesewn.publish.truing_picture import truing_svg

__all__ = [
    "PatternDrawing",
    "lay_plan_pdf",
    "lay_plan_svg",
    "measure_drawings",
    "overview_svg",
    "pattern_drawing",
    "pattern_pdf",
    "pattern_svg",
    "sewing_plan_html",
    "truing_svg",
]

_HOMES = {
    "PatternDrawing": "pieces",
    "lay_plan_pdf": "lay_pdf",
    "lay_plan_svg": "lay_svg",
    "measure_drawings": "measures_drawing",
    "overview_svg": "pictures",
    "pattern_drawing": "pieces",
    "pattern_pdf": "pdf",
    "pattern_svg": "pictures",
    "sewing_plan_html": "sewing_page",
    "truing_svg": "truing_picture",
}


def __getattr__(name: str) -> object:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)

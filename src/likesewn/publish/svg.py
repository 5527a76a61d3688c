"""Drawings as SVG: one user unit is one mm, and the page is given in mm.

Paths use the absolute commands M, L, C and Z only. Nothing on or below a group is scaled or turned;
lettering that runs at an angle stands in a group of its own after the group that it belongs to, and
that is the only place where a turn is written.
"""

import math
import re
from html import escape

from likesewn.geometry import Path
from likesewn.publish.drawing import (
    INK,
    LINES,
    TONES,
    Area,
    Box,
    Drawing,
    Group,
    Label,
    Role,
    Stroke,
    replay,
)

__all__ = ["DECIMALS", "path_data", "svg"]

DECIMALS = 4
"""Coordinates are written to 1e-4 mm."""

_FONT = "'Helvetica Neue', Helvetica, Arial, 'Liberation Sans', sans-serif"
_LOOK = f'font-family="{_FONT}" fill="{INK}" stroke-linecap="round" stroke-linejoin="round"'
# XML 1.0, 2.2: the characters that no document may contain
_FORBIDDEN = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def _number(value: float) -> str:
    text = f"{value:.{DECIMALS}f}".rstrip("0").rstrip(".")
    return "0" if text in {"-0", ""} else text


def _text(value: str) -> str:
    return escape(_FORBIDDEN.sub("\ufffd", value), quote=True)


def path_data(path: Path, *, closed: bool = False) -> str:
    """Return a path's ``d``: absolute M, L, C (and Z where ``closed``), straight lines as L."""
    segments = path.segments
    parts = [f"M{_number(segments[0, 0, 0])} {_number(segments[0, 0, 1])}"]
    for control, straight in zip(segments, path.straight, strict=True):
        points = control[3:] if straight else control[1:]
        run = " ".join(f"{_number(x)} {_number(y)}" for x, y in points)
        parts.append(("L" if straight else "C") + run)
    return " ".join(parts) + (" Z" if closed else "")


class _Writer:
    """Collects the lines of an SVG document."""

    def __init__(self, pen: float) -> None:
        self.pen = pen
        self.lines: list[str] = []
        self._aside: list[list[str]] = [[]]

    def _look(self, role: Role) -> str:
        style = LINES[role]
        look = f' stroke="{style.colour}" stroke-width="{_number(style.width * self.pen)}"'
        if style.dash:
            dash = " ".join(_number(d * self.pen) for d in style.dash)
            look += f' stroke-dasharray="{dash}"'
        return look

    def begin(self, group: Group) -> None:
        data = "".join(f' data-{key}="{_text(value)}"' for key, value in group.data)
        self.lines.append(f'<g class="{_text(group.name)}"{data}>')
        if group.title:
            self.lines.append(f"<title>{_text(group.title)}</title>")
        self._aside.append([])

    def end(self, group: Group) -> None:
        self.lines.append("</g>")
        turned = self._aside.pop()
        if turned:
            whose = next((value for key, value in group.data if key == "piece"), group.name)
            self.lines += [f'<g class="lettering" data-for="{_text(whose)}">', *turned, "</g>"]

    def turned(self) -> list[str]:
        """Return the turned lettering that stands in no group."""
        return self._aside[0]

    def stroke(self, stroke: Stroke) -> None:
        edge = f' data-edge="{_text(stroke.edge)}"' if stroke.edge else ""
        d = path_data(stroke.path, closed=stroke.closed)
        self.lines.append(
            f'<path class="{stroke.role}" data-line="{stroke.role}"{edge} d="{d}" fill="none"'
            f"{self._look(stroke.role)}/>"
        )

    def area(self, area: Area) -> None:
        d = path_data(area.path, closed=True)
        self.lines.append(f'<path class="area" fill="{TONES[area.tone]}" d="{d}"/>')

    def box(self, box: Box) -> None:
        fill = TONES[box.tone] if box.tone else "none"
        line = "" if box.line is None else self._look(box.line)
        self.lines.append(
            f'<rect class="{_text(box.name)}" x="{_number(box.x)}" y="{_number(box.y)}" '
            f'width="{_number(box.width)}" height="{_number(box.height)}" fill="{fill}"{line}/>'
        )

    def label(self, label: Label) -> None:
        anchor = "" if label.anchor == "start" else f' text-anchor="{label.anchor}"'
        weight = ' font-weight="bold"' if label.bold else ""
        fill = "" if label.tone == "ink" else f' fill="{TONES[label.tone]}"'
        x, y = (_number(v) for v in label.at)
        angle = math.remainder(label.angle, 360.0)
        turn = f' transform="rotate({_number(angle)} {x} {y})"' if abs(angle) > 1e-9 else ""
        text = (
            f'<text x="{x}" y="{y}" font-size="{_number(label.size)}"{anchor}{weight}{fill}{turn}>'
            f"{_text(label.text)}</text>"
        )
        (self._aside[-1] if turn else self.lines).append(text)


def svg(drawing: Drawing, *, pen: float = 1.0, screen_width: int | None = None) -> str:
    """Return a drawing as an SVG document.

    Args:
        drawing: What to draw.
        pen: Factor for line widths and dashes, for drawings that are looked at much reduced.
        screen_width: Width in CSS pixels of a picture for a page; None gives the page in mm, at true
            size.

    Returns:
        The document as text; the same drawing always gives the same text.
    """
    left, top, right, bottom = drawing.bounds
    width, height = right - left, bottom - top
    writer = _Writer(pen)
    replay(drawing.items, writer)
    if screen_width is None:
        size = f'width="{_number(width)}mm" height="{_number(height)}mm"'
    else:
        size = f'width="{screen_width}" height="{round(screen_width * height / width)}"'
    view = " ".join(_number(v) for v in (left, top, width, height))
    return "\n".join(
        [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" {size} viewBox="{view}" role="img" {_LOOK}>',
            f"<title>{_text(drawing.title)}</title>",
            f"<desc>{_text(drawing.summary)}</desc>",
            *writer.lines,
            *writer.turned(),
            "</svg>",
            "",
        ]
    )

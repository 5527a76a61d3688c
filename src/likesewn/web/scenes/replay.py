"""Drawings as scenes: what goes to paper is replayed to the screen, with names and words added."""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from likesewn.geometry import Path
from likesewn.publish import drawing
from likesewn.publish.drawing import Box, Group, Label, Role, Stroke, replay
from likesewn.web.scene import Area, Item, Line, Part, Text

__all__ = ["DECIMALS", "Names", "d_of", "replayed", "ring_of"]

DECIMALS = 2
"""Places are written to a hundredth of a scene unit: far less than a screen shows at any view."""


@dataclass(frozen=True, slots=True)
class Names:
    """What the things in a drawing are called and what is said of them.

    Attributes:
        says: Words by id: ``piece`` for a part, ``piece.edge`` for an edge.
        pick: Role whose strokes along edges can be picked, or None.
        outlines: Outline by piece, as path data, for parts that can be pointed at.
        tone: Fill of those outlines.
        looks: Look by role, where it is not the role's own name.
        number_copies: True where a group is one copy of several; its id is then ``piece.copy``.
    """

    says: Mapping[str, str] = field(default_factory=dict[str, str])
    pick: Role | None = None
    outlines: Mapping[str, str] = field(default_factory=dict[str, str])
    tone: str = "piece"
    looks: Mapping[Role, str] = field(default_factory=dict[Role, str])
    number_copies: bool = False


def d_of(path: Path, *, closed: bool = False, by: tuple[float, float] = (0.0, 0.0)) -> str:
    """Return a path's data as scenes have it, moved by ``by``: absolute M, L, C, and Z where ``closed``."""
    rows = np.round(path.segments + np.array(by), DECIMALS).tolist()
    (x, y), *_ = rows[0]
    parts = [f"M{x:.8g} {y:.8g}"]
    for (_, b, c, d), straight in zip(rows, path.straight.tolist(), strict=True):
        if straight:
            parts.append(f"L{d[0]:.8g} {d[1]:.8g}")
        else:
            parts.append(f"C{b[0]:.8g} {b[1]:.8g} {c[0]:.8g} {c[1]:.8g} {d[0]:.8g} {d[1]:.8g}")
    return "".join(parts) + ("Z" if closed else "")


def ring_of(points: NDArray[np.float64], by: tuple[float, float] = (0.0, 0.0)) -> str:
    """Return a closed polygon's path data, moved by ``by``; its first point is not repeated."""
    rows = np.round(points + np.array(by), DECIMALS).tolist()
    return "M" + "L".join(f"{x:.8g} {y:.8g}" for x, y in rows) + "Z"


class _SceneBackend:
    """A drawing's backend that makes items of a scene."""

    def __init__(self, names: Names, by: tuple[float, float]) -> None:
        self.names = names
        self.by = by
        self.stack: list[list[Item]] = [[]]
        self.pieces: list[str] = [""]

    def begin(self, group: Group) -> None:
        data = dict(group.data)
        name = data.get("piece", "")
        if name and self.names.number_copies:
            name = f"{name}.{data.get('copy', '1')}"
        self.stack.append([])
        self.pieces.append(name or self.pieces[-1])

    def end(self, group: Group) -> None:
        items, name = tuple(self.stack.pop()), self.pieces.pop()
        if name and name != self.pieces[-1]:
            outline = self.names.outlines.get(name, "")
            says = self.names.says.get(name, group.title)
            tone = self.names.tone if outline else ""
            self.stack[-1].append(Part(name, says, items, outline, tone, pick=bool(outline)))
        else:
            self.stack[-1] += items

    def stroke(self, stroke: Stroke) -> None:
        piece = self.pieces[-1]
        name = f"{piece}.{stroke.edge}" if piece and stroke.edge else ""
        pick = bool(name) and stroke.role is self.names.pick and name in self.names.says
        self.stack[-1].append(
            Line(
                d_of(stroke.path, closed=stroke.closed, by=self.by),
                self.names.looks.get(stroke.role, stroke.role.value),
                name if pick else "",
                self.names.says[name] if pick else "",
                closed=stroke.closed,
                pick=pick,
            )
        )

    def area(self, area: drawing.Area) -> None:
        self.stack[-1].append(Area(d_of(area.path, closed=True, by=self.by), area.tone))

    def box(self, box: Box) -> None:
        right, bottom = box.x + box.width, box.y + box.height
        d = ring_of(np.array([(box.x, box.y), (right, box.y), (right, bottom), (box.x, bottom)]), self.by)
        if box.tone:
            self.stack[-1].append(Area(d, box.tone))
        if box.line is not None:
            self.stack[-1].append(Line(d, self.names.looks.get(box.line, box.line.value), closed=True))

    def label(self, label: Label) -> None:
        self.stack[-1].append(
            Text(
                (label.at[0] + self.by[0], label.at[1] + self.by[1]),
                label.text,
                label.size,
                label.anchor,
                label.angle,
                bold=label.bold,
                tone=label.tone,
            )
        )


def replayed(
    items: tuple[drawing.Item, ...], names: Names | None = None, by: tuple[float, float] = (0.0, 0.0)
) -> tuple[Item, ...]:
    """Return a drawing's items as items of a scene.

    Args:
        items: What is drawn; a group that says which ``piece`` it is becomes a part.
        names: What things are called; None names nothing.
        by: How far everything is moved, mm.
    """
    backend = _SceneBackend(names or Names(), by)
    replay(items, backend)
    return tuple(backend.stack[0])

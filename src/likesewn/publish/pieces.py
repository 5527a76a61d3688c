"""The pattern as a drawing: each piece with its lines and lettering, and all of them on one plane."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from math import sqrt

import numpy as np
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from likesewn.cut.cutlist import CutList, CutPiece
from likesewn.publish import piece_lines
from likesewn.publish.drawing import Drawing, Group, Item, Label, Role, Stroke, item_bounds, moved
from likesewn.publish.lettering_room import Room

__all__ = ["PatternDrawing", "PieceDrawing", "pattern_drawing"]

_GAP_MM = 20.0
_EDGE_NAME_MM = 3.4


@dataclass(frozen=True, eq=False)
class PieceDrawing:
    """One piece, drawn in its own frame.

    Attributes:
        cut: The piece.
        body: Lines of lettering under its title.
        outline: Its cut line as a closed polygon, shape (n, 2), mm, for arranging pieces.
    """

    cut: CutPiece
    body: tuple[str, ...]
    outline: NDArray[np.float64]

    @property
    def title(self) -> str:
        """Its name as printed."""
        return self.cut.title

    @cached_property
    def group(self) -> Group:
        """Its lines and lettering where it is drawn in one."""
        return self.lettered()

    def lettered(self, joins: Sequence[BaseGeometry] = ()) -> Group:
        """Return its lines and lettering; a piece on the fold shows one half, the fold on x = 0.

        Args:
            joins: What lettering keeps off where sheets of paper meet, as far as there is room, in the
                piece's frame; the wish that matters most comes last.
        """
        piece = self.cut
        strokes = piece_lines.lines(piece)
        bracket = piece_lines.fold_bracket(piece, joins)
        room = Room(piece_lines.seam_outline(piece), joins=joins)
        for item in (*strokes, *bracket):
            if isinstance(item, Label):
                room.keep_label_clear(item)
            elif isinstance(item, Stroke) and item.role in {Role.GRAIN, Role.NOTCH, Role.MARK}:
                room.keep_clear(item.path)
        lettering: list[Item] = list(room.put_lines(piece.title, self.body))
        for edge in piece.seam:
            if not edge.fold:
                name = room.put_beside(edge.path, edge.name.replace("_", " "), _EDGE_NAME_MM)
                lettering += [] if name is None else [name]
        lettering += room.put(piece_lines.scale_bar(), *piece_lines.SCALE_BAR_MM)
        return Group(
            "piece",
            (*strokes, *bracket, *lettering),
            data=(
                ("piece", piece.name),
                ("copies", str(piece.copies)),
                ("on-fold", "true" if piece.on_fold else "false"),
            ),
            title=piece.title,
        )


@dataclass(frozen=True, eq=False)
class PatternDrawing:
    """Every piece of a pattern, each in its own frame; formats place them as suits their sheet.

    Attributes:
        garment: The garment's name.
        made: When the pattern was drawn.
        pieces: Its pieces, in the order of the cut list.
    """

    garment: str
    made: date
    pieces: tuple[PieceDrawing, ...]

    def sheet(self) -> Drawing:
        """Return all pieces side by side in rows on one plane, none touching another."""
        boxes = [item_bounds((piece.group,)) for piece in self.pieces]
        sizes = [(right - left, bottom - top) for left, top, right, bottom in boxes]
        area = sum((wide + _GAP_MM) * (high + _GAP_MM) for wide, high in sizes)
        row_width = max((1.5 * sqrt(area), *(wide for wide, _ in sizes)))
        placed: list[Item] = []
        x = y = _GAP_MM
        rim = deep = 0.0
        for piece, box, (wide, high) in zip(self.pieces, boxes, sizes, strict=True):
            if x > _GAP_MM and x + wide > row_width + _GAP_MM:
                x, y = _GAP_MM, deep + _GAP_MM
            placed.append(moved(piece.group, 0.0, (x - box[0], y - box[1])))
            x += wide + _GAP_MM
            rim, deep = max(rim, x), max(deep, y + high)
        return Drawing(
            title=f"{self.garment}: pattern" if self.garment else "Pattern",
            summary=f"Pattern pieces at true size, 1 unit to the mm, drawn {self.made.isoformat()}: "
            + ", ".join(piece.title for piece in self.pieces),
            items=tuple(placed),
            bounds=(0.0, 0.0, rim, deep + _GAP_MM),
        )


def pattern_drawing(cut_list: CutList, today: date) -> PatternDrawing:
    """Draw every piece of a cut list in its own frame.

    Args:
        cut_list: The pieces, in mm.
        today: The date to write on them.

    Returns:
        The pieces with their seam, cut, fold and grain lines, notches, lettering, and on each piece
        that has the room a scale bar of 10 cm and 4 in.
    """
    pieces: list[PieceDrawing] = []
    for piece in cut_list.pieces:
        wanted = (*piece.labels, today.isoformat())
        body = tuple(dict.fromkeys(text for text in wanted if text and text != piece.title))
        pieces.append(PieceDrawing(piece, body, piece.outline()))
    return PatternDrawing(cut_list.garment, today, tuple(pieces))

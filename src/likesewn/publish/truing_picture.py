"""A picture of truing: each piece as recorded and as trued, one on the other, and how sure its lines are."""

from collections.abc import Iterator

import numpy as np

from likesewn.garment import PatternPiece
from likesewn.geometry import Path
from likesewn.publish.drawing import Area, Drawing, Item, Label, Role, Stroke, item_bounds, moved
from likesewn.publish.lettering_room import Room
from likesewn.publish.pictures import ENLARGED, SCREEN, SCREEN_UNITS, side_by_side
from likesewn.publish.piece_lines import sampled
from likesewn.publish.svg import svg
from likesewn.truing import Explained, Spread

__all__ = ["truing_items", "truing_svg"]

_SIGMAS = 2.0  # the line lies inside 95 times in 100
_SEEN_MM = 1.0  # a narrower band could not be told from the line


def truing_svg(explained: Explained, name: str) -> str:
    """Return the picture as SVG.

    The trued line is drawn solid, the line as recorded dashed, and a band shows where the trued line may
    lie 95 times in 100, where that is more than a millimetre to each side.

    Args:
        explained: A pattern with all that can be told of it.
        name: The garment's name.
    """
    drawn = [tuple(truing_items(piece, explained)) for piece in explained.pattern.pieces]
    bounds = [item_bounds(items) for items in drawn]
    boxes = [(np.array(b[:2]), np.array(b[2:])) for b in bounds]
    shifts, (right, deep), gap = side_by_side(boxes)
    items: list[Item] = []
    for piece, own, shift in zip(explained.pattern.pieces, drawn, shifts, strict=True):
        outline = np.concatenate([sampled(edge.path) for edge in piece.edges])
        titles = Room(outline, ENLARGED * gap).put_lines(piece.title, ())
        items += [moved(item, 0.0, shift) for item in (*own, *titles)]
    key = tuple(_key(gap, deep + gap, banded=any(_banded(s) for s in explained.spreads)))
    bottom = item_bounds(key)[3]
    drawing = Drawing(
        f"{name}: before and after truing",
        "Pieces as recorded (dashed) and as trued (solid) laid over each other.",
        (*items, *key),
        (-gap, -gap, max(right, item_bounds(key)[2]) + gap, bottom + gap),
    )
    return svg(drawing, pen=right / SCREEN_UNITS, screen_width=SCREEN)


def _banded(spread: Spread) -> bool:
    return bool(_SIGMAS * spread.sigma_mm.max() > _SEEN_MM)


def truing_items(
    piece: PatternPiece, explained: Explained, *, before: bool = True, after: bool = True
) -> Iterator[Item]:
    """Yield a piece as it was recorded, as it is trued, or one on the other.

    Args:
        piece: A piece of the pattern.
        explained: All that can be told of the pattern.
        before: Whether the lines as recorded are drawn.
        after: Whether the trued lines, and the strip in which they may lie, are drawn.
    """
    recorded = [one for one in explained.pieces_before if one.name == piece.name] if before else []
    shape = recorded[0] if recorded and not after else piece
    outline = np.concatenate([sampled(edge.path) for edge in shape.edges])
    yield Area(Path.polyline(np.concatenate([outline, outline[:1]])), "piece")
    if after:
        for spread in explained.spreads:
            if spread.piece == piece.name and _banded(spread):
                yield Area(_band(spread), "unsure")
    for one in recorded:
        yield from (Stroke(e.path, Role.RECORDED, e.name) for e in one.edges if not e.fold)
    for edge in shape.edges:
        if after or edge.fold:
            yield Stroke(edge.path, Role.FOLD if edge.fold else Role.TRUED, edge.name)


def _band(spread: Spread) -> Path:
    """Return the strip in which the line lies; the two halves of one edge make two strips.

    The places stand in the middle of equal parts, so that the strip goes on by half a step at both ends.
    """
    reach = _SIGMAS * spread.sigma_mm[:, None] * spread.normal
    one, two = (np.concatenate([s[:1], s, s[-1:]]) for s in (spread.at + reach, spread.at - reach))
    for side in (one, two):
        side[0] -= 0.5 * (spread.at[1] - spread.at[0])
        side[-1] += 0.5 * (spread.at[-1] - spread.at[-2])
    return Path.polyline(np.concatenate([one, two[::-1], one[:1]]))


def _key(gap: float, top: float, *, banded: bool) -> Iterator[Item]:
    """Yield what the lines mean, one below the other."""
    size, wide = 0.3 * gap, 0.9 * gap
    said = [(Role.TRUED, "trued: what will be cut from"), (Role.RECORDED, "as recorded, before truing")]
    for i, (role, text) in enumerate(said):
        y = top + i * 1.6 * size
        yield Stroke(Path.line(np.array([0.0, y]), np.array([wide, y])), role)
        yield Label(text, (1.2 * wide, y + 0.35 * size), size)
    if banded:
        y = top + len(said) * 1.6 * size
        half = 0.4 * size
        ring = np.array([(0, y - half), (wide, y - half), (wide, y + half), (0, y + half), (0, y - half)])
        yield Area(Path.polyline(ring), "unsure")
        yield Label("where the trued line may lie, 95 times in 100", (1.2 * wide, y + 0.35 * size), size)

"""The pieces side by side: as trued, and as they are cut."""

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from likesewn.cut import CutList, CutPiece
from likesewn.garment import Pattern, PatternPiece, Record
from likesewn.geometry import Path
from likesewn.publish import piece_lines
from likesewn.publish.drawing import Group, Item, Role, Stroke
from likesewn.publish.piece_lines import sampled
from likesewn.truing import Explained
from likesewn.web.scene import Handle, Part, Scene
from likesewn.web.scenes.places import polygon_title, spread_out
from likesewn.web.scenes.replay import Names, d_of, replayed
from likesewn.web.scenes.wording import (
    allowance_words,
    and_so_on,
    corner_words,
    edge_words,
    length_words,
    piece_words,
)
from likesewn.web.words import say

__all__ = ["cut_scene", "outline_of", "pattern_scene"]

Array = NDArray[np.float64]


def outline_of(piece: PatternPiece) -> Array:
    """Return a piece's seam line as a closed polygon, near enough for layout, shape (n, 2), mm."""
    return np.concatenate([sampled(edge.path)[:-1] for edge in piece.edges])


def pattern_scene(pattern: Pattern, name: str, unit: str, explained: Explained | None = None) -> Scene:
    """Show trued pieces side by side, every edge and corner with its name.

    Args:
        pattern: The pieces.
        name: The garment's name.
        unit: Unit of rulers and words.
        explained: How sure each length is, or None.

    Returns:
        The scene; a piece's id is its name, an edge's ``piece.edge``, a corner's ``corner.piece.corner``.
    """
    outlines = [outline_of(piece) for piece in pattern.pieces]
    places = spread_out(outlines)
    sigmas = {edge.name: edge.sigma_mm for edge in explained.edges} if explained else {}
    items: list[Part] = []
    handles: list[Handle] = []
    for piece, outline, shift in zip(pattern.pieces, outlines, places.shifts, strict=True):
        says = {piece.name: piece_words(piece)}
        for edge in piece.edges:
            key = f"{piece.name}.{edge.name}"
            length = length_words(edge.path.length, unit, sigmas.get(key))
            says[key] = edge_words(edge.name, piece.title, length)
        strokes = [Stroke(e.path, Role.FOLD if e.fold else Role.TRUED, e.name) for e in piece.edges]
        items.append(
            _part(
                piece.name,
                strokes,
                outline,
                Path.join([e.path for e in piece.edges]),
                shift,
                says,
                Role.TRUED,
                piece.title,
            )
        )
        handles += [
            Handle(
                f"corner.{piece.name}.{corner}",
                (float(at[0]) + shift[0], float(at[1]) + shift[1]),
                corner_words(corner, piece.title),
                movable=False,
            )
            for corner, at in piece.corners.items()
        ]
    titles = [piece.title.lower() for piece in pattern.pieces]
    summary = say("scene.pieces", pieces=and_so_on(titles)) if titles else say("scene.no_pieces")
    return Scene(f"{name}: pieces", summary, places.bounds, tuple(items), unit, handles=tuple(handles))


def cut_scene(cut_list: CutList, record: Record) -> Scene:
    """Show pieces as they are cut: seam and cut lines, notches, grain; edges say their allowance.

    Args:
        cut_list: What is cut.
        record: The record, for the unit.
    """
    unit = record.unit
    outlines = [piece.outline(0.5) for piece in cut_list.pieces]
    places = spread_out(outlines)
    items: list[Part] = []
    for piece, outline, shift in zip(cut_list.pieces, outlines, places.shifts, strict=True):
        says = _cut_words(piece, unit)
        ring = Path.join(list(piece.cut.values()))
        strokes = [*piece_lines.lines(piece), *piece_lines.fold_bracket(piece)]
        items.append(_part(piece.name, strokes, outline, ring, shift, says, Role.CUT, piece.title))
    titles = [piece.title.lower() for piece in cut_list.pieces]
    summary = say("scene.cut_pieces", pieces=and_so_on(titles)) if titles else say("scene.no_pieces")
    return Scene(say("scene.to_cut", garment=cut_list.garment), summary, places.bounds, tuple(items), unit)


def _cut_words(piece: CutPiece, unit: str) -> dict[str, str]:
    says = {piece.name: piece_words(piece)}
    for edge in piece.seam:
        length = length_words(edge.path.length, unit)
        allowance = allowance_words(piece.allowances.get(edge.name, 0.0), unit)
        says[f"{piece.name}.{edge.name}"] = f"{edge_words(edge.name, piece.title, length)}, {allowance}"
    return says


def _part(
    name: str,
    strokes: Sequence[Item],
    outline: Array,
    ring: Path,
    shift: tuple[float, float],
    says: Mapping[str, str],
    pick: Role,
    title: str,
) -> Part:
    names = Names(says=says, pick=pick, outlines={name: d_of(ring, closed=True, by=shift)})
    (part,) = replayed((Group("piece", tuple(strokes), (("piece", name),), title),), names, shift)
    if not isinstance(part, Part):
        raise TypeError(f"the group of {name!r} did not come out as a part")
    return Part(
        part.id, part.says, (*part.items, polygon_title(outline, title, shift)), part.d, part.tone, part.pick
    )

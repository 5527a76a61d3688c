"""Truing: the pieces as they were recorded and as they are trued."""

from typing import Literal

import numpy as np
from numpy.typing import NDArray

from likesewn.publish.drawing import Group, Item, Role, item_bounds
from likesewn.publish.truing_picture import truing_items
from likesewn.truing import Explained
from likesewn.web.scene import Part, Scene
from likesewn.web.scenes.pieces import outline_of
from likesewn.web.scenes.places import polygon_title, spread_out
from likesewn.web.scenes.replay import Names, replayed
from likesewn.web.scenes.wording import edge_words, length_words, moved_words, piece_words
from likesewn.web.words import say

__all__ = ["truing_scene"]


def truing_scene(
    explained: Explained, name: str, unit: str, which: Literal["before", "after", "both"] = "both"
) -> Scene:
    """Show the pieces before truing, after it, or both, one on the other.

    Args:
        explained: All that can be told of the pattern.
        name: The garment's name.
        unit: Unit of rulers and words.
        which: What is shown; before truing alone there may be nothing, where the record could not be fitted.
    """
    pattern = explained.pattern
    if which == "before" and not explained.pieces_before:
        nothing = say("scene.nothing_before")
        return Scene(f"{name}: truing", nothing, spread_out([]).bounds, (), unit)
    outlines = [outline_of(piece) for piece in pattern.pieces]
    before, after = which != "after", which != "before"
    drawings = [tuple(truing_items(p, explained, before=before, after=after)) for p in pattern.pieces]
    places = spread_out([_reach(drawn) for drawn in drawings])
    pick = Role.TRUED if after else Role.RECORDED
    items: list[Part] = []
    for piece, outline, drawn, shift in zip(pattern.pieces, outlines, drawings, places.shifts, strict=True):
        says = {piece.name: piece_words(piece), **_edge_words(explained, piece.name, unit, before=not after)}
        looks = {} if after else {Role.RECORDED: "before"}
        group = Group("piece", drawn, (("piece", piece.name),), piece.title)
        (part,) = replayed((group,), Names(says=says, pick=pick, looks=looks), shift)
        if isinstance(part, Part):
            title = polygon_title(outline, piece.title, shift)
            items.append(Part(part.id, part.says, (*part.items, title)))
    words = {
        "before": say("scene.before"),
        "after": say("scene.after"),
        "both": say("scene.both"),
    }
    return Scene(f"{name}: truing", words[which], places.bounds, tuple(items), unit)


def _reach(drawn: tuple[Item, ...]) -> NDArray[np.float64]:
    """Return the corners of the box round what is drawn: a strip may reach beyond its piece."""
    left, top, right, bottom = item_bounds(drawn)
    return np.array([(left, top), (right, bottom)])


def _edge_words(explained: Explained, piece: str, unit: str, *, before: bool) -> dict[str, str]:
    if before:
        pieces = [one for one in explained.pieces_before if one.name == piece]
        return {
            f"{piece}.{edge.name}": edge_words(edge.name, one.title, length_words(edge.path.length, unit))
            for one in pieces
            for edge in one.edges
        }
    sigmas = {edge.name: edge.sigma_mm for edge in explained.edges}
    moves = {(move.piece, move.edge): move for move in explained.moves}
    one = explained.pattern.piece(piece)
    says: dict[str, str] = {}
    for edge in one.edges:
        key = f"{piece}.{edge.name}"
        words = edge_words(edge.name, one.title, length_words(edge.path.length, unit, sigmas.get(key)))
        move = moves.get((piece, edge.name))
        says[key] = f"{words}; {moved_words(move.mm, move.near, unit)}" if move else words
    return says

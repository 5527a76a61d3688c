"""Sewing: the pieces as they are cut, with the edges marked that a step is about."""

from collections.abc import Collection
from dataclasses import replace

from likesewn.cut import CutList
from likesewn.garment import Record
from likesewn.web.scene import Item, Line, Scene
from likesewn.web.scenes.pieces import cut_scene
from likesewn.web.scenes.places import spread_out
from likesewn.web.scenes.replay import d_of
from likesewn.web.scenes.wording import and_so_on, plain
from likesewn.web.words import say

__all__ = ["sew_scene"]


def sew_scene(cut_list: CutList, record: Record, about: Collection[str] = ()) -> Scene:
    """Show pieces as they are cut, with some of their seam lines marked.

    Args:
        cut_list: What is cut.
        record: The record, for the unit.
        about: Edges to mark, each ``piece.edge``.
    """
    scene = cut_scene(cut_list, record)
    places = spread_out([piece.outline(0.5) for piece in cut_list.pieces])
    marks: list[Item] = []
    words: list[str] = []
    for piece, shift in zip(cut_list.pieces, places.shifts, strict=True):
        for edge in piece.seam:
            if f"{piece.name}.{edge.name}" in about:
                marks.append(Line(d_of(edge.path.moved(0.0, shift)), "shown"))
                words.append(say("scene.of_the", what=plain(edge.name), piece=piece.title.lower()))
    summary = say("scene.marked", summary=scene.summary, what=and_so_on(words)) if words else scene.summary
    return replace(
        scene,
        title=say("scene.to_sew", garment=cut_list.garment),
        summary=summary,
        items=(*scene.items, *marks),
    )

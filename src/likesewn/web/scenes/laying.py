"""The lay: the cloth as it lies folded, and the pieces on it."""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from likesewn.geometry import Path
from likesewn.lay import Plan
from likesewn.publish.drawing import Role
from likesewn.publish.lay_svg import lay_plan_drawing, numbered, placed_words
from likesewn.web.scene import Scene
from likesewn.web.scenes.replay import Names, d_of, replayed

__all__ = ["lay_scene"]


def lay_scene(plan: Plan, titles: Mapping[str, str], unit: str) -> Scene:
    """Show a lay plan, in cloth coordinates.

    Args:
        plan: Where each piece lies; one that was stopped shows empty cloth.
        titles: Names of the pieces as printed, by name.
        unit: Unit of rulers and words.

    Returns:
        The scene; what is placed is a part whose id is the piece and the number of its copy (``front.1``).
    """
    drawing = lay_plan_drawing(plan, titles, unit)
    says: dict[str, str] = {}
    outlines: dict[str, str] = {}
    for number, placed in numbered(plan):
        key = f"{placed.piece}.{placed.copy}"
        title = titles.get(placed.piece, placed.piece)
        says[key] = f"{title}: {', '.join(placed_words(plan, placed, number, titles, unit))}"
        ring = Path.polyline(np.concatenate([placed.outline, placed.outline[:1]]))
        outlines[key] = d_of(ring, closed=True)
    names = Names(says=says, outlines=outlines, tone="", looks={Role.CUT: "placed"}, number_copies=True)
    items = replayed(drawing.items, names)
    scene = Scene(drawing.title, drawing.summary, drawing.bounds, items, unit)
    return replace(scene, summary=f"{drawing.summary}.")

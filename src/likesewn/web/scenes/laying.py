"""The lay: the cloth as it lies folded, and the pieces on it."""

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from likesewn.lay import Plan
from likesewn.publish.drawing import Role
from likesewn.publish.lay_svg import lay_plan_drawing, numbered, placed_words
from likesewn.web.scene import Scene
from likesewn.web.scenes.places import polygon_title
from likesewn.web.scenes.replay import Names, replayed, ring_of
from likesewn.web.scenes.wording import and_so_on

__all__ = ["lay_scene"]

Array = NDArray[np.float64]


def lay_scene(plan: Plan, titles: Mapping[str, str], unit: str) -> Scene:
    """Show a lay plan, in cloth coordinates.

    Args:
        plan: Where each piece lies; one that was stopped shows empty cloth.
        titles: Names of the pieces as printed, by name.
        unit: Unit of rulers and words.

    Returns:
        The scene; what is placed is a part whose id is the piece and the number of its copy (``front.1``).
    """
    drawing = lay_plan_drawing(plan, titles, unit, lettered=False)
    says: dict[str, str] = {}
    outlines: dict[str, str] = {}
    written: dict[int, tuple[Array, list[str]]] = {}
    for number, placed in numbered(plan):
        key = f"{placed.piece}.{placed.copy}"
        title = titles.get(placed.piece, placed.piece)
        says[key] = f"{title}: {', '.join(placed_words(plan, placed, number, titles, unit))}"
        outlines[key] = ring_of(placed.outline)
        written.setdefault(number, (placed.outline, []))[1].append(title)
    names = Names(says=says, outlines=outlines, tone="", looks={Role.CUT: "placed"}, number_copies=True)
    lettering = tuple(
        polygon_title(outline, f"{number} {and_so_on(words)}") for number, (outline, words) in written.items()
    )
    items = (*replayed(drawing.items, names), *lettering)
    return Scene(drawing.title, f"{drawing.summary}.", drawing.bounds, items, unit)

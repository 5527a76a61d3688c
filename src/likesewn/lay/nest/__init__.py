"""Open lays: plain outlines on one layer of cloth, each in an allowed turn, in as short a strip as can be.

Nothing here knows folds, holes, flaws or matching; ``likesewn.lay`` breaks those down before it asks.
``parts`` holds what is asked and what comes back. ``search`` puts it together as ``nest``: ``tables`` works
out where any two parts overlap and how deep; ``guided`` moves parts about on a grid of cells until none
overlap; ``press`` makes that exact and as short as it goes; ``hunt`` asks both again and again; ``team`` runs
a second hunt on the other core. ``check`` proves a lay from scratch.

The search is imported when it is first used: it needs a library of images, which is slow to load.
"""

from typing import TYPE_CHECKING

from likesewn.lay.nest.check import TOLERANCE, faults
from likesewn.lay.nest.parts import GAP_TO_BEST, WORST_GAP, Laid, Nested, Part

if TYPE_CHECKING:
    from likesewn.lay.nest.search import nest

__all__ = ["GAP_TO_BEST", "TOLERANCE", "WORST_GAP", "Laid", "Nested", "Part", "faults", "nest"]


def __getattr__(name: str) -> object:
    if name != "nest":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    from likesewn.lay.nest.search import nest  # noqa: PLC0415

    return nest

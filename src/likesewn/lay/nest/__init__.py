"""Open lays: plain outlines on one layer of cloth, each in an allowed turn, in as short a strip as can be.

Nothing here knows folds, holes, flaws or matching; ``likesewn.lay`` breaks those down before it asks.
``parts`` holds what is asked and what comes back; ``check`` proves a lay from scratch; ``library`` asks the
general nesting library; ``search`` puts it together as ``nest``.
"""

from likesewn.lay.nest.check import TOLERANCE, faults
from likesewn.lay.nest.parts import Laid, Nested, Part
from likesewn.lay.nest.search import nest

__all__ = ["TOLERANCE", "Laid", "Nested", "Part", "faults", "nest"]

"""Truing: the constrained solve that turns a record into flat pieces that really sew together.

``true`` gives the pattern; ``explain`` gives it with all that can be told of it: how sure each figure is,
what truing moved, which measure to take next. ``move_edges`` moves edges of a pattern by the same solve.

From the record to the answer: ``panels`` says what is solved for, ``unknowns`` maps unknowns to curves
(``splines``), ``quantities`` evaluates lengths, angles and crossings with their derivatives, ``terms``
writes measures and conditions in them, which ``rows`` differentiates by the unknowns, ``traced`` does so for
points (``lays``), ``prior`` and ``assume`` stand in for what was not recorded, ``problem`` puts it together,
``solve`` minimises (``matrices``),
``answer`` says how it is gone about. From the answer: ``pieces`` makes the pieces and ``pattern`` the
pattern, ``checks`` walks its seams, ``sureness`` gives standard errors, ``disagree`` finds figures that
cannot all be right, ``plausible`` asks whether the pieces look like their kind, ``halves`` compares the
halves of a traced piece, ``findings`` puts all that in words, ``places`` reads the seam lines and
``next_measure`` finds the measure to take next.
"""

from likesewn.truing.answer import Untrued
from likesewn.truing.checks import Checks
from likesewn.truing.explain import CornerSure, EdgeSure, Explained, Move, Spread, explain
from likesewn.truing.moving import move_edges
from likesewn.truing.next_measure import NextMeasure
from likesewn.truing.pattern import true

__all__ = [
    "Checks",
    "CornerSure",
    "EdgeSure",
    "Explained",
    "Move",
    "NextMeasure",
    "Spread",
    "Untrued",
    "explain",
    "move_edges",
    "true",
]

"""Truing: the constrained solve that turns a record into flat pieces that really sew together.

``true`` is the one function. ``panels`` says what is solved for, ``unknowns`` maps unknowns to curves
(``splines``), ``quantities`` evaluates lengths, angles and crossings with their derivatives, ``terms``
writes measures and conditions in them, ``traced`` does so for points, ``prior`` and ``assume`` stand in
for what was not recorded, ``problem`` puts it together, ``solve`` minimises (``matrices``), ``checks`` walks
the seams of the answer, ``plausible`` asks whether it looks like its kind, ``disagree`` names figures that
cannot all be right, ``pieces`` makes the pattern, ``pattern`` holds it all together, and ``moving`` moves
edges of a pattern by the same solve.
"""

from likesewn.truing.answer import Untrued
from likesewn.truing.moving import move_edges
from likesewn.truing.pattern import true

__all__ = ["Untrued", "move_edges", "true"]

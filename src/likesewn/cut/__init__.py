"""Cutting: allowances, corners, notches, bands and facings, and the cut list that holds them.

``cutting`` is the stage's one function. ``cutlist`` holds the values that it makes; ``edges`` reads which
edges a kind means; ``allowances`` says how far outside the seam line each is cut; ``cut_line`` draws the
line, ``corners`` joins it at corners, ``proof`` checks it; ``opening`` walks round a finished opening;
``finish`` places its edge; ``bands`` and ``strips`` make what is sewn to it, ``facings`` what lies behind
it, ``body`` checks what must pass it; ``notches`` and ``labels`` mark the pieces.
"""

from likesewn.cut.cutlist import Band, CutList, CutPiece, FinishRule, Notch
from likesewn.cut.cutting import cut

__all__ = ["Band", "CutList", "CutPiece", "FinishRule", "Notch", "cut"]

"""Pieces that agree on every edge but one, so that they can be cut in one go and trimmed."""

from itertools import combinations

import numpy as np

from likesewn.cut.cutlist import CutList, CutPiece
from likesewn.geometry import point_at

__all__ = ["alike_pairs"]

SAME = 1.0
"""Distance within which two edges count as the same, mm: the width of a chalk line."""

SAMPLES = 9


def alike_pairs(cut_list: CutList) -> tuple[tuple[str, str], ...]:
    """Return the names of pieces on the fold, each cut once, that agree on all edges but at most one.

    A piece is named in one pair at most.
    """
    found: list[tuple[str, str]] = []
    taken: set[str] = set()
    whole = [piece for piece in cut_list.pieces if piece.on_fold and piece.copies == 1]
    for one, other in combinations(whole, 2):
        if not {one.name, other.name} & taken and one.cloth == other.cloth and _differing(one, other) <= 1:
            found.append((one.name, other.name))
            taken |= {one.name, other.name}
    return tuple(found)


def _differing(one: CutPiece, other: CutPiece) -> int:
    """Return how many edges differ once the pieces lie on one another at their lower ends."""
    if list(one.cut) != list(other.cut):
        return len(one.cut) + len(other.cut)
    lower = one.outline()[:, 1].max() - other.outline()[:, 1].max()
    count = 0
    # Seam lines are compared: the corner of a cut line moves with the next edge too.
    for edge, match in zip(one.seam, other.seam, strict=True):
        if edge.fold:
            continue
        along = np.linspace(0, 1, SAMPLES)
        here = point_at(edge.path, along * edge.path.length)
        its = match.path
        there = point_at(its, along * its.length) + np.array([0.0, lower])
        count += bool(np.hypot(*(here - there).T).max() > SAME)
    return count

"""Moves a corner from a rounded hollow to where the edge after it goes straight.

Where a sleeve runs over into the body in a round bend, or lies folded over it, the outline turns most
somewhere on the bend. The seams meet where the side begins, which is sewn straight: at the lower end of the
bend. A corner at which the straight itself ends stays where it is.
"""

from collections.abc import Callable, Collection
from dataclasses import replace
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from likesewn.garment.silhouette import Silhouette
from likesewn.photo.corners import FoundCorners, run_between

__all__ = ["moved_to_straights"]

Array = NDArray[np.float64]

LINE = (0.05, 0.18)
"""Part of the run, shares of the garment's height from the corner, that says where the straight lies: nearer
it may still bend, farther the waist may be shaped."""

ON_LINE = 0.008
"""Distance from the straight, as a share of the height, within which a point lies on it."""

FARTHEST = 0.03
"""Longest way along the outline, as a share of the height: what bends for longer is no corner's own bend."""

SHORTEST_LINE = 0.05
"""Least length of the part that says where the straight lies, as a share of the height."""


def moved_to_straights(
    outline: Array,
    found: FoundCorners,
    silhouette: Silhouette,
    keep: Collection[str],
    may: Callable[[Array, Array], bool],
) -> FoundCorners:
    """Return corners with those moved from which a straight run leads on, to where that begins.

    Args:
        outline: The garment's outline, shape (n, 2), px, closed, the garment on its right hand.
        found: Its corners.
        silhouette: The kind's description, which says what runs are straight.
        keep: Names of corners that stay where they are.
        may: Whether a corner may move, given the new place and the old one, px.
    """
    height = float(np.ptp(outline @ found.middle[1]))
    px, index = dict(found.px), dict(found.index)
    for corner, after in pairwise(silhouette.corners):
        if not after.straight:
            continue
        for side, sign in (("left", -1), ("right", 1)):
            name = f"{corner.name}_{side}"
            if name in keep:
                continue
            start, end = index[name], index[f"{after.name}_{side}"]
            run = run_between(len(outline), start, end, sign)
            at = int(run[_straight_from(outline[run], height)])
            if at != start and may(outline[at], outline[start]):
                index[name] = at
                px[name] = (float(outline[at, 0]), float(outline[at, 1]))
    return replace(found, px=px, index=index)


def _straight_from(run: Array, height: float) -> int:
    """Return the first point of a run, shape (n, 2), that lies on its straight; 0 where none does nearby."""
    way = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(run, axis=0).T))]) / height
    line = run[(way >= LINE[0]) & (way <= LINE[1])]
    if len(line) < 4 or min(way[-1], LINE[1]) - LINE[0] < SHORTEST_LINE:
        return 0
    middle = line.mean(axis=0)
    along = np.linalg.svd(line - middle)[2][0]
    off = np.abs((run - middle) @ [-along[1], along[0]]) / height
    on = np.nonzero((off < ON_LINE) & (way <= FARTHEST))[0]
    return int(on[0]) if len(on) else 0

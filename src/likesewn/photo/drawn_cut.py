"""Settles garment against table within the band of a drawn line: a cut that weighs colour and line together.

Each pixel's colour tells for garment or table as far as the two differ there; the line tells by the chance
that its own error is as large. What both cost together, with a price on neighbours of one colour that are
told apart, is least for one cut, which is found exactly.

Source: Boykov, Jolly, "Interactive graph cuts for optimal boundary and region segmentation of objects in N-D
images", ICCV 2001; the maximum flow is SciPy's (Dinic).
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.sparse import csr_array
from scipy.sparse.csgraph import breadth_first_order, maximum_flow
from scipy.special import log_ndtr

__all__ = ["MOST_TELLING", "line_tells", "settled_in_band"]

Mask = NDArray[np.bool_]
Array = NDArray[Any]

MOST_TELLING = 2.0
"""Most that one pixel's colour may tell (natural logarithm): neighbours err together."""

PARTED = 10.0
"""Price of telling two neighbours of one colour apart (natural logarithm), a pixel apart."""

ALONG = 0.9
"""Part of that price that is not asked along the drawn line itself: an edge is what was drawn there. Else a
narrow notch of one colour would be closed, since its edge is long."""

ROUND_ABOUT = 10.0
"""Spread of what counts as round about, px: wide enough for some stripes, so that no stripe's own edge is
out of the usual, and narrow enough for a faint edge between two plain whites to be so."""

FAINTEST = 1.0
"""Colour difference, CIELAB units, that is noise in any picture."""

UNITS = 100.0
"""Whole units of capacity for each natural logarithm: flows are whole numbers."""

MOST_UNITS = 10**6
"""Capacity of what is settled: more than any way round it."""

_BESIDE = ((0, 1), (1, 0), (1, 1), (1, -1))


def line_tells(depth: Array) -> Array:
    """Return how much a drawn line tells for garment (natural logarithm), by depth inside it in spreads.

    The edge lies at the line plus a normal error of spread 1, so a place is inside it with probability
    Phi(depth).
    """
    return log_ndtr(depth) - log_ndtr(-depth)


def settled_in_band(lab: Array, telling: Array, known: Mask, free: Mask, depth: Array) -> Mask:
    """Return the mask of least cost.

    Args:
        lab: The picture, CIELAB, shape (h, w, 3).
        telling: How much each pixel tells for garment (natural logarithm), shape (h, w).
        known: What is garment where nothing is open, shape (h, w).
        free: Where it is open, shape (h, w).
        depth: How deep each pixel lies inside the drawn line, in spreads, shape (h, w).
    """
    count = int(free.sum())
    if not count:
        return known.copy()
    number = np.full(free.shape, -1, np.int64)
    number[free] = np.arange(count)
    garment, table = count, count + 1
    node = np.where(free, number, np.where(known, garment, table))
    own = np.round(UNITS * telling[free]).astype(np.int64)
    every = np.arange(count)
    ends = [
        (np.full(count, garment), every, np.maximum(own, 0)),
        (every, np.full(count, table), np.maximum(-own, 0)),
    ]
    elsewhere = 1.0 - ALONG * np.exp(-0.5 * depth.ravel() ** 2)
    for one, other, unlike, gap in (_pairs(lab, free, dy, dx) for dy, dx in _BESIDE):
        price = PARTED * np.exp(-0.5 * unlike) * (elsewhere[one] + elsewhere[other]) / (2.0 * gap)
        price = np.round(UNITS * price).astype(np.int64)
        a, b = node.ravel()[one], node.ravel()[other]
        ends += [(a, b, price), (b, a, price)]
    start, end, capacity = (np.concatenate(part) for part in zip(*ends, strict=True))
    real = (start != end) & (end != garment) & (start != table) & (capacity > 0)
    graph = csr_array(
        (np.minimum(capacity[real], MOST_UNITS).astype(np.int32), (start[real], end[real])),
        shape=(count + 2, count + 2),
    )
    graph.sum_duplicates()
    left = csr_array(graph - maximum_flow(graph, garment, table).flow)
    left.eliminate_zeros()
    reached = breadth_first_order(left, garment, return_predecessors=False)
    side = np.zeros(count + 2, bool)
    side[reached] = True
    out = known.copy()
    out[free] = side[:count]
    return out


def _pairs(lab: Array, free: Mask, dy: int, dx: int) -> tuple[Array, Array, Array, float]:
    """Return neighbours of which one or both are open: flat places, how unlike they are, and their distance.

    Unlike is the squared colour difference over what is usual round about.
    """
    rows, columns = free.shape
    at = np.arange(free.size).reshape(free.shape)
    left, right = max(0, -dx), columns - max(0, dx)
    here = (slice(0, rows - dy), slice(left, right))
    there = (slice(dy, rows), slice(left + dx, right + dx))
    open_ = free[here] | free[there]
    apart = ((lab[here] - lab[there]) ** 2).sum(axis=2)
    usual = cv2.GaussianBlur(apart, (0, 0), ROUND_ABOUT) + FAINTEST**2
    return at[here][open_], at[there][open_], (apart / usual)[open_], float(np.hypot(dy, dx))

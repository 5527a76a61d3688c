"""Moves all copies a little, at once, off one another and towards the strip's start.

Each two convex parts that may meet are held apart by that line round their keep-out which leaves most room.
What then remains for all moves is convex, and the shortest strip in it a linear program (Li and Milenkovic,
"Compaction and separation algorithms for non-convex polygons and their applications", European Journal of
Operational Research 84, 1995). Where two copies overlap, a dear *slack* lets them. The program is solved
again from where the copies come to lie, until little is gained.
"""

import numpy as np
from numpy.typing import NDArray

from likesewn.lay.nest.tables import Planes, Tables

Array = NDArray[np.float64]

__all__ = ["pressed"]

REACH = 4.0
"""How far a copy may move along and across in one round, cells. Further needs more lines and seldom gains."""

MOST_ROUNDS = 12

GAIN = 1e-3
"""Gain in length, cells, below which no further round is made."""

HOPE = 0.25
"""Share of what is still wanting that a round must gain, or the rest is not tried: later rounds gain less."""

SLACK_COST = 100.0
"""Length that 1 mm of overlap costs, mm: more than any overlap can save."""

SLACK_LEFT = 1e-7
"""Overlap in sum that counts as none, mm: what the solver leaves."""

PULL = 1e-6
"""Length that 1 mm of each copy's distance from the start costs, mm, so that copies with room move up."""


def pressed(
    tables: Tables, attitude: list[int], spots: Array, wanted: float = 0.0
) -> tuple[float, Array] | None:
    """Return the shortest lay without overlap that small moves reach, or None where they reach none.

    Args:
        tables: What is known about the parts.
        attitude: Attitude of each copy.
        spots: Where each copy lies, shape (copies, 2), mm; copies may overlap.
        wanted: Length below which a lay is of use, mm; the work stops where it is out of sight. With 0 it
            is always brought to its end.

    Returns:
        The length and the spots, mm.
    """
    size = tables.size[attitude]
    best: tuple[float, Array] | None = None
    last = np.inf
    for _ in range(MOST_ROUNDS):
        answer = _round(tables, attitude, spots, size)
        if answer is None:
            return best
        length, slack, spots = answer
        if slack < SLACK_LEFT and (best is None or length < best[0]):
            best = length, spots
        gain = last - length - SLACK_COST * slack
        last = length + SLACK_COST * slack
        if gain < GAIN * tables.cell or (wanted and slack < SLACK_LEFT and gain < HOPE * (length - wanted)):
            break
    return best


def _round(
    tables: Tables, attitude: list[int], spots: Array, size: Array
) -> tuple[float, float, Array] | None:
    """Return length, sum of slacks and spots after one program; None where the solver gives up."""
    from scipy.optimize import Bounds, LinearConstraint, milp  # noqa: PLC0415 - slow to load, and needed only here
    from scipy.sparse import csc_array  # noqa: PLC0415

    reach = REACH * tables.cell
    n = len(attitude)
    normal, least, first, second = _lines(tables, attitude, spots, size)
    m = len(least)
    # x of every copy, then y, then the length, then a slack for each pair
    pairs, pair = np.unique(first * n + second, return_inverse=True)
    count = 2 * n + 1 + len(pairs)
    copies, lines = np.arange(n), np.arange(m)
    # n . (b - a) + slack >= least, and x + extent <= length, both turned round to <=
    data = [normal[:, 0], -normal[:, 0], normal[:, 1], -normal[:, 1], -np.ones(m), np.ones(n), -np.ones(n)]
    rows = [lines, lines, lines, lines, lines, m + copies, m + copies]
    columns = [first, second, n + first, n + second, 2 * n + 1 + pair, copies, np.full(n, 2 * n)]
    matrix = csc_array(
        (np.concatenate(data), (np.concatenate(rows), np.concatenate(columns))), shape=(m + n, count)
    )
    cost = np.full(count, SLACK_COST)
    cost[:n], cost[n : 2 * n], cost[2 * n] = PULL, 0.0, 1.0
    top = tables.width - size[:, 1]
    low, high = np.zeros(count), np.full(count, np.inf)
    low[:n], high[:n] = np.maximum(spots[:, 0] - reach, 0.0), spots[:, 0] + reach
    low[n : 2 * n], high[n : 2 * n] = (
        np.clip(spots[:, 1] - reach, 0.0, top),
        np.clip(spots[:, 1] + reach, 0.0, top),
    )
    answer = milp(
        cost,
        constraints=LinearConstraint(matrix, ub=np.concatenate([-least, -size[:, 0]])),
        bounds=Bounds(low, high),
        # The program is small and solved once: to look for what can be left out costs more than it saves.
        options={"presolve": False},
    )
    if answer.status != 0:
        return None
    found = np.asarray(answer.x)
    moved = np.column_stack([found[:n], found[n : 2 * n]])
    return float((moved[:, 0] + size[:, 0]).max()), float(found[2 * n + 1 :].sum()), moved


def _lines(
    tables: Tables, attitude: list[int], spots: Array, size: Array
) -> tuple[Array, Array, NDArray[np.intp], NDArray[np.intp]]:
    """Return the lines that hold copies apart: normals, least products and the indices of both copies."""
    reach = REACH * tables.cell
    low, high = spots - reach, spots + size + reach
    meets = ((low[:, None] < high[None]) & (low[None] < high[:, None])).all(axis=2)
    first, second = np.nonzero(np.triu(meets, 1))
    planes: list[Planes] = [
        tables.planes(attitude[i], attitude[j]) for i, j in zip(first.tolist(), second.tolist(), strict=True)
    ]
    if not planes:
        none = np.zeros(0, dtype=np.intp)
        return np.zeros((0, 2)), np.zeros(0), none, none
    normal = np.concatenate([p.normal for p in planes])
    least = np.concatenate([p.least for p in planes])
    lengths = np.array([len(p.least) for p in planes])
    parts = np.array([len(p.start) for p in planes])
    start = np.concatenate([p.start for p in planes]) + np.repeat(np.cumsum(lengths) - lengths, parts)
    count = np.concatenate([p.count for p in planes])
    move = np.repeat(spots[second] - spots[first], lengths, axis=0)
    room = (normal * move).sum(axis=1) - least
    most = np.maximum.reduceat(room, start)
    at = np.flatnonzero(room >= np.repeat(most, count))
    part = np.searchsorted(start, at, side="right") - 1
    # The first of equals, and only of parts that may come to meet.
    chosen = np.append(True, part[1:] != part[:-1]) & (most[part] < 2.0 * np.sqrt(2.0) * reach)
    at = at[chosen]
    pair = np.repeat(np.arange(len(planes)), parts)[part[chosen]]
    return normal[at], least[at], first[pair], second[pair]

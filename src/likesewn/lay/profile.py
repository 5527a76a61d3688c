"""Dropping an outline along the cloth until it meets those that already lie.

The cloth's width is divided into narrow columns. For each column an outline knows the least and the
greatest x that it reaches there, and the *front* knows how far along the cloth that column is taken. An
outline dropped at a column start then lies as near to the cloth's start as its columns allow. Columns only
ever take up more than the outline does, so outlines never overlap and keep ``SAFETY_GAP``; what is lost is
about a column's width times the slope of the edge.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.lay.plan import SAFETY_GAP

Array = NDArray[np.float64]

__all__ = ["COLUMN", "Profile", "drop", "raise_front"]

COLUMN = 2.0
"""Width of a column, mm. Half of it lays closer but takes four times as long."""

PAD = int(np.ceil(SAFETY_GAP / COLUMN))


@dataclass(frozen=True, slots=True, eq=False)
class Profile:
    """What an outline takes up in each column, from the column that its least y falls in.

    Attributes:
        least: Least x in each column, shape (n,), mm from the outline's own least x.
        taken: Greatest x plus the gap in each column, one ``PAD`` wider at either end, shape (n + 2 PAD,).
        length: Extent along x, mm.
    """

    least: Array
    taken: Array
    length: float

    @classmethod
    def of(cls, outline: Array, phase: float = 0.0) -> "Profile":
        """Return the profile of an outline, shape (n, 2), least x and y at 0.

        ``phase`` is how far the outline's least y lies beyond a column's start, mm.
        """
        along = outline[:, 0]
        across = (outline[:, 1] + phase) / COLUMN
        count = max(1, int(np.ceil(across.max() - 1e-9)))
        x, y = _with_crossings(along, across)
        # A point on the line between two columns counts for both.
        lower = np.clip(np.ceil(y - 1e-9).astype(int) - 1, 0, count - 1)
        upper = np.clip(np.floor(y + 1e-9).astype(int), 0, count - 1)
        least = np.full(count, np.inf)
        most = np.full(count, -np.inf)
        for column in (lower, upper):
            np.minimum.at(least, column, x)
            np.maximum.at(most, column, x)
        padded = np.pad(most, 2 * PAD, constant_values=-np.inf)
        spread = np.lib.stride_tricks.sliding_window_view(padded, 2 * PAD + 1).max(axis=1)
        return cls(least=least, taken=spread + SAFETY_GAP, length=float(along.max()))


def _with_crossings(along: Array, across: Array) -> tuple[Array, Array]:
    """Return the polygon's points and the points where its sides cross a column line."""
    x1, y1 = np.roll(along, -1), np.roll(across, -1)
    low = np.ceil(np.minimum(across, y1))
    counts = np.maximum(np.floor(np.maximum(across, y1)) - low + 1, 0).astype(int)
    side = np.repeat(np.arange(len(along)), counts)
    nth = np.arange(len(side), dtype=float) - np.repeat(np.cumsum(counts) - counts, counts)
    y: Array = low[side] + nth
    rise = y1[side] - across[side]
    flat = np.abs(rise) < 1e-12
    share = np.where(flat, 0.0, (y - across[side]) / np.where(flat, 1.0, rise))
    x = along[side] + np.clip(share, 0, 1) * (x1[side] - along[side])
    return np.concatenate([along, x]), np.concatenate([across, y])


def drop(front: Array, profile: Profile, starts: NDArray[np.intp]) -> Array:
    """Return the least x at which the outline can lie, for each column start, shape ``starts.shape``.

    Args:
        front: How far along each column is taken, shape (columns,), mm.
        profile: The outline; it must fit within the front at every start.
        starts: First column of the outline, each at least 0.
    """
    windows = np.lib.stride_tricks.sliding_window_view(front, len(profile.least))
    return np.maximum((windows[starts] - profile.least).max(axis=1), 0.0)


def raise_front(front: Array, profile: Profile, start: int, x: float) -> Array:
    """Return the front once the outline lies at ``x`` from column ``start`` on."""
    raised = front.copy()
    first, last = start - PAD, start + len(profile.taken) - PAD
    low, high = max(first, 0), min(last, len(front))
    taken = profile.taken[low - first : high - first]
    raised[low:high] = np.maximum(raised[low:high], x + taken)
    return raised

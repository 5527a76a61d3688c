"""What is to be laid on a strip, and a lay of it.

The strip's length runs along x from 0 and its width along y from 0, mm. A part's outline is turned about the
origin of its own frame, then shifted: a point p lies at R(turn) p + (x, y), with R(90) taking x to y.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = ["GAP_TO_BEST", "USUAL_SECONDS", "WORST_GAP", "Laid", "Nested", "Part", "turned"]

USUAL_SECONDS = 10.0
"""Time that a search takes where nothing else is said."""

GAP_TO_BEST = 0.045
"""Share by which lays found in ``USUAL_SECONDS`` on two cores are longer than the best of long searches
have found: mean over the published garment sets, see ``benchmarks/lay/open.py`` and docs/lay-open.md."""

WORST_GAP = 0.065
"""The same for the set on which it is greatest."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One outline and how many of it are laid.

    Attributes:
        outline: Simple closed polygon, shape (n, 2), mm, first point not repeated, either way round.
        copies: How many are laid, at least 1.
        turns: Angles that it may be turned by, degrees; never mirrored.
    """

    outline: Array
    copies: int = 1
    turns: tuple[float, ...] = (0.0,)


@dataclass(frozen=True, slots=True)
class Laid:
    """Where one copy lies.

    Attributes:
        part: Index of its part.
        turn: How far it is turned, degrees, one of the part's turns.
        x: Shift along the strip after turning, mm.
        y: Shift across the strip, mm.
    """

    part: int
    turn: float
    x: float
    y: float

    def outline(self, parts: Sequence[Part]) -> Array:
        """Return its outline on the strip, shape (n, 2), mm."""
        return turned(parts[self.part].outline, self.turn) + np.array([self.x, self.y])


@dataclass(frozen=True, slots=True)
class Nested:
    """A lay in which nothing overlaps.

    Attributes:
        length: Length of strip that it takes up, mm.
        laid: Where each copy lies, in the order of the parts.
        steps: Moves of the search up to here.
        seconds: Time up to here by the clock that was given.
    """

    length: float
    laid: tuple[Laid, ...]
    steps: int = 0
    seconds: float = 0.0


def turned(outline: Array, degrees: float) -> Array:
    """Return ``outline``, shape (n, 2), turned about the origin; quarter turns are exact."""
    quarters, rest = divmod(degrees % 360.0, 90.0)
    if rest == 0.0:
        c, s = ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0), (0.0, -1.0))[int(quarters) % 4]
    else:
        c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.asarray(outline, dtype=float) @ np.array([[c, s], [-s, c]])

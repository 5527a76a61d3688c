"""How much a colour tells for the garment or for the table, learnt from a whole photograph.

Shares of colours are counted over garment and table in small bins and smoothed, so that a nearly white top is
told from the white squares of a check that differs by three units of CIELAB, where a mixture of few wide
clusters, or what lies right beside one place of the edge, cannot.
"""

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.photo.smoothing import gaussian_along

__all__ = ["COARSE", "FINE", "ColourTable", "Counting"]

Array = NDArray[Any]
Mask = NDArray[np.bool_]

REACH = 60.0
"""Farthest value of a colour axis that is told apart, CIELAB units."""

SPREAD_BINS = 1.0
"""Spread of the colours that tell for garment or table, bins: noise, and light thrown from cloth to table."""

UNSURE = 0.04
"""Width of the rim, as a share of the square root of the garment's area, whose pixels may lie on the wrong
side."""


@dataclass(frozen=True, slots=True)
class Counting:
    """How colours are counted.

    Attributes:
        width: Width of a bin, CIELAB units, lightness first: light changes over one cloth more than its hue.
        rare: Share of pixels below which a colour tells nothing.
        rim: What a pixel of the unsure rim counts: what was taken in wrongly must not vouch for itself.
    """

    width: tuple[float, float, float]
    rare: float
    rim: float

    @property
    def count(self) -> tuple[int, int, int]:
        """How many bins there are of lightness and of each colour axis."""
        light, red, yellow = np.ceil(np.array([100.0, 2 * REACH, 2 * REACH]) / self.width).astype(int)
        return int(light), int(red), int(yellow)

    def bins(self, lab: Array) -> tuple[NDArray[np.int64], ...]:
        """Return the bin of each colour, shape (..., 3), by axis."""
        at = ((lab + np.array([0.0, REACH, REACH])) / self.width).astype(np.int64)
        return tuple(np.moveaxis(np.clip(at, 0, np.array(self.count) - 1), -1, 0))


FINE = Counting((4.0, 0.75, 0.75), 1e-5, 0.1)
"""Tells a nearly white top from white squares."""

COARSE = Counting((10.0, 8.0, 8.0), 1e-4, 1.0)
"""Knows the table again in the shade of a narrow gap, whose colours are nowhere else."""


@dataclass(frozen=True, slots=True, eq=False)
class ColourTable:
    """What each colour tells.

    Attributes:
        table: Natural logarithm of the share of table over the share of garment, by bin.
        counting: How colours were counted.
    """

    table: NDArray[np.float32]
    counting: Counting

    @classmethod
    def learnt(cls, lab: Array, garment: Mask, table: Mask, counting: Counting = FINE) -> "ColourTable":
        """Return the table of a picture.

        Args:
            lab: The picture in CIELAB, shape (h, w, 3).
            garment: True on the garment as found so far, shape (h, w).
            table: True on the table as found so far, shape (h, w).
            counting: How to count colours.
        """
        unsure = UNSURE * float(garment.sum()) ** 0.5
        shares: list[Array] = []
        for part in (garment, table):
            depth = cv2.distanceTransform(part.astype(np.uint8), cv2.DIST_L2, 3)[part]
            weight = np.where(depth < unsure, counting.rim, 1.0)
            flat = np.ravel_multi_index(counting.bins(lab[part]), counting.count)
            counted = np.bincount(flat, weight, int(np.prod(counting.count))).reshape(counting.count)
            share = counted / max(float(weight.sum()), 1.0)
            for axis in range(share.ndim):
                share = gaussian_along(share, SPREAD_BINS, axis=axis, ends="reflect")
            shares.append(share)
        told = np.log((shares[1] + counting.rare) / (shares[0] + counting.rare))
        return cls(told.astype(np.float32), counting)

    def telling(self, lab: Array) -> NDArray[np.float32]:
        """Return how much each colour, shape (..., 3), tells for the table; less than 0 for the garment."""
        return self.table[self.counting.bins(lab)]

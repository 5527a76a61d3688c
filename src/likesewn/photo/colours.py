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
from scipy.ndimage import gaussian_filter

__all__ = ["ColourTable"]

Array = NDArray[Any]
Mask = NDArray[np.bool_]

LEAST = np.array([0.0, -60.0, -60.0])
"""Lower end of the bins: lightness and the two colour axes, CIELAB units."""

WIDTH = np.array([4.0, 0.75, 0.75])
"""Width of a bin, CIELAB units: light changes over one cloth more than its hue."""

COUNT = (25, 160, 160)

SPREAD_BINS = 1.0
"""Spread of the colours that tell for garment or table, bins: noise, and light thrown from cloth to table."""

RARE = 1e-5
"""Share of pixels below which a colour tells nothing."""


UNSURE = 0.04
"""Width of the rim, as a share of the square root of the garment's area, whose pixels may lie on the wrong side."""

UNSURE_WEIGHT = 0.1
"""What such a pixel counts: what was taken in wrongly must not vouch for itself."""


@dataclass(frozen=True, slots=True, eq=False)
class ColourTable:
    """What each colour tells.

    Attributes:
        table: Natural logarithm of the share of table over the share of garment, by bin.
    """

    table: NDArray[np.float32]

    @classmethod
    def learnt(cls, lab: Array, garment: Mask, table: Mask) -> "ColourTable":
        """Return the table of a picture.

        Args:
            lab: The picture in CIELAB, shape (h, w, 3).
            garment: True on the garment as found so far, shape (h, w).
            table: True on the table as found so far, shape (h, w).
        """
        bins = _bins(lab)
        unsure = UNSURE * float(garment.sum()) ** 0.5
        shares: list[Array] = []
        for part in (garment, table):
            inside = cv2.distanceTransform(part.astype(np.uint8), cv2.DIST_L2, 3)[part]
            weight = np.where(inside < unsure, UNSURE_WEIGHT, 1.0)
            counted = np.bincount(bins[part], weight, minlength=int(np.prod(COUNT)))
            share = counted / max(float(weight.sum()), 1.0)
            shares.append(gaussian_filter(share.reshape(COUNT), SPREAD_BINS))
        return cls(np.log((shares[1] + RARE) / (shares[0] + RARE)).astype(np.float32).ravel())

    def telling(self, lab: Array) -> NDArray[np.float32]:
        """Return how much each colour, shape (..., 3), tells for the table; negative tells for the garment."""
        return self.table[_bins(lab)]


def _bins(lab: Array) -> NDArray[np.int64]:
    at = np.clip(((lab - LEAST) / WIDTH).astype(np.int64), 0, np.array(COUNT) - 1)
    return (at[..., 0] * COUNT[1] + at[..., 1]) * COUNT[2] + at[..., 2]


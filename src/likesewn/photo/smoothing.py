"""Means along one axis of an array, by OpenCV, which is loaded in any case: SciPy's take 0.2 s to load.

The filters and their ends are those of ``scipy.ndimage``, against which they are tested.
"""

from typing import Any, Literal

import cv2
import numpy as np
from numpy.typing import NDArray

__all__ = ["Ends", "gaussian_along", "mean_along"]

Array = NDArray[np.float64]

Ends = Literal["wrap", "reflect", "nearest"]
"""How an axis goes on past its ends: round to the other end, mirrored with the end repeated, or as the end
is."""

_PADDING: dict[Ends, Literal["wrap", "symmetric", "edge"]] = {
    "wrap": "wrap",
    "reflect": "symmetric",
    "nearest": "edge",
}

FARTHEST = 4.0
"""Standard deviations at which a normal curve is cut off."""


def gaussian_along(values: NDArray[Any], sigma: float, *, axis: int = 0, ends: Ends = "wrap") -> Array:
    """Return values weighed by a normal curve along an axis.

    Args:
        values: Any array.
        sigma: Standard deviation, in steps of the axis.
        axis: The axis.
        ends: How it goes on past its ends.
    """
    reach = int(FARTHEST * sigma + 0.5)
    kernel = cv2.getGaussianKernel(2 * reach + 1, sigma, cv2.CV_64F)
    return _weighed(values, kernel, reach, axis, ends)


def mean_along(values: NDArray[Any], size: int, *, first: int | None = None, ends: Ends = "wrap") -> Array:
    """Return the mean of ``size`` values along the first axis at each place.

    Args:
        values: Any array.
        size: How many.
        first: How many of them lie before the place; half of them (rounded down) where it is None.
        ends: How it goes on past its ends.
    """
    before = size // 2 if first is None else first
    return _weighed(values, np.full((size, 1), 1.0 / size), before, 0, ends)


def _weighed(values: NDArray[Any], kernel: NDArray[Any], before: int, axis: int, ends: Ends) -> Array:
    rows = np.moveaxis(np.asarray(values, dtype=np.float64), axis, 0)
    shape = rows.shape
    after = len(kernel) - 1 - before
    rows = np.pad(rows.reshape(shape[0], -1), ((before, after), (0, 0)), mode=_PADDING[ends])
    done = cv2.sepFilter2D(rows, cv2.CV_64F, np.ones((1, 1)), kernel, anchor=(0, before))
    kept = np.asarray(done, dtype=np.float64)[before : before + shape[0]]
    return np.moveaxis(kept.reshape(shape), 0, axis)

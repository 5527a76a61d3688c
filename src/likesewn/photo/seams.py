"""Follows a seam inside the garment between picked points: the path that keeps to the strongest line.

A seam shows as a thin line, darker or lighter than the cloth beside it, or as a step between two cloths.
The path of least cost through the picture, where cost is low along such lines, snaps to it with few points.

Source: Mortensen, Barrett, "Intelligent scissors for image composition", SIGGRAPH 1995; the ridge measure
is the larger eigenvalue of the Hessian (Steger, IEEE TPAMI 20(2), 1998, section 2). The path is
scikit-image's.
"""

from collections.abc import Sequence
from itertools import pairwise

import cv2
import numpy as np
from numpy.typing import NDArray
from skimage.graph import MCP_Geometric

from likesewn.photo.seeds import to_lab
from likesewn.photo.smoothing import gaussian_along

__all__ = ["follow_seam"]

Array = NDArray[np.float64]

WORKING_SIDE = 700
"""Longer side, px, of the part of the picture that is searched between two picked points."""

FLOOR = 0.03
"""Cost of a step along the strongest line, as a share of that across plain cloth: how far a detour may
lead."""


def follow_seam(rgb: NDArray[np.uint8], picked: Sequence[tuple[float, float]]) -> Array:
    """Return the path along a seam through picked points.

    Args:
        rgb: The photograph, shape (h, w, 3), 8 bits.
        picked: Two points or more, in order, px.

    Returns:
        Points along the seam, shape (n, 2), px, from the first picked point to the last.

    Raises:
        ValueError: Fewer than two points, or one lies outside the picture.
    """
    points = np.asarray(picked, dtype=np.float64)
    height, width = rgb.shape[:2]
    if points.ndim != 2 or len(points) < 2:
        raise ValueError("a seam takes two picked points or more")
    if np.any(points < -0.5) or np.any(points > (width - 0.5, height - 0.5)):
        raise ValueError("a picked point lies outside the picture")
    legs = [_leg(rgb, a, b) for a, b in pairwise(points)]
    return np.concatenate([legs[0], *(leg[1:] for leg in legs[1:])])


def _leg(rgb: NDArray[np.uint8], start: Array, end: Array) -> Array:
    length = max(float(np.hypot(*(end - start))), 4.0)
    reach = 0.35 * length + 8
    low = np.maximum(np.floor(np.minimum(start, end) - reach).astype(int), 0)
    high = np.minimum(np.ceil(np.maximum(start, end) + reach).astype(int) + 1, rgb.shape[1::-1])
    part = np.ascontiguousarray(rgb[low[1] : high[1], low[0] : high[0]])
    scale = min(1.0, WORKING_SIDE / max(part.shape[:2]))
    if scale < 1.0:
        part = cv2.resize(part, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    factor = np.array([part.shape[1], part.shape[0]]) / (high - low)
    line = _line_strength(to_lab(part))
    ceiling = max(float(np.percentile(line, 99.7)), 1e-6)
    cost = FLOOR + (1.0 - np.minimum(line / ceiling, 1.0)) ** 2

    def cell(px: Array) -> tuple[int, int]:
        x, y = np.clip(np.round((px - low + 0.5) * factor - 0.5), 0, np.array(part.shape[1::-1]) - 1).astype(
            int
        )
        return int(y), int(x)

    search = MCP_Geometric(cost)
    search.find_costs([cell(start)], [cell(end)])
    path = np.array(search.traceback(cell(end)), dtype=np.float64)[:, ::-1]
    if len(path) > 6:
        ends = path[[0, -1]].copy()
        path = gaussian_along(path, 2.0, ends="nearest")
        path[[0, -1]] = ends
    found = (path + 0.5) / factor - 0.5 + low
    found[0], found[-1] = start, end
    return found


def _line_strength(lab: NDArray[np.float32]) -> Array:
    """Return how much each pixel lies on a line or a step, CIELAB units."""
    smooth = cv2.GaussianBlur(lab, (0, 0), 1.5)
    xx, yy, xy = (cv2.Sobel(smooth, cv2.CV_32F, *order, ksize=5) / 64.0 for order in ((2, 0), (0, 2), (1, 1)))
    bend = np.abs((xx + yy) / 2) + np.sqrt(((xx - yy) / 2) ** 2 + xy**2)
    dx, dy = (cv2.Sobel(smooth, cv2.CV_32F, *order, ksize=3) / 8.0 for order in ((1, 0), (0, 1)))
    step = np.sqrt((dx**2 + dy**2).sum(axis=2))
    # a step beside a thin line would draw the path to the line's rim, so steps count where there is no line
    return np.asarray(8.0 * np.sqrt((bend**2).sum(axis=2)) + step, dtype=np.float64)

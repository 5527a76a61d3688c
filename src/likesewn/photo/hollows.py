"""Follows a hollow corner up a gap that is too narrow for the outline, such as between a sleeve and the body.

From the point where the outline turns back, a walker goes on inward as long as what it stands on looks more
like what lies in the gap behind it than like the cloth on both sides.
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.photo.seeds import to_lab

__all__ = ["follow_gap"]

Array = NDArray[np.float64]

HEIGHT = 600.0
"""Height of the garment, px, at which the walker goes: a gap of a few millimetres is a pixel wide."""

FARTHEST = 0.14
"""Longest way, as a share of the garment's height."""

LIKE_GAP = 0.6
"""Share of the way from the cloth's colour to the gap's that a pixel must have, for a gap thinner than a
pixel."""

LEAST_APART = 8.0
"""Colour difference between gap and cloth, CIELAB units, below which nothing can be followed."""


def follow_gap(rgb: NDArray[np.uint8], outline: Array, index: int, height: float) -> Array:
    """Return where the gap that ends at a point of an outline really ends, (2,) px.

    Args:
        rgb: The photograph, shape (h, w, 3), 8 bits.
        outline: The garment's outline, shape (n, 2), px.
        index: The point of it at which it turns back.
        height: The garment's height, px.
    """
    apex = outline[index]
    spacing = float(np.hypot(*np.diff(outline, axis=0, append=outline[:1]).T).mean())
    arm = max(2, round(0.025 * height / spacing))
    ends = outline[[(index - arm) % len(outline), (index + arm) % len(outline)]]
    back = ends.mean(axis=0) - apex
    if float(np.hypot(*back)) < 0.3 * arm * spacing:  # hardly a hollow: it would not be clear where to go
        return apex
    scale = min(1.0, HEIGHT / height)
    reach = (FARTHEST + 0.05) * height
    low = np.maximum(np.floor(apex - reach).astype(int), 0)
    high = np.minimum(np.ceil(apex + reach).astype(int) + 1, rgb.shape[1::-1])
    part = np.ascontiguousarray(rgb[low[1] : high[1], low[0] : high[0]])
    if scale < 1.0:
        part = cv2.resize(part, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    factor = np.array([part.shape[1], part.shape[0]]) / (high - low)
    lab = cv2.GaussianBlur(to_lab(part), (0, 0), 0.6)
    unit = max(1.0, height * scale / 300.0)
    start = (apex - low + 0.5) * factor - 0.5
    way = -back * factor
    end = _walk(lab, start, way / float(np.hypot(*way)), unit, FARTHEST * height * scale)
    return (end + 0.5) / factor - 0.5 + low


def _walk(lab: NDArray[Any], start: Array, way: Array, unit: float, farthest: float) -> Array:
    behind = _at(lab, start - way * unit * np.arange(2.0, 7.0)[:, None])
    gap = np.median(behind, axis=0)
    place, last, walked, poor = start, start, 0.0, 0
    while walked < farthest and poor < 3:
        ahead = place + way * unit / 2
        across = np.array([-way[1], way[0]])
        sides = _at(lab, ahead + across * unit * np.array([-5.0, -4.0, 4.0, 5.0])[:, None])
        cloth = np.array([sides[:2].mean(axis=0), sides[2:].mean(axis=0)])
        offsets = np.linspace(-1.0, 1.0, 9) * unit
        shares = np.minimum.reduce(
            [_share(_at(lab, ahead + across * offsets[:, None]), c, gap) for c in cloth]
        )
        pick = int(np.argmax(shares - 0.05 * np.abs(offsets / unit)))
        moved = ahead + across * offsets[pick]
        good = shares[pick] > LIKE_GAP
        if good:
            step = moved - place
            way = 0.8 * way + 0.2 * step / max(float(np.hypot(*step)), 1e-9)
            way /= float(np.hypot(*way))
            last = moved
        poor = 0 if good else poor + 1
        place = moved if good else ahead
        walked += unit / 2
    return last


def _share(colours: Array, cloth: Array, gap: Array) -> Array:
    """Return how far each colour lies on the way from the cloth's to the gap's."""
    toward = gap - cloth
    apart = float(toward @ toward)
    if apart < LEAST_APART**2:
        return np.zeros(len(colours))
    return (colours - cloth) @ toward / apart


def _at(lab: NDArray[Any], px: Array) -> Array:
    x, y = (np.ascontiguousarray(px[:, axis], dtype=np.float32)[:, None] for axis in (0, 1))
    return cv2.remap(lab, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[:, 0].astype(np.float64)

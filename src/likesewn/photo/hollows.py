"""Follows a hollow corner up a gap that is too narrow for the outline, such as between a sleeve and the body.

From the point where the outline turns back, a walker goes on inward as long as what it stands on looks more
like what lies in the gap behind it than like the cloth on both sides, or, where the gap is thinner than a
pixel, strays from the cloth toward the gap's colour and no other, farther than the cloth itself does.
"""

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.photo.colours import ColourTable
from likesewn.photo.seeds import to_lab

__all__ = ["follow_gap"]

Array = NDArray[np.float64]

HEIGHT = 600.0
"""Height of the garment, px, at which the walker goes: a gap of a few millimetres is a pixel wide."""

FARTHEST = 0.14
"""Longest way, as a share of the garment's height."""

LIKE_GAP = 0.6
"""Share of the way from the cloth's colour to the gap's at which a pixel is the gap's in any case."""

THIN = 0.15
"""Least share of a gap thinner than a pixel, once what strays to other colours is taken off: a crease is
dark, a gap has the table's colour."""

STANDS_OUT = 2.5
"""How many times as far as the cloth beside it a thin gap must stray."""

OWN = 2.5
"""How much a colour must tell for the garment over the whole photograph (natural logarithm) to be no gap: a
stripe of a striped cloth may have the table's colour beside it, but not everywhere."""

MOST_POOR = 4
"""Half steps without a gap after which the walker gives up."""

BESIDE = np.array([-5.0, -4.0, 4.0, 5.0])
"""Where the cloth beside the gap is looked at."""

LEAST_APART = 8.0
"""Colour difference between gap and cloth, CIELAB units, below which nothing can be followed."""


def follow_gap(
    rgb: NDArray[np.uint8], outline: Array, index: int, height: float, colours: ColourTable
) -> Array:
    """Return where the gap that ends at a point of an outline really ends, (2,) px.

    Args:
        rgb: The photograph, shape (h, w, 3), 8 bits.
        outline: The garment's outline, shape (n, 2), px.
        index: The point of it at which it turns back.
        height: The garment's height, px.
        colours: What colours tell for the table.
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
    if (high - low).min() < 1:  # the outline of something tiny, past the picture's edge
        return apex
    part = np.ascontiguousarray(rgb[low[1] : high[1], low[0] : high[0]])
    if scale < 1.0:
        part = cv2.resize(part, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    factor = np.array([part.shape[1], part.shape[0]]) / (high - low)
    lab = cv2.GaussianBlur(to_lab(part), (0, 0), 0.6)
    unit = max(1.0, height * scale / 300.0)
    start = (apex - low + 0.5) * factor - 0.5
    way = -back * factor
    way /= float(np.hypot(*way))
    end = _walk(lab, start, way, unit, FARTHEST * height * scale, colours)
    return (end + 0.5) / factor - 0.5 + low


def _walk(
    lab: NDArray[Any], start: Array, way: Array, unit: float, farthest: float, colours: ColourTable
) -> Array:
    behind = _at(lab, start - way * unit * np.arange(2.0, 7.0)[:, None])
    gap = np.median(behind, axis=0)
    place, last, walked, poor = start, start, 0.0, 0
    while walked < farthest and poor < MOST_POOR:
        ahead = place + way * unit / 2
        across = np.array([-way[1], way[0]])
        sides = _at(lab, ahead + across * unit * BESIDE[:, None])
        cloths = [sides[BESIDE < 0].mean(axis=0), sides[BESIDE > 0].mean(axis=0)]
        offsets = np.linspace(-1.0, 1.0, 9) * unit
        here = _at(lab, ahead + across * offsets[:, None])
        share, aside = np.stack([_share(here, cloth, gap) for cloth in cloths], axis=1)
        stray = max(float(_share(sides, cloth, gap)[0].max()) for cloth in cloths)
        least = share.min(axis=0)
        thin = (share - aside).min(axis=0) / max(THIN, STANDS_OUT * stray)
        told = np.maximum(least / LIKE_GAP, thin)
        likest = here[np.argmax(least)]  # beside a stripe's middle its blur looks like a gap
        pick = int(np.argmax(told - 0.08 * np.abs(offsets / unit)))
        moved = ahead + across * offsets[pick]
        good = told[pick] > 1.0 and colours.telling(likest) > -OWN
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
    """Return how far along the way from the cloth's colour to the gap's each lies, and how far off it."""
    toward = gap - cloth
    apart = float(toward @ toward)
    if apart < LEAST_APART**2:
        return np.zeros((2, len(colours)))
    share = (colours - cloth) @ toward / apart
    aside = np.linalg.norm(colours - cloth - share[:, None] * toward, axis=1) / np.sqrt(apart)
    return np.stack([share, aside])


def _at(lab: NDArray[Any], px: Array) -> Array:
    x, y = (np.ascontiguousarray(px[:, axis], dtype=np.float32)[:, None] for axis in (0, 1))
    return cv2.remap(lab, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)[:, 0].astype(np.float64)

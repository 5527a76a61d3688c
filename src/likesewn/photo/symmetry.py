"""Corners of a chequer to a hundredth of a pixel or two, by their symmetry.

Round a corner of the chequer the print looks the same turned by half a turn: two dark squares, two light
ones, and of the coded squares in these at first only their rims. So the corner is where the picture differs
least from itself turned about that place. Nothing need be known of blur, ink that spreads, or how dark and
light come out, which change both halves alike; and every edge in the window counts, so that small squares are
placed as well as large ones. Symmetry as a means of placing: D. Reisfeld and others, "Context-free
attentional operators: the generalized symmetry transform", IJCV 14, 1995; the least squares here are our own.
"""

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.photo.camera import Floats, mapped
from likesewn.photo.sheet import CELL_MM, SQUARE_MM

__all__ = ["WINDOW_MM", "centred"]

WINDOW_MM = 2.0 * CELL_MM
"""Half-width of the window: as far as the rims of the coded squares; what they say lies beyond."""

_MOST_STEPS_OUT = 20
"""Samples from the corner to the window's rim: more, in huge pictures, place a corner no better."""

_ROUNDS = 10
_STILL_PX = 2e-3

_MOST_UNLIKE = 0.1
"""Root mean square difference of the two halves, as a share of dark to light; noise alone leaves a third."""

_UNLIKE_OTHERS = 3.0
"""Or so many times what is usual on the sheet, where the picture is noisy."""


def centred(
    grey: NDArray[np.uint8], mm: Floats, px: Floats, to_px: Floats, blur_px: float
) -> tuple[Floats, NDArray[np.bool_]]:
    """Move corners to where the picture round them is most like itself turned by half a turn.

    Minimised over the corner's place and a slant of the light (two terms) is the sum over the window of the
    squared difference between opposite samples, by Gauss and Newton. The window lies square to the sheet, so
    that perspective does no harm, and keeps clear of the codes by the blur.

    Args:
        grey: (h,w) grey levels.
        mm: (n,2) the corners in the sheet's frame.
        px: (n,2) where they are to a pixel.
        to_px: (3,3) homography from the sheet's frame to pixels, good to a few pixels.
        blur_px: One-sigma width of edges, pixels.

    Returns:
        The corners (n,2), pixels, and which of them are symmetric there, as nothing that something lies over
        is, (n,).
    """
    beside = mapped(to_px, mm + np.array([SQUARE_MM, 0.0])) - mapped(to_px, mm)
    per_mm = float(np.median(np.linalg.norm(beside, axis=1))) / SQUARE_MM
    reach = max(WINDOW_MM - max(blur_px, 1.0) / per_mm, 0.5 * WINDOW_MM)
    steps = int(np.clip(reach * per_mm, 2, _MOST_STEPS_OUT))
    out = np.linspace(-reach, reach, 2 * steps + 1)
    around = np.stack(np.meshgrid(out, out), axis=-1).reshape(-1, 2)
    places = mapped(to_px, (mm[:, None] + around).reshape(-1, 2)).reshape(len(mm), -1, 2)
    from_corner = places - mapped(to_px, mm)[:, None]
    at = px.copy()
    share = np.ones(len(mm))
    for _ in range(_ROUNDS):
        step, share = _step(grey, at[:, None] + from_corner, around / reach)
        # a window without a corner sends the step anywhere
        at += np.clip(step, -1.0, 1.0)
        if np.abs(step).max() < _STILL_PX:
            break
    return at, share < max(_MOST_UNLIKE, _UNLIKE_OTHERS * float(np.median(share)))


def _step(grey: NDArray[np.uint8], window: Floats, around: Floats) -> tuple[Floats, Floats]:
    """Return how far each corner should move, (n,2), and how unlike the two halves then remain, (n,).

    Args:
        grey: The picture.
        window: (n,m,2) pixels; the last of them lies opposite the first, and so on to the middle one.
        around: (m,2) the same from the corner, as shares of the window's half-width.
    """
    half = window.shape[1] // 2
    level, left, right, above, below = (
        _levels(grey, window + np.array(by)) for by in ((0, 0), (-1, 0), (1, 0), (0, -1), (0, 1))
    )
    across, down = (right - left) / 2, (below - above) / 2
    unlike = (level - level[:, ::-1])[:, :half]
    both = (level + level[:, ::-1])[:, :half]
    by = np.stack(
        [
            (across - across[:, ::-1])[:, :half],
            (down - down[:, ::-1])[:, :half],
            both * around[:half, 0],
            both * around[:half, 1],
        ],
        axis=2,
    )
    normal = by.transpose(0, 2, 1) @ by
    # where the picture is of one grey, nothing is to be solved for
    normal += 1e-9 * (np.trace(normal, axis1=1, axis2=2)[:, None, None] + 1.0) * np.eye(4)
    step = np.linalg.solve(normal, -by.transpose(0, 2, 1) @ unlike[:, :, None])
    rest = np.sqrt(np.mean((unlike[:, :, None] + by @ step) ** 2, axis=(1, 2)))
    dark, light = np.percentile(level, [20, 80], axis=1)
    return step[:, :2, 0], rest / np.maximum(light - dark, 1e-9)


def _levels(grey: NDArray[np.uint8], px: Floats) -> Floats:
    at = px.astype(np.float32)
    return cv2.remap(grey, at[:, :, 0], at[:, :, 1], cv2.INTER_LINEAR).astype(np.float64)

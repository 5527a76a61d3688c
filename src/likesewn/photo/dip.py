"""Finds an edge that hangs inside the outline between two corners, such as a front neckline over the back's.

The edge is first sought among plain hanging curves of many depths and shapes, by how strongly and how
evenly the picture changes across each; the best one then bends to the line that it found.
"""

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.garment.silhouette import Dip
from likesewn.photo.seeds import to_lab

__all__ = ["FoundDip", "find_dip"]

Array = NDArray[np.float64]

HEIGHT = 500.0
"""Height of the garment, px, at which the edge is sought: finer shows yarn, coarser merges a band's two
edges."""

SAMPLES = 61
"""Points along a curve."""

SHAPES = (1.0, 1.4, 1.8, 2.2, 2.8, 3.6)
"""Powers of the hanging curves: 1 is a V, 2 a parabola, more a flat-bottomed U."""

LEANS = (-0.12, -0.06, 0.0, 0.06, 0.12)
"""How far the lowest point may lie from half-way, shares of the width."""

BAND = (0.012, 0.06)
"""Least and greatest width of a band, shares of the garment's height."""

NEARLY = 0.7
"""Share of the best curve's score that a band's other edge must reach."""

INNER = slice(SAMPLES // 10, SAMPLES - SAMPLES // 10)
"""Points of a curve that count: its ends lie on the outline whatever hangs there."""

MARGIN = 5.0
"""Distance from the outline, px at the working size, within which its own edge shows."""

LEAST_CLEAR = 0.75
"""Least share of a curve that must run clear of the outline."""

USUAL_LEAN = 0.15
"""Spread of where the lowest point lies, as a share of the width."""

STRONG = 3
"""Change of colour, CIELAB units per px, beyond which more does not count: a print is no edge."""


@dataclass(frozen=True, slots=True)
class FoundDip:
    """An edge inside the outline.

    Attributes:
        corner: Its lowest point, (x, y) px.
        px: Points along it from the left corner to the right one, shape (n, 2), px.
        strength: Mean change of colour across it, CIELAB units per px at the working size.
    """

    corner: tuple[float, float]
    px: Array
    strength: float


def find_dip(
    rgb: NDArray[np.uint8], outline: Array, ends: tuple[Array, Array], down: Array, height: float, dip: Dip
) -> FoundDip | None:
    """Find the edge that hangs between two corners.

    Args:
        rgb: The photograph, shape (h, w, 3), 8 bits.
        outline: The garment's outline, shape (n, 2), px; its own edge does not count.
        ends: The viewer's left and right corner, px.
        down: Direction downward along the middle line.
        height: Height of the silhouette, px.
        dip: The kind's description.

    Returns:
        The edge, or None where none runs clear of the outline.
    """
    left, right = ends
    scale = min(1.0, HEIGHT / height)
    along = right - left
    width = max(float(np.hypot(*along)), 1.0)
    reach = (0.5 + dip.drop[0] + 3 * dip.drop[1]) * width
    middle = (left + right) / 2
    low = np.maximum(np.floor(middle - reach).astype(int), 0)
    high = np.minimum(np.ceil(middle + reach).astype(int) + 1, rgb.shape[1::-1])
    part = np.ascontiguousarray(rgb[low[1] : high[1], low[0] : high[0]])
    if scale < 1.0:
        part = cv2.resize(part, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    factor = np.array([part.shape[1], part.shape[0]]) / np.maximum(high - low, 1)
    smooth = cv2.GaussianBlur(to_lab(part), (0, 0), 1.0)
    slope = np.stack(
        [cv2.Scharr(smooth, cv2.CV_32F, 1, 0), cv2.Scharr(smooth, cv2.CV_32F, 0, 1)]
    ) / np.float32(32)

    inside = _well_inside(outline, low, factor, part.shape[:2])
    deepest = (dip.drop[0] + 3 * dip.drop[1]) * width
    depths = np.arange(0.25 * dip.drop[0] * width, deepest, 0.004 * height)
    curves, params = _hanging(left, along, down, depths)
    small = (curves - low + 0.5) * factor - 0.5
    across = _across(slope, small)
    counts = _read(inside, small)[:, INNER]
    clear = counts.mean(axis=1)
    if not (clear > LEAST_CLEAR).any():
        return None
    plain = np.minimum(np.linalg.norm(across, axis=2), STRONG) * counts
    signed = np.linalg.norm((across * counts[..., None]).mean(axis=1), axis=1) / np.maximum(clear, 0.1)
    mean = plain.mean(axis=1) / np.maximum(clear, 0.1)
    score = np.where(clear > LEAST_CLEAR, mean + np.minimum(signed, STRONG), -1.0)
    off = (params[:, 0] / width - dip.drop[0]) / dip.drop[1]
    score = score * np.exp(-0.5 * off**2) * np.exp(-0.5 * (params[:, 2] / USUAL_LEAN) ** 2)
    pick = int(np.argmax(score))
    # a band shows two edges, and its seam may be the stronger: take the other where it runs clearly above
    above = params[pick, 0] - params[:, 0]
    band = (above > BAND[0] * height) & (above < BAND[1] * height) & (score > NEARLY * score[pick])
    if band.any():
        pick = int(np.argmax(np.where(band, score, -1.0)))
    curve = curves[pick]
    depth = curve @ down
    lowest = curve[depth > depth.max() - 0.03 * params[pick, 0]].mean(axis=0)
    return FoundDip((float(lowest[0]), float(lowest[1])), curve, float(plain[pick].mean()))


def _hanging(left: Array, along: Array, down: Array, depths: Array) -> tuple[Array, Array]:
    """Return hanging curves (m, SAMPLES, 2), px, and each one's depth (px), power and lean."""
    share = np.linspace(-1.0, 1.0, SAMPLES)
    curves: list[Array] = []
    params: list[tuple[float, float, float]] = []
    for lean in LEANS:
        # -1 to 0 runs from the left end to the lowest point, 0 to 1 on to the right end
        x = np.where(share < 0, (share + 1) * (0.5 + lean), (0.5 + lean) + share * (0.5 - lean))
        for power in SHAPES:
            fall = 1.0 - np.abs(share) ** power
            line = left + x[:, None] * along
            curves.extend(line + depth * fall[:, None] * down for depth in depths)
            params.extend((float(depth), power, lean) for depth in depths)
    return np.stack(curves), np.array(params)


def _across(slope: NDArray[np.float32], curves: Array) -> Array:
    """Return the change of colour across each curve at its inner points, (m, n, 3), per px."""
    tangent = np.gradient(curves, axis=1)
    tangent /= np.linalg.norm(tangent, axis=2, keepdims=True) + 1e-9
    x, y = (np.ascontiguousarray(curves[..., axis], dtype=np.float32) for axis in (0, 1))
    gx, gy = (cv2.remap(part, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE) for part in slope)
    across = gy * tangent[..., :1] - gx * tangent[..., 1:]
    return across[:, INNER].astype(np.float64)


def _read(values: NDArray[np.float32], curves: Array) -> Array:
    x, y = (np.ascontiguousarray(curves[..., axis], dtype=np.float32) for axis in (0, 1))
    return cv2.remap(values, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT).astype(np.float64)


def _well_inside(outline: Array, low: Array, factor: Array, shape: tuple[int, ...]) -> NDArray[np.float32]:
    """Return 1 where a pixel lies inside the outline by more than ``MARGIN``, else 0."""
    filled = np.zeros(shape, np.uint8)
    drawn = np.round(((outline - low + 0.5) * factor - 0.5) * 16).astype(np.int32).reshape(-1, 1, 2)
    cv2.fillPoly(filled, [drawn], 1, shift=4)
    size = 2 * round(MARGIN) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (size, size))
    return cv2.erode(filled, disc, borderType=cv2.BORDER_REPLICATE).astype(np.float32)

"""Finds an edge that hangs inside the outline between two corners, such as a front neckline over the back's.

The edge is sought among plain hanging curves of many depths and shapes. Each is judged together with a
second line that runs beside it at one distance all along: a band is sewn on by a seam, and what shows both
lines is its free edge rather than the seam, the back's band or a print. What counts is on how much of its
length a line shows, not how boldly: each change of colour is a multiple of what is usual round about.
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

SAMPLES = 31
"""Points along a curve: closer where it hangs steeply."""

SHAPES = ((1.0, 1.0), (1.5, 1.0), (2.0, 1.0), (2.6, 1.0), (2.0, 0.75), (3.2, 0.8), (2.6, 0.6), (2.0, 0.5))
"""Powers (m, n) of the hanging curves, which fall by (1 - |x|^m)^n: a V, a parabola, an ellipse and what lies
between."""

LEANS = (-0.10, -0.05, 0.0, 0.05, 0.10)
"""How far the lowest point may lie from half-way, shares of the width."""

USUAL_LEAN = 0.08
"""Spread of where the lowest point lies, as a share of the width."""

SLIDE = 0.08
"""How far beside a corner the edge may end, as a share of the width: a band is folded over there, and hides
it."""

STEP = 0.008
"""Least step between depths, as a share of the garment's height."""

MOST_DEPTHS = 60
"""Most depths that are tried: corners that lie far apart make a longer step, not more work."""

OFFSET = 0.004
"""Step between lines beside a curve, as a share of the garment's height; the best of three neighbours counts,
since no neckline is a curve of the family."""

BAND = (4, 15)
"""Least and greatest width of a band, in such steps: 11 to 42 mm on a garment of 700 mm."""

BAND_WEIGHT = 0.6
"""What the band's seam tells, against the edge itself: it may be of the cloth's own colour, or not there."""

QUIET = 1.0
"""What the quiet of a band tells, against its seam: a band is plain, where cloth has stripes or a print."""

PRIOR_WEIGHT = 0.3
"""What the usual depth and lean tell: points along a line err together, so that a line of them tells little
more than a few."""

TELLING = (0.5, 6.0)
"""Least and greatest multiple of the usual change of colour that counts at one point."""

AROUND = 0.06
"""How far round about the usual change is taken, as a share of the garment's height."""

FAINTEST = 0.05
"""Change of colour, CIELAB units per px, that is noise in any picture."""

MARGIN = 5.0
"""Distance from the outline, px at the working size, within which its own edge shows."""

LEAST_CLEAR = 0.7
"""Least share of a curve that must run clear of the outline."""

LEAST_SEEN = 0.4
"""A line of which less than this share runs clear counts as if this much did."""

INDEPENDENT = 12.0
"""Points along a line that tell something of their own."""

SAME = 0.012
"""Farthest apart in depth, as a share of the garment's height, that curves run along one edge."""

PROMISING = 1000
"""Curves that are looked at with a band."""


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
    deepest = (dip.drop[0] + 3 * dip.drop[1]) * width
    reach = 0.5 * width + deepest + BAND[1] * OFFSET * height
    middle = (left + right) / 2
    low = np.maximum(np.floor(middle - reach).astype(int), 0)
    high = np.minimum(np.ceil(middle + reach).astype(int) + 1, rgb.shape[1::-1])
    if (high - low).min() < 3:
        return None  # corners put in place by hand lie outside the picture
    part = np.ascontiguousarray(rgb[low[1] : high[1], low[0] : high[0]])
    if scale < 1.0:
        part = cv2.resize(part, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    factor = np.array([part.shape[1], part.shape[0]]) / np.maximum(high - low, 1)
    lines = _Lines(part, _well_inside(outline, low, factor, part.shape[:2]), height * scale)

    least = max(0.25 * dip.drop[0], dip.drop[0] - 3 * dip.drop[1]) * width
    depths = np.arange(least, deepest, max(STEP * height, (deepest - least) / MOST_DEPTHS))
    hung = [
        _hanging(a, b - a, down, depths)
        for a in _slid(outline, left, width)
        for b in _slid(outline, right, width)
    ]
    curves, params = (np.concatenate(parts) for parts in zip(*hung, strict=True))
    small = (curves - low + 0.5) * factor - 0.5
    off = (params[:, 0] / width - dip.drop[0]) / dip.drop[1]
    usual = -0.5 * PRIOR_WEIGHT * (off**2 + (params[:, 1] / USUAL_LEAN) ** 2)
    shown, clear = lines.shown(small, (0, 0))
    score = np.where(clear > LEAST_CLEAR, shown[:, 0] + usual, -np.inf)
    if not np.isfinite(score).any():
        return None
    first = np.argsort(-score)[:PROMISING]
    first = first[np.isfinite(score[first])]
    seam = lines.shown(small[first], BAND)[0] - lines.busy(small[first], BAND) * QUIET
    told = score[first] + BAND_WEIGHT * seam.max(axis=1)
    pick = int(first[np.argmax(told)])
    lowest = _lowest(curves[first], down, 0.03 * params[pick, 0])
    # a flat curve's lowest point is hard to tell along it: all that lie about as low have their say
    same = np.abs((lowest - lowest[np.argmax(told)]) @ down) < SAME * height
    weight = np.exp(INDEPENDENT * (told - told.max())) * same
    x, y = weight @ lowest / weight.sum()
    return FoundDip((float(x), float(y)), curves[pick], lines.change(small[pick]))


def _lowest(curves: Array, down: Array, slack: float) -> Array:
    """Return the middle of what lies within ``slack`` of each curve's lowest point, (m, 2)."""
    depth = curves @ down
    counts = depth > depth.max(axis=1, keepdims=True) - slack
    return (curves * counts[..., None]).sum(axis=1) / counts.sum(axis=1, keepdims=True)


def _slid(outline: Array, end: Array, width: float) -> Array:
    """Return places along the outline where an edge may end, beside a corner and at it."""
    spacing = float(np.hypot(*np.diff(outline, axis=0, append=outline[:1]).T).mean())
    at = int(np.argmin(((outline - end) ** 2).sum(axis=1)))
    aside = round(SLIDE * width / spacing)
    return np.stack([outline[at - aside], end, outline[(at + aside) % len(outline)]])


def _hanging(left: Array, along: Array, down: Array, depths: Array) -> tuple[Array, Array]:
    """Return hanging curves (m, SAMPLES, 2), px, and each one's depth (px) and lean."""
    share = -np.cos((np.arange(SAMPLES) + 0.5) / SAMPLES * np.pi)
    curves: list[Array] = []
    params: list[tuple[float, float]] = []
    for lean in LEANS:
        # -1 to 0 runs from the left end to the lowest point, 0 to 1 on to the right end
        x = np.where(share < 0, (share + 1) * (0.5 + lean), (0.5 + lean) + share * (0.5 - lean))
        line = left + x[:, None] * along
        for m, n in SHAPES:
            fall = (1.0 - np.abs(share) ** m) ** n
            curves.extend(line + depth * fall[:, None] * down for depth in depths)
            params.extend((float(depth), lean) for depth in depths)
    return np.stack(curves), np.array(params)


class _Lines:
    """Tells how well lines show in a part of the photograph at the working size."""

    def __init__(self, part: cv2.typing.MatLike, inside: NDArray[np.float32], height: float) -> None:
        smooth = cv2.GaussianBlur(to_lab(part), (0, 0), 1.0)
        x, y = (cv2.Scharr(smooth, cv2.CV_32F, *way) / np.float32(32) for way in ((1, 0), (0, 1)))
        # the squared change along a unit vector n is n'Jn
        self.changes = [(a * b).sum(axis=2) for a, b in ((x, x), (x, y), (y, y))]
        size = np.log(np.sqrt(self.changes[0] + self.changes[2]) + np.float32(FAINTEST))
        spread = AROUND * height
        near = np.maximum(cv2.GaussianBlur(inside, (0, 0), spread), np.float32(1e-3))
        self.usual = np.exp(cv2.GaussianBlur(size * inside, (0, 0), spread) / near)
        self.stir = np.log(np.clip(np.exp(size) / np.maximum(self.usual, np.float32(FAINTEST)), *TELLING))
        self.inside = inside
        self.step = OFFSET * height

    def shown(self, curves: Array, beside: tuple[int, int]) -> tuple[Array, Array]:
        """Return how well lines beside each curve show, (m, lines), and the share of each curve clear.

        Args:
            curves: Curves, shape (m, n, 2), px of the part.
            beside: First and last line, in steps outward from the curve.
        """
        normal = _normals(curves)
        told: list[Array] = []
        counts: list[Array] = []
        for k in range(beside[0] - 1, beside[1] + 2):
            places = curves + k * self.step * normal
            change = self._across(places, normal) / np.maximum(_read(self.usual, places), FAINTEST)
            counts.append(_read(self.inside, places))
            told.append(np.log(np.clip(change, *TELLING)))
        lines: list[Array] = []
        for k in range(1, len(told) - 1):
            best = np.maximum.reduce(told[k - 1 : k + 2])
            seen = np.maximum(counts[k].sum(axis=1), LEAST_SEEN * curves.shape[1])
            lines.append((best * counts[k]).sum(axis=1) / seen)
        return np.stack(lines, axis=1), counts[1].mean(axis=1)

    def busy(self, curves: Array, beside: tuple[int, int]) -> Array:
        """Return how much goes on between each curve and the lines beside it, (m, lines)."""
        normal = _normals(curves)
        told: list[Array] = []
        for k in range(2, beside[1] - 1):
            places = curves + k * self.step * normal
            counts = _read(self.inside, places)
            seen = np.maximum(counts.sum(axis=1), LEAST_SEEN * curves.shape[1])
            told.append((_read(self.stir, places) * counts).sum(axis=1) / seen)
        means = np.cumsum(np.stack(told), axis=0) / np.arange(1, len(told) + 1)[:, None]
        return np.stack([means[k - 4] for k in range(beside[0], beside[1] + 1)], axis=1)

    def change(self, curve: Array) -> float:
        """Return the mean change of colour across a curve, where it runs clear of the outline."""
        across = self._across(curve[None], _normals(curve[None]))[0]
        counts = _read(self.inside, curve[None])[0]
        return float((across * counts).sum() / max(float(counts.sum()), 1.0))

    def _across(self, places: Array, normal: Array) -> Array:
        xx, xy, yy = (_read(change, places) for change in self.changes)
        x, y = normal[..., 0], normal[..., 1]
        return np.sqrt(np.maximum(xx * x * x + 2 * xy * x * y + yy * y * y, 0.0))


def _normals(curves: Array) -> Array:
    """Return unit vectors outward, that is downward, from curves that run from left to right."""
    tangent = np.gradient(curves, axis=1)
    tangent /= np.linalg.norm(tangent, axis=2, keepdims=True) + 1e-9
    return np.stack([-tangent[..., 1], tangent[..., 0]], axis=2)


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

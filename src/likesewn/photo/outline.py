"""Refines the boundary of a segmentation to a fraction of a pixel, from coarse to fine.

At each size of the picture, colours are read along the normals of the boundary, what lies a little inside
and a little outside tells garment from table there, and the closed path of least cost through these
profiles is the next boundary. At full size each point then moves to where the colour is half-way between
the two. Where a person drew a line round the garment, the path costs the more the farther it strays from that
line, and never leaves its band; where the picture tells nothing, that alone decides.

Source of the path: Amini, Weymouth, Jain, "Using dynamic programming for solving variational problems in
vision", IEEE Transactions on Pattern Analysis and Machine Intelligence 12(9), 1990.
"""

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.photo.colours import ColourTable
from likesewn.photo.hints import BAND
from likesewn.photo.segment import Segmentation, longest_boundary
from likesewn.photo.smoothing import gaussian_along, mean_along

if TYPE_CHECKING:
    from likesewn.photo.drawn_line import DrawnLine

__all__ = ["Outline", "refine_outline", "resampled", "rough_outline"]

Array = NDArray[np.float64]

FIRST_SIDE = 512
"""Longer side, px, of the first size at which the boundary is refined: twice that of the segmentation."""

REACH = 4
"""How far the boundary may move at each size, px: twice the error left by the size before."""

STRIP = 7
"""Width of the strips inside and outside that tell garment from table, px."""

WINDOW = 12
"""Points to either side whose strips are read together: colours change along a seam, noise averages out."""

OWN_WINDOW = 2
"""The same for a stripe that ends at the edge: it is hardly wider."""

LEAST_SPREAD = 3.0
"""Least spread of a strip's colours, CIELAB units: a strip without texture would trust every speck."""

MOST_TELLING = 2.0
"""Most that one sample may tell for or against garment (natural logarithm), so that a stripe is not
decisive."""

NEVER = 1e3
"""Cost of a place that is out of the question, beyond that of any path."""
MOST_OVERALL = 4.0
"""The same for what a colour tells over the whole photograph."""

BESIDE = 0.5
"""Weight of what lies beside a place of the edge against that: a window along the edge of a checked cloth
holds both its colours, and takes the one that is like the garment for garment."""

ALONG = 0.5
"""Spread over which colours are averaged along the edge for it, points at ``FIRST_SIDE``: it was learnt from
a small picture, in which noise is averaged out."""

RIVAL_SIDE = 1024.0
"""Longer side, px, at which other edges beside the edge are looked for."""

RIVAL_REACH = 20
"""How far from the edge they are looked for, px: two or three centimetres."""

RIVAL_NEAR = 2
"""How far from the edge is still the edge itself, px."""

TRUST = 1.2
"""How far a strip's mean colour is trusted: what it tells (natural logarithm) is multiplied by this."""

MOST_POINTS = 6000
"""Most points of a boundary: a point each two or three pixels of a 12-megapixel photograph."""


@dataclass(frozen=True, slots=True)
class Outline:
    """The garment's edge in a photograph.

    Attributes:
        px: Closed polygon, shape (n, 2), px, pixel centres at whole numbers, the first point not repeated;
            it runs so that the garment lies on the right hand as seen in the picture.
        sigma_px: Standard uncertainty of each point across the edge, shape (n,), px.
        step: Colour step across the edge at each point, CIELAB units, shape (n,).
    """

    px: Array
    sigma_px: Array
    step: Array


def resampled(polygon: Array, count: int) -> Array:
    """Return ``count`` points evenly spaced along a closed polygon of shape (n, 2), starting at its first."""
    closed = np.concatenate([polygon, polygon[:1]])
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.linspace(0.0, along[-1], count, endpoint=False)
    return np.stack([np.interp(at, along, closed[:, axis]) for axis in (0, 1)], axis=1)


def _clockwise(polygon: Array) -> Array:
    """Return the polygon so that its inside lies on the right hand in the picture (y down)."""
    x, y = polygon.T
    area = float((x * np.roll(y, -1) - np.roll(x, -1) * y).sum())
    return polygon if area > 0 else polygon[::-1].copy()


def rough_outline(found: Segmentation) -> Array:
    """Return the boundary of a segmentation in pixels of the photograph, shape (n, 2), rounded a little."""
    mask = cv2.copyMakeBorder(found.mask.astype(np.float32), 1, 1, 1, 1, cv2.BORDER_CONSTANT)
    big = cv2.resize(mask, None, fx=4, fy=4, interpolation=cv2.INTER_CUBIC)
    rounded = cv2.GaussianBlur(big, (0, 0), 3.0)
    shape = (rounded if rounded.max() > 0.5 else big) > 0.5  # rounding takes away what is a pixel wide
    boundary = (longest_boundary(shape) - 1.5) / 4 - 1  # pixel centres of the enlarged, padded mask
    return _clockwise((boundary + 0.5) / found.scale - 0.5)


def refine_outline(
    rgb: NDArray[np.uint8], rough: Array, colours: ColourTable, drawn: "DrawnLine | None" = None
) -> Outline:
    """Return the outline refined to a fraction of a pixel.

    Args:
        rgb: The photograph, shape (h, w, 3), 8 bits.
        rough: A boundary within some ``REACH`` pixels at a longer side of ``FIRST_SIDE``, shape (n, 2), px.
        colours: What colours tell for the table.
        drawn: The line that a person drew round the garment, or None.
    """
    full = max(rgb.shape[:2])
    polygon = _clockwise(rough)
    side = float(FIRST_SIDE)
    while side < 0.75 * full:
        scale = side / full
        small = cv2.resize(rgb, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
        fx, fy = small.shape[1] / rgb.shape[1], small.shape[0] / rgb.shape[0]
        factor = np.array([fx, fy])
        line = drawn.scaled(factor) if drawn else None
        moved = _moved(small, (polygon + 0.5) * factor - 0.5, colours, line)
        polygon = (moved + 0.5) / factor - 0.5
        side *= 2.0
    if full <= 1.5 * FIRST_SIDE:  # the only size: a second look closes what the first left open
        polygon = _moved(rgb, polygon, colours, drawn)
    outline = _half_way(rgb, _moved(rgb, polygon, colours, drawn))
    if drawn:
        outline = replace(outline, px=drawn.held(outline.px))
    return replace(outline, sigma_px=np.hypot(outline.sigma_px, _rivals(rgb, outline.px, colours)))


def _rivals(rgb: NDArray[Any], px: Array, colours: ColourTable) -> Array:
    """Return how far off the edge may be for another edge that runs beside it, one sigma, px, shape (n,).

    Between the edge and the other one lies a strip that would change sides. How much its colour speaks for
    the side that it was given does not grow with the strip's width: if one place of a surface has a colour
    that misleads, so has the next. The odds are e to that, and the fainter the other edge the smaller.

    Args:
        rgb: The photograph.
        px: The outline, shape (n, 2), px.
        colours: What colours tell for the table.
    """
    scale = min(1.0, RIVAL_SIDE / max(rgb.shape[:2]))
    small = cv2.resize(rgb, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA) if scale < 1.0 else rgb
    points = resampled((px + 0.5) * scale - 0.5, min(len(px), int(MOST_POINTS * scale) + 24))
    profiles = _profiles(small, points, RIVAL_REACH + 1)
    colour = gaussian_along(profiles.colour, 2.0 * ALONG)
    slope = np.linalg.norm(colour[:, 2:] - colour[:, :-2], axis=2)  # at -RIVAL_REACH to RIVAL_REACH
    telling = colours.telling(colour)[:, 1:-1]
    middle = RIVAL_REACH
    own = slope[:, middle - 1 : middle + 2].max(axis=1, keepdims=True)
    strength = np.clip(slope / np.maximum(own, LEAST_SPREAD), 0.0, 1.0) ** 2
    # where cloth and table share a colour an edge may run unseen
    strength = np.maximum(strength, np.exp(-np.abs(telling)))
    far = np.zeros(len(points))
    away = np.arange(1, RIVAL_REACH + 1)
    inside = _inside(profiles, points)[:, 1:-1]
    for sign in (-1, 1):
        # outside, colours should tell for the table; inside, for the garment
        strip = sign * telling[:, middle + sign :: sign]
        mean = np.cumsum(strip, axis=1) / away
        odds = strength[:, middle + sign :: sign] * np.exp(-TRUST * mean)
        share = odds / (1.0 + odds)
        share[:, :RIVAL_NEAR] = 0.0
        # across a gap or a thin part the profile comes to the other side: what lies there is no strip of this
        along = inside[:, middle + sign :: sign]
        share[np.logical_or.accumulate(along if sign > 0 else ~along, axis=1)] = 0.0
        far = np.maximum(far, (np.sqrt(share) * away).max(axis=1))
    at = np.linspace(0.0, len(points), len(px), endpoint=False)
    return np.interp(at, np.arange(len(points) + 1), np.append(far, far[0])) / scale


@dataclass(frozen=True, slots=True)
class _Profiles:
    """Colours along the normals: ``colour`` (n, 2 m + 1, 3) at offsets -m to m px, outside being positive."""

    points: Array
    normal: Array
    colour: Array

    @property
    def half(self) -> int:
        return self.colour.shape[1] // 2


def _profiles(rgb: NDArray[Any], points: Array, half: int, step: float = 1.0) -> _Profiles:
    # a normal over some points: one pixel's stair says nothing of the edge's direction
    tangent = gaussian_along(np.roll(points, -1, axis=0) - np.roll(points, 1, axis=0), 2.0)
    tangent /= np.hypot(*tangent.T)[:, None] + 1e-12
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], axis=1)  # the inside lies on the right hand
    at = points[:, None] + step * np.arange(-half, half + 1)[:, None] * normal[:, None]
    low = np.maximum(np.floor(at.reshape(-1, 2).min(axis=0)).astype(int) - 2, 0)
    high = np.ceil(at.reshape(-1, 2).max(axis=0)).astype(int) + 3
    part = np.ascontiguousarray(rgb[low[1] : high[1], low[0] : high[0]])
    x, y = (at[..., axis].astype(np.float32) - np.float32(low[axis]) for axis in (0, 1))
    read = cv2.remap(part, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    lab = cv2.cvtColor(read.astype(np.float32) / np.float32(255), cv2.COLOR_RGB2LAB)
    return _Profiles(points, normal, lab.astype(np.float64))


def _strips(
    profiles: _Profiles, reach: int, window: int = WINDOW
) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Return mean (n, 3) and spread (n, 3) of the colours inside and outside, each over a window."""
    middle = profiles.half
    inside = profiles.colour[:, : middle - reach]
    outside = profiles.colour[:, middle + reach + 1 :]
    found: list[tuple[Array, Array]] = []
    for strip in (inside, outside):
        size = min(2 * window + 1, len(strip))
        mean = mean_along(strip.mean(axis=1), size)
        square = mean_along((strip**2).mean(axis=1), size)
        found.append((mean, np.sqrt(np.maximum(square - mean**2, 0.0) + LEAST_SPREAD**2)))
    return found[0], found[1]


def _likely(near: Array, strips: tuple[tuple[Array, Array], tuple[Array, Array]]) -> tuple[Array, Array]:
    """Return how likely each colour (n, m, 3) is inside and outside, as logarithms of densities, (n, m)."""
    inside, outside = (
        -(0.5 * ((near - mean[:, None]) / spread[:, None]) ** 2 + np.log(spread)[:, None]).sum(axis=2)
        for mean, spread in strips
    )
    return inside, outside


def _moved(
    rgb: NDArray[Any], polygon: Array, colours: ColourTable, drawn: "DrawnLine | None" = None
) -> Array:
    """Return the boundary moved to the best closed path within ``REACH``."""
    length = float(np.hypot(*np.diff(polygon, axis=0, append=polygon[:1]).T).sum())
    points = resampled(polygon, int(np.clip(length / 1.5, 24, MOST_POINTS)))
    profiles = _profiles(rgb, points, REACH + STRIP)
    near = profiles.colour[:, STRIP : STRIP + 2 * REACH + 1]
    # a stripe that ends at the edge is garment of another colour than its neighbours along the edge
    wide, own = (_likely(near, _strips(profiles, REACH, window)) for window in (WINDOW, OWN_WINDOW))
    inside, outside = (np.logaddexp(w, o) for w, o in zip(wide, own, strict=True))
    # what looks like the table elsewhere is table, whatever lies beside it here
    along = ALONG * max(rgb.shape[:2]) / FIRST_SIDE
    overall = colours.telling(gaussian_along(near, along))
    beside = np.clip(inside - outside, -MOST_TELLING, MOST_TELLING)
    telling = BESIDE * beside - np.clip(overall, -MOST_OVERALL, MOST_OVERALL)
    telling = np.clip(telling, -MOST_TELLING, MOST_TELLING)
    # a boundary at offset k has the samples below it inside and those above it outside, its own counting half
    inner = np.cumsum(telling, axis=1) - 0.5 * telling
    cost = telling.sum(axis=1, keepdims=True) - 2.0 * inner
    slope = np.linalg.norm(
        np.gradient(gaussian_along(profiles.colour, 1.0, axis=1, ends="reflect"), axis=1), axis=2
    )
    slope = slope[:, STRIP : STRIP + 2 * REACH + 1]
    cost = cost - 3.0 * slope / (slope.max(axis=1, keepdims=True) + 2.0)
    # across a narrow gap or a thin part the strips show the other side, and tell nothing: stay near
    alone = _alone(profiles, polygon)
    near_middle = np.abs(np.arange(-REACH, REACH + 1)) > 1
    cost = np.where(alone[:, None], cost, np.where(near_middle, 50.0, 0.0))
    if drawn is not None:
        cost = cost + _strayed(profiles, drawn)
    offset = _closed_path(cost) - REACH
    return points + offset[:, None] * profiles.normal


def _strayed(profiles: _Profiles, drawn: "DrawnLine") -> Array:
    """Return what it costs to stray from a drawn line at offsets -REACH to REACH, shape (n, 2 REACH + 1).

    That is the logarithm of how much rarer so large an error of the hand is than none.
    """
    at = profiles.points[:, None] + np.arange(-REACH, REACH + 1)[:, None] * profiles.normal[:, None]
    depth = drawn.depth(at.reshape(-1, 2)).reshape(at.shape[:2])
    return np.where(np.abs(depth) > BAND, NEVER * np.abs(depth), 0.5 * depth**2)


def _alone(profiles: _Profiles, polygon: Array) -> NDArray[np.bool_]:
    """Return which profiles cross the boundary only once, from inside to outside."""
    half = profiles.half
    inside = _inside(profiles, polygon)
    crosses = inside[:, half + 2 :].any(axis=1)
    return np.asarray(inside[:, : half - 1].all(axis=1) & ~crosses, dtype=np.bool_)


def _inside(profiles: _Profiles, polygon: Array) -> NDArray[np.bool_]:
    """Return which samples of the profiles lie inside the boundary, shape (n, 2 m + 1)."""
    half = profiles.half
    at = profiles.points[:, None] + np.arange(-half, half + 1)[:, None] * profiles.normal[:, None]
    low = np.floor(polygon.min(axis=0)).astype(int) - half - 4
    size = np.ceil(polygon.max(axis=0)).astype(int) + half + 4 - low
    filled = np.zeros((size[1], size[0]), np.uint8)
    drawn = np.round((polygon - low) * 16).astype(np.int32).reshape(-1, 1, 2)
    cv2.fillPoly(filled, [drawn], 1, shift=4)
    x, y = np.clip(np.round(at - low).astype(np.int64), 0, size - 1).transpose(2, 0, 1)
    return filled[y, x] > 0


def _closed_path(cost: Array) -> Array:
    """Return the column for each row on the closed path of least cost in steps of at most one."""
    n, m = cost.shape
    start = int(np.argmin(cost.min(axis=1) - np.partition(cost, 1, axis=1)[:, 1]))
    turned = np.roll(cost, -start, axis=0)  # begin where the path is surest, so that closing it costs little
    total = turned[0].copy()
    fixed = int(np.argmin(total))
    total[np.arange(m) != fixed] = np.inf
    back = np.zeros((n, m), np.int8)
    bend = 0.6  # the price of a step aside, in units of what one sample may tell
    padded = np.full(m + 2, np.inf)
    for i in range(1, n):
        padded[1:-1] = total
        options = np.stack([padded[:-2] + bend, padded[1:-1], padded[2:] + bend])
        pick = np.argmin(options, axis=0)
        back[i] = pick - 1
        total = options[pick, np.arange(m)] + turned[i]
    close = total + np.where(np.abs(np.arange(m) - fixed) <= 1, 0.0, 1e6)
    path = np.zeros(n, np.int64)
    path[-1] = int(np.argmin(close))
    for i in range(n - 1, 0, -1):
        path[i - 1] = path[i] + back[i, path[i]]
    return np.roll(path, start).astype(np.float64)


def _half_way(rgb: NDArray[np.uint8], boundary: Array) -> Outline:
    """Return the boundary with each point where the colour is half-way from inside to outside."""
    smooth = gaussian_along(boundary, 1.0)
    points = resampled(smooth, len(boundary))
    reach = 3
    profiles = _profiles(rgb, points, reach + STRIP)
    (m_in, s_in), (m_out, s_out) = _strips(profiles, reach)
    toward = m_out - m_in
    step = np.linalg.norm(toward, axis=1)
    share = ((profiles.colour - m_in[:, None]) * toward[:, None]).sum(axis=2) / np.maximum(step, 1.0)[
        :, None
    ] ** 2
    middle = profiles.half
    near = share[:, middle - reach : middle + reach + 1]
    offset, slope = _crossing(near, reach)
    alone = _alone(profiles, points)
    offset = np.where(alone, np.clip(offset, -reach, reach), 0.0)
    # an edge is smooth where cloth is: what jumps against its neighbours is a speck or a stripe
    steady = _median_along(offset, 9)
    offset = np.where(np.abs(offset - steady) > 1.0, steady, offset)
    offset = gaussian_along(offset, 1.0)
    noise = np.sqrt((s_in**2 + s_out**2).mean(axis=1) / 2) / np.maximum(step, 1.0)
    sigma = np.clip(noise / np.maximum(slope, 0.05) / np.sqrt(6.0), 0.1, 2.0 * reach)
    # in a narrow gap the colours beyond the edge are those of the other side, and tell nothing
    sigma = np.where(alone, sigma, reach)
    moved = points + offset[:, None] * profiles.normal
    return Outline(moved, sigma, step)


def _crossing(share: Array, reach: int) -> tuple[Array, Array]:
    """Return where each profile (0 inside, 1 outside) passes one half, and its slope there."""
    low, high = share[:, :-1] - 0.5, share[:, 1:] - 0.5
    rises = (low <= 0) & (high > 0)
    at = np.arange(share.shape[1] - 1) + np.where(rises, -low / np.where(rises, high - low, 1.0), 0.0) - reach
    far = np.where(rises, np.abs(at), np.inf)
    pick = np.argmin(far, axis=1)
    rows = np.arange(len(share))
    found = np.isfinite(far[rows, pick])
    return np.where(found, at[rows, pick], 0.0), np.where(found, (high - low)[rows, pick], 0.0)


def _median_along(values: Array, size: int) -> Array:
    around = np.stack([np.roll(values, k) for k in range(-(size // 2), size // 2 + 1)])
    return np.median(around, axis=0)

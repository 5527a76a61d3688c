"""Things of known size in place of reference sheets: paper, a card, a mat, one measure of the garment.

Each gives the same ``Plane`` as the sheets do, with the wider uncertainty that it deserves. Where a thing has
straight edges, points picked at its corners only say where to look: the edges are fitted, so that a card's
round corners do no harm. What a thing cannot tell, the lens and the tilt, keeps what is believed of it.
"""

from dataclasses import dataclass, replace

import cv2
import numpy as np
from numpy.typing import ArrayLike, NDArray

from likesewn.errors import InputError, Problem
from likesewn.garment import Finding, Weight
from likesewn.photo.adjust import Priors
from likesewn.photo.camera import Floats
from likesewn.photo.plane import FoundSheet, Plane
from likesewn.photo.reading import Picture
from likesewn.photo.rectify import believed_camera, focal_sigma
from likesewn.photo.solve import Reference, Solved, solve
from likesewn.units import PAPER

__all__ = ["CARD_MM", "Known", "known_card", "known_length", "known_paper", "known_points", "rectify_known"]

CARD_MM = (85.60, 53.98)
"""ISO/IEC 7810, format ID-1: bank, travel and identity cards."""

CARD_SIGMA = 0.0008
"""ISO/IEC 7810 lets a new card be 0.12 mm longer or shorter (from memory): as a share, 1.96 sigma."""

PAPER_SIGMA = 0.003
"""ISO 216 lets sides of 150 to 600 mm be 2 mm longer or shorter (from memory); paper in use is cut better."""

PICKED_PX = 1.5
"""One sigma of a point picked by hand, for a picture of 4000 pixels; it grows with the picture."""

FITTED_PX = 0.2
"""One sigma of a corner where two fitted edges meet: paper's thickness and shadow leave more than noise."""

_PICK_REACH_PX, _FIT_REACH_PX = 16.0, 4.0
"""How far from a picked, and from a fitted, corner's line an edge is sought."""

LEVEL_SIGMA = 0.09
"""A phone held level by eye over a table: about 5 degrees about either axis."""

_HELD_SIGMA = 0.25
"""Where the thing itself tells the tilt: hardly more than that the camera looks down."""


@dataclass(frozen=True, eq=False, slots=True)
class Known:
    """Something of known size in a photograph.

    Attributes:
        name: What it is, in words.
        px: (n,2) points of it in the photograph.
        mm: (n,2) the same in its own frame; for four corners of a thing, either way round.
        size_sigma: One-sigma uncertainty of its size, as a share.
        height_mm: How far above the table it lies.
        edges: Whether the points are the corners of a thing with straight edges, in order round it.
    """

    name: str
    px: Floats
    mm: Floats
    size_sigma: float
    height_mm: float = 0.0
    edges: bool = False


def known_paper(corners_px: ArrayLike, name: str = "a4") -> Known:
    """Return a blank sheet of paper whose four corners were picked, in any order.

    Raises:
        InputError: The paper is not known, or these are not four corners.
    """
    size = PAPER.get(name.strip().lower())
    if size is None:
        raise InputError(Problem("this paper is not known", found=name[:40], allowed=", ".join(PAPER)))
    return _four(f"{name} paper", corners_px, (size.width_mm, size.height_mm), PAPER_SIGMA)


def known_card(corners_px: ArrayLike) -> Known:
    """Return a bank card (ISO/IEC 7810 ID-1) whose four corners were picked, in any order.

    Raises:
        InputError: These are not four corners.
    """
    return _four("card", corners_px, CARD_MM, CARD_SIGMA)


def known_points(px: ArrayLike, mm: ArrayLike, *, size_sigma: float = 0.001) -> Known:
    """Return points of a grid mat or a ruler that lies on the table.

    Args:
        px: (n,2) where they appear, n at least 2.
        mm: (n,2) where they are on the mat, x to the right and y downward as one looks at it.
        size_sigma: One-sigma uncertainty of the mat's own print, as a share.

    Raises:
        InputError: There are fewer than two, or the two lists differ in length, or all are one point.
    """
    seen, true = _points(px), _points(mm)
    if len(seen) != len(true) or len(seen) < 2 or float(np.ptp(true, axis=0).max()) <= 0.0:
        raise InputError(
            Problem(
                "these points give no size",
                found=f"{len(seen)} in the photograph, {len(true)} in mm",
                allowed="two or more different points, each with its place in mm",
            )
        )
    return Known("picked points", seen, true, size_sigma)


def known_length(
    px: ArrayLike, mm: float, sigma_mm: float, *, name: str = "known length", height_mm: float = 0.0
) -> Known:
    """Return a distance between two points, such as a tape measure of the garment itself.

    Args:
        px: (2,2) its ends in the photograph.
        mm: How long it is, mm.
        sigma_mm: One sigma of that, mm.
        name: What it is, in words.
        height_mm: How far above the table it lies, such as the cloth's thickness.

    Raises:
        InputError: The ends are one point, or the length is not above 0.
    """
    ends = _points(px)
    if len(ends) != 2 or not mm > 0.0 or float(np.linalg.norm(ends[1] - ends[0])) < 10.0:
        raise InputError(
            Problem(
                "this gives no size",
                found=f"{name}, {mm:g} mm",
                allowed="a length above 0 between two points that are at least 10 pixels apart",
            )
        )
    return Known(name, ends, np.array([(0.0, 0.0), (mm, 0.0)]), sigma_mm / mm, height_mm)


def _points(values: ArrayLike) -> Floats:
    try:
        points = np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError):
        points = np.full((1, 1), np.nan)
    if points.ndim != 2 or points.shape[1] != 2 or not np.all(np.isfinite(points)):
        raise InputError(Problem("these are not points", found=str(values)[:60], allowed="pairs of x and y"))
    return points


def _four(name: str, corners_px: ArrayLike, size: tuple[float, float], sigma: float) -> Known:
    corners = _points(corners_px)
    hull = cv2.convexHull(corners.astype(np.float32)).reshape(-1, 2) if len(corners) == 4 else corners
    if len(hull) != 4 or cv2.contourArea(hull.astype(np.float32)) < 400.0:
        raise InputError(
            Problem(
                f"these are not the four corners of the {name}",
                found=f"{len(corners)} points, {len(hull)} of them corners",
                allowed="four different points, one near each corner",
            )
        )
    ring = np.asarray(hull, dtype=np.float64)
    x, y = ring[:, 0], ring[:, 1]
    if np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)) < 0.0:
        ring = ring[::-1].copy()
    wide, high = size
    return Known(
        name, ring, np.array([(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)]), sigma, edges=True
    )


def rectify_known(picture: Picture, known: Known) -> Plane:
    """Return the plane that a thing of known size gives, with a finding that says how sure it is.

    Args:
        picture: The photograph.
        known: The thing in it.

    Raises:
        InputError: Its points lie outside the photograph.
    """
    height, width = picture.rgb.shape[:2]
    if np.any(known.px < -0.5) or np.any(known.px > (width - 0.5, height - 0.5)):
        raise InputError(
            Problem(
                f"the points of the {known.name} are not all in the photograph",
                found=", ".join(f"({x:.0f}, {y:.0f})" for x, y in known.px),
                file=picture.name,
                allowed=f"x from 0 to {width - 1}, y from 0 to {height - 1}",
            )
        )
    px, noise = known.px, PICKED_PX * max(1.0, max(width, height) / 4000.0)
    if known.edges:
        grey = picture.grey()
        fitted = _edges(grey, known.px, _PICK_REACH_PX * noise / PICKED_PX)
        if fitted is not None:
            # once more, nearer, now that it is known where the edges are
            fitted = _edges(grey, fitted, _FIT_REACH_PX)
        if fitted is not None:
            px, noise = fitted, FITTED_PX
    spread = np.linalg.svd(known.mm - known.mm.mean(axis=0), compute_uv=False)
    flat = len(px) >= 4 and float(spread[-1]) > 0.02 * float(spread[0])
    priors = Priors(
        focal_sigma([picture]),
        scale_common=max(known.size_sigma, 1e-5),
        tilt=_HELD_SIGMA if flat else LEVEL_SIGMA,
    )
    # four corners do not say which side is the long one: the right answer fits better
    options = [px, np.roll(px, 1, axis=0)] if known.edges else [px]
    solved = [_solved(picture, known, option, noise, priors) for option in options]
    best = min(range(len(options)), key=lambda i: solved[i].cost)
    plane = solved[best].planes[0]
    rim = plane.to_plane(known.px) if known.edges else np.zeros((0, 2))
    found = FoundSheet(
        0,
        known.px if known.edges else np.zeros((0, 2)),
        rim,
        len(px),
        len(px),
        float(np.sqrt(np.mean(np.sum(solved[best].residuals[0] ** 2, axis=1)))),
    )
    return replace(plane, sheets=(found,), findings=(_how_sure(plane, known, picture.name),))


def _solved(picture: Picture, known: Known, px: Floats, noise: float, priors: Priors) -> Solved:
    reference = Reference("known", 0, known.mm, px, noise, printed=True, height_mm=known.height_mm)
    return solve([believed_camera(picture)], [reference], priors, focal_noted=True)


def _how_sure(plane: Plane, known: Known, name: str) -> Finding:
    worst = 1.96 * float(plane.sigma(plane.base).max())
    return Finding(
        "no-sheet-but-known",
        Weight.LOOK,
        name,
        f"The scale comes from the {known.name} alone: at the worst place it leaves ± {worst:.1f} mm.",
        worst,
        None,
        "mm",
        "Printed reference sheets on opposite sides are many times surer (`likesewn sheet`).",
    )


def _edges(grey: NDArray[np.uint8], corners: Floats, reach: float) -> Floats | None:
    """Return where the fitted edges of a four-sided thing meet, or None where an edge cannot be seen."""
    lines: list[tuple[Floats, Floats]] = []
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        line = _edge(grey, start, end, reach)
        if line is None:
            return None
        lines.append(line)
    met: list[Floats] = []
    for (a, u), (b, v) in zip([lines[-1], *lines[:-1]], lines, strict=True):
        across = u[0] * v[1] - u[1] * v[0]
        if abs(across) < 0.1:
            return None
        gap = b - a
        met.append(a + u * (gap[0] * v[1] - gap[1] * v[0]) / across)
    out = np.stack(met)
    return out if float(np.linalg.norm(out - corners, axis=1).max()) < 2.0 * reach else None


def _edge(grey: NDArray[np.uint8], start: Floats, end: Floats, reach: float) -> tuple[Floats, Floats] | None:
    """Return a point and the direction of the straight edge near the line from ``start`` to ``end``.

    The strongest step across the line is found at many places, the ends left out since corners may be round,
    and a line is laid through them that ignores stray ones.
    """
    length = float(np.linalg.norm(end - start))
    way = (end - start) / length
    normal = np.array([-way[1], way[0]])
    along = np.linspace(0.12, 0.88, int(np.clip(length / 2.0, 20, 400)))
    across = np.arange(-reach, reach + 0.25, 0.5)
    at = start + along[:, None, None] * (end - start) + across[None, :, None] * normal
    levels = cv2.remap(
        cv2.GaussianBlur(grey, (0, 0), 1.2),
        at[:, :, 0].astype(np.float32),
        at[:, :, 1].astype(np.float32),
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    ).astype(np.float64)
    slope = np.gradient(levels, axis=1)
    total = slope.sum(axis=0)  # a true edge steps the same way all along
    sign = 1.0 if abs(total.max()) >= abs(total.min()) else -1.0
    slope *= sign
    peak = np.clip(np.argmax(slope, axis=1), 1, len(across) - 2)
    rows = np.arange(len(peak))
    before, here, after = slope[rows, peak - 1], slope[rows, peak], slope[rows, peak + 1]
    bend = before - 2.0 * here + after
    offset = np.where(bend < 0.0, 0.5 * (before - after) / np.where(bend < 0.0, bend, -1.0), 0.0)
    place = across[peak] + 0.5 * np.clip(offset, -1.0, 1.0)
    points = start + along[:, None] * (end - start) + place[:, None] * normal
    points = points[here > 2.0]
    if len(points) < 0.5 * len(along):
        return None
    vx, vy, x, y = np.ravel(cv2.fitLine(points.astype(np.float32), cv2.DIST_HUBER, 0, 0.01, 0.01))
    direction = np.array([float(vx), float(vy)])
    off = np.abs((points - (float(x), float(y))) @ np.array([-direction[1], direction[0]]))
    if float(np.median(off)) > 2.0:
        return None
    good = points[off < max(3.0 * float(np.median(off)), 0.5)]
    middle = good.mean(axis=0)
    direction = np.linalg.svd(good - middle, full_matrices=False)[2][0]
    return middle, direction

"""Finding reference sheets in a photograph, and their inner corners to a fraction of a pixel.

Coded squares say which sheet lies where. They are sought in a picture of at most ``SEARCH_SIDE`` pixels a
side; the corners of the chequer, which blur does not shift as it does a black square's, are then found in the
full picture (W. Förstner and E. Gülch, "A fast operator for detection and precise location of distinct
points, corners and centres of circular features", ISPRS Intercommission Workshop, 1987; the iteration is
OpenCV's ``cornerSubPix``).
"""

from collections import defaultdict
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.photo.camera import Floats
from likesewn.photo.sheet import SQUARE_MM, Sheet, coded_squares, sheet, sheet_of_code

__all__ = ["SeenSheet", "find_sheets"]

SEARCH_SIDE = 4200
"""Coded squares 20 pixels wide are read with ease; a larger picture costs time and finds no more."""

LEAST_CODES = 3
"""Two stray squares may agree by chance on a place for a sheet; three do not."""

_WINDOWS = ((13, 13, 4), (7, 27, 20))
"""Smallest, largest and step of the threshold's window, pixels: one suits most pictures, two more the rest."""

_AGREE_PX = 4.0
"""How far a coded square may lie from its sheet's plane: a wide lens bends a sheet by two or three pixels."""


@dataclass(frozen=True, eq=False, slots=True)
class SeenSheet:
    """A reference sheet as it appears.

    Attributes:
        number: As printed on it.
        px: (n,2) its inner corners that were found, pixels.
        mm: (n,2) the same in the sheet's frame.
        corners_in_all: How many it has.
        to_px: (3,3) homography from the sheet's frame to pixels, rough to a few pixels.
        contrast: Light less dark on it, grey levels.
        white: The brightest of its light squares, grey level.
        blur_px: One-sigma width of its edges, pixels.
    """

    number: int
    px: Floats
    mm: Floats
    corners_in_all: int
    to_px: Floats
    contrast: float
    white: float
    blur_px: float


def find_sheets(grey: NDArray[np.uint8]) -> tuple[SeenSheet, ...]:
    """Return the reference sheets in a picture, by number; one that lies there twice is there twice.

    Args:
        grey: (h,w) grey levels.
    """
    shrink = max(1.0, max(grey.shape) / SEARCH_SIDE)
    small = (
        grey
        if shrink == 1.0
        else cv2.resize(grey, None, fx=1.0 / shrink, fy=1.0 / shrink, interpolation=cv2.INTER_AREA)
    )
    codes: dict[int, list[Floats]] = defaultdict(list)
    for window in _WINDOWS:
        for code, box in _coded(small, window):
            full = (box + 0.5) * shrink - 0.5
            if all(np.abs(full - other).max() > _AGREE_PX * shrink for other in codes[code]):
                codes[code].append(full)
        if _complete(codes):
            break
    found: list[SeenSheet] = []
    for number in sorted({sheet_of_code(code) for code in codes} - {0}):
        design = sheet(number)
        seen = [(place, box) for place, code in enumerate(design.codes) for box in codes.get(code, ())]
        while len({place for place, _ in seen}) >= LEAST_CODES:
            to_px, inside = _place(design, seen)
            if to_px is None or len({seen[i][0] for i in inside}) < LEAST_CODES:
                break
            refined = _refined(grey, design, to_px, {seen[i][0] for i in inside})
            if refined is not None:
                found.append(refined)
            taken = set(inside)
            seen = [entry for i, entry in enumerate(seen) if i not in taken]
    return tuple(found)


def _coded(grey: NDArray[np.uint8], window: tuple[int, int, int]) -> list[tuple[int, Floats]]:
    """Return coded squares as (number, corners (4,2))."""
    how = cv2.aruco.DetectorParameters()
    how.adaptiveThreshWinSizeMin, how.adaptiveThreshWinSizeMax, how.adaptiveThreshWinSizeStep = window
    # the defaults drop squares smaller than 3 % of the picture without a word
    how.minMarkerPerimeterRate = 0.008
    how.perspectiveRemovePixelPerCell = 8
    how.perspectiveRemoveIgnoredMarginPerCell = 0.3
    boxes, numbers, _ = cv2.aruco.ArucoDetector(coded_squares(), how).detectMarkers(grey)
    if numbers is None:
        return []
    return [
        (int(number), np.asarray(box, dtype=np.float64).reshape(4, 2))
        for number, box in zip(np.ravel(numbers), boxes, strict=True)
    ]


def _complete(codes: dict[int, list[Floats]]) -> bool:
    """Whether each sheet begun has nearly all of its coded squares."""
    seen: dict[int, int] = defaultdict(int)
    for code in codes:
        seen[sheet_of_code(code)] += 1
    seen.pop(0, None)
    return bool(seen) and all(count >= 0.9 * len(sheet(n).codes) for n, count in seen.items())


def _place(design: Sheet, seen: list[tuple[int, Floats]]) -> tuple[Floats | None, list[int]]:
    """Return the homography that most coded squares agree on, and which of ``seen`` do."""
    mm = np.concatenate([design.code_corners[place] for place, _ in seen])
    px = np.concatenate([box for _, box in seen])
    cv2.setRNGSeed(1)
    to_px, _ = cv2.findHomography(mm, px, cv2.RANSAC, _AGREE_PX, maxIters=2000, confidence=0.9999)
    if to_px is None:
        return None, []
    off = np.linalg.norm(_mapped(to_px, mm) - px, axis=1).reshape(-1, 4).max(axis=1)
    inside = [int(i) for i in np.flatnonzero(off < 1.5 * _AGREE_PX)]
    return np.asarray(to_px, dtype=np.float64), inside


def _mapped(homography: Floats, points: Floats) -> Floats:
    ahead = points @ homography[:, :2].T + homography[:, 2]
    return ahead[:, :2] / ahead[:, 2:]


def _refined(grey: NDArray[np.uint8], design: Sheet, to_px: Floats, codes: set[int]) -> SeenSheet | None:
    """Return the sheet with those corners that have a coded square beside them, found exactly."""
    near = np.array([bool(codes & set(pair)) for pair in design.neighbours])
    guess = _mapped(to_px, design.corners)
    squares = np.linalg.norm(np.diff(guess.reshape(-1, 5, 2), axis=1), axis=2)
    side = float(np.median(squares))
    # the window must not reach the coded square, an eighth of a square away
    reach = int(np.clip(round(0.11 * side), 2, 14))
    height, width = grey.shape
    room = reach + 3
    near &= np.all((guess > room) & (guess < (width - 1 - room, height - 1 - room)), axis=1)
    if np.count_nonzero(near) < 4:
        return None
    start = guess[near].astype(np.float32).reshape(-1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-4)
    exact = np.asarray(
        cv2.cornerSubPix(grey, start.copy(), (reach, reach), (-1, -1), stop), dtype=np.float64
    ).reshape(-1, 2)
    kept = np.linalg.norm(exact - guess[near], axis=1) < reach + 1.0
    if np.count_nonzero(kept) < 4:
        return None
    dark, light, blur = _look(grey, design, to_px, side)
    return SeenSheet(
        design.number,
        exact[kept],
        design.corners[near][kept],
        len(design.corners),
        to_px,
        light - dark,
        light,
        blur,
    )


def _look(grey: NDArray[np.uint8], design: Sheet, to_px: Floats, side: float) -> tuple[float, float, float]:
    """Return dark and light levels of a sheet, and how wide its edges are, pixels.

    A blurred step of height h is steepest at h / (blur times the root of 2 pi).
    """
    along = np.linspace(-0.1, 0.1, 25) * SQUARE_MM
    # across the upright edges half-way between two corners that stand above each other
    middles = design.corners.reshape(-1, 5, 2)[:-1].reshape(-1, 2) + (0.0, SQUARE_MM / 2.0)
    lines = middles[:, None, :] + np.stack([along, np.zeros_like(along)], axis=1)
    px = _mapped(to_px, lines.reshape(-1, 2)).astype(np.float32).reshape(len(middles), -1, 2)
    levels = cv2.remap(grey, px[:, :, 0], px[:, :, 1], cv2.INTER_LINEAR).astype(np.float64)
    ends = np.sort(np.stack([levels[:, :4].mean(axis=1), levels[:, -4:].mean(axis=1)]), axis=0)
    dark, light = (float(np.median(end)) for end in ends)
    step = (along[1] - along[0]) / SQUARE_MM * side
    steepest = np.median(np.abs(np.gradient(levels, axis=1)).max(axis=1)) / step
    if steepest <= 0.0 or light <= dark:
        return dark, light, float("inf")
    return dark, float(np.percentile(ends[1], 90)), float((light - dark) / (steepest * np.sqrt(2.0 * np.pi)))

"""Finding reference sheets in a photograph, and their inner corners to a fraction of a pixel.

Coded squares say which sheet lies where. They are sought in a picture of at most ``SEARCH_SIDE`` pixels a
side; the corners of the chequer, which blur does not shift as it does a black square's, are then found in the
full picture (W. Förstner and E. Gülch, "A fast operator for detection and precise location of distinct
points, corners and centres of circular features", ISPRS Intercommission Workshop, 1987; the iteration is
OpenCV's ``cornerSubPix``), and placed by their symmetry (``symmetry``).
"""

from collections import defaultdict
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.photo.camera import Floats, mapped
from likesewn.photo.sheet import CELL_MM, COLUMNS, ROWS, SQUARE_MM, Sheet, coded_squares, sheet, sheet_of_code
from likesewn.photo.symmetry import WINDOW_MM, centred

__all__ = ["SeenSheet", "find_sheets"]

SEARCH_SIDE = 4200
"""Coded squares 20 pixels wide are read with ease; a larger picture costs time and finds no more."""

LEAST_CODES = 3
"""Two stray squares may agree by chance on a place for a sheet; three do not."""

_WINDOWS = ((13, 13, 4), (7, 27, 20))
"""Smallest, largest and step of the threshold's window, pixels: one suits most pictures, more the rest."""

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
    small: NDArray[np.uint8] = (
        grey
        if shrink == 1.0
        else np.asarray(
            cv2.resize(grey, None, fx=1.0 / shrink, fy=1.0 / shrink, interpolation=cv2.INTER_AREA), np.uint8
        )
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
            refined = _refined(grey, design, to_px)
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
    fitted, _ = cv2.findHomography(mm, px, cv2.RANSAC, _AGREE_PX, maxIters=2000, confidence=0.9999)
    if fitted is None:
        return None, []
    to_px = np.asarray(fitted, dtype=np.float64)
    off = np.linalg.norm(mapped(to_px, mm) - px, axis=1).reshape(-1, 4).max(axis=1)
    inside = [int(i) for i in np.flatnonzero(off < 1.5 * _AGREE_PX)]
    return to_px, inside


def _refined(grey: NDArray[np.uint8], design: Sheet, to_px: Floats) -> SeenSheet | None:
    """Return the sheet with those of its corners that look as they should, found exactly."""
    guess = mapped(to_px, design.corners)
    squares = np.linalg.norm(np.diff(guess.reshape(-1, 5, 2), axis=1), axis=2)
    side = float(np.median(squares))
    # the window must not reach the coded square, an eighth of a square away
    reach = int(np.clip(round(0.11 * side), 2, 14))
    height, width = grey.shape
    room = max(reach, WINDOW_MM / SQUARE_MM * side) + 3
    near = np.all((guess > room) & (guess < (width - 1 - room, height - 1 - room)), axis=1)
    if np.count_nonzero(near) < 4:
        return None
    start = guess[near].astype(np.float32).reshape(-1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS | cv2.TERM_CRITERIA_MAX_ITER, 60, 1e-4)
    exact = np.asarray(
        cv2.cornerSubPix(grey, start.copy(), (reach, reach), (-1, -1), stop), dtype=np.float64
    ).reshape(-1, 2)
    dark, light, blur = _look(grey, design, to_px, side)
    rough = np.linalg.norm(exact - guess[near], axis=1) < reach + 1.0
    placed, kept = centred(grey, design.corners[near], exact, to_px, blur)
    kept &= rough & (np.linalg.norm(placed - exact, axis=1) < 0.5 * reach)
    exact = placed
    kept &= _chequered(grey, design, to_px, near, exact - guess[near])
    if np.count_nonzero(kept) < 4:
        return None
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


def _chequered(
    grey: NDArray[np.uint8], design: Sheet, to_px: Floats, near: NDArray[np.bool_], shift: Floats
) -> NDArray[np.bool_]:
    """Whether the squares that meet at each corner of ``near`` are dark and light as printed there.

    A corner under a sleeve, a hand or a patch of glare fails; so no corner needs its coded squares read.
    """
    off = 0.055 * SQUARE_MM
    around = np.array([(-off, -off), (off, -off), (off, off), (-off, off)])
    points = (design.corners[near][:, None, :] + around).reshape(-1, 2)
    px = (mapped(to_px, points).reshape(-1, 4, 2) + shift[:, None, :]).astype(np.float32)
    levels = cv2.remap(grey, px[:, :, 0], px[:, :, 1], cv2.INTER_LINEAR).astype(np.float64)
    column, row = np.rint(design.corners[near] / SQUARE_MM).astype(int).T
    sign = np.where((row + column) % 2 == 0, 1.0, -1.0)  # dark at top left, or light
    step = sign[:, None] * np.stack(
        [
            levels[:, 1] - levels[:, 0],
            levels[:, 1] - levels[:, 2],
            levels[:, 3] - levels[:, 0],
            levels[:, 3] - levels[:, 2],
        ],
        axis=1,
    )
    return step.min(axis=1) > 0.3 * np.median(step)


def _look(grey: NDArray[np.uint8], design: Sheet, to_px: Floats, side: float) -> tuple[float, float, float]:
    """Return dark and light levels of a sheet, and how wide its edges are, pixels.

    A blurred step of height h is steepest at h / (blur times the root of 2 pi).
    """
    along = np.linspace(-0.35, 0.35, 71) * SQUARE_MM
    # across the field's rim, from the middle of its dark squares into the blank paper
    lines = np.concatenate([_across(along, design, side) for side in range(4)])
    px = mapped(to_px, lines.reshape(-1, 2)).astype(np.float32).reshape(len(lines), -1, 2)
    levels = cv2.remap(grey, px[:, :, 0], px[:, :, 1], cv2.INTER_LINEAR).astype(np.float64)
    ends = np.sort(np.stack([levels[:, :9].mean(axis=1), levels[:, -9:].mean(axis=1)]), axis=0)
    dark, light = (float(np.median(end)) for end in ends)
    step = (along[1] - along[0]) / SQUARE_MM * side
    steepest = np.median(np.abs(np.gradient(levels, axis=1)).max(axis=1)) / step
    if steepest <= 0.0 or light <= dark:
        return dark, light, float("inf")
    return dark, float(np.percentile(ends[1], 90)), float((light - dark) / (steepest * np.sqrt(2.0 * np.pi)))


def _across(along: Floats, design: Sheet, side: int) -> Floats:
    """Return lines (m,n,2), mm, that leave the field through the dark squares on one of its four sides."""
    wide, high = design.cells.shape[1] * CELL_MM, design.cells.shape[0] * CELL_MM
    lengthways = side < 2
    row = 0 if side % 2 == 0 else (ROWS if lengthways else COLUMNS) - 1
    count = COLUMNS if lengthways else ROWS
    dark = [i for i in range(count) if (i + row) % 2 == 0]
    out: list[Floats] = []
    for i in dark:
        middle = np.full_like(along, (i + 0.5) * SQUARE_MM)
        outward = -along if side % 2 == 0 else along + (high if lengthways else wide)
        out.append(np.stack([middle, outward] if lengthways else [outward, middle], axis=1))
    return np.stack(out)

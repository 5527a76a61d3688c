"""What is wrong with a photograph of a lay, in words: each finding says where, how much, and what to do."""

from collections import Counter
from collections.abc import Sequence

import cv2
import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Finding, Weight
from likesewn.photo.camera import mapped
from likesewn.photo.finding_sheets import SeenSheet
from likesewn.photo.plane import FoundSheet, Plane

__all__ = ["judge_lay", "judge_missing", "judge_sheet"]

LEAST_SHARE_SEEN = 0.9
"""A sheet with fewer of its corners is cut off or covered."""

MOST_BLUR_SHARE = 0.055
"""Of a chequer square: from here on coded squares begin to be lost."""

LEAST_CONTRAST = 60.0
"""Grey levels between light and dark squares, of about 200 in a good picture."""

MOST_TILT_DEGREES = 30.0
"""The far side of a lay then shrinks by a third, and thickness shifts edges by more than half of itself."""

LEAST_SQUARE_PX = 18.0
"""Side of a chequer square: a pixel then stands for more than 1.7 mm."""

MOST_BEND_MM = 0.08
"""A flat sheet leaves less than half of this; one that bulges by 2 mm leaves about this at 15 degrees."""

_BLANK_MM = ((2.0, 178.0), (241.2, 245.6))
"""The only place of a sheet, in its frame, across and along, where neither A4 nor letter has anything
printed: between the field's foot and the inches. Elsewhere a ruler's marks are as regular as a screen."""

_BLANK_PARTS = 6
_LEAST_DETAIL = 2.5
"""Grey levels, one sigma. Of fainter noise a JPEG keeps only some few frequencies, which look regular."""

_GRID_SHARE = 0.35
"""Of all fine detail on blank paper, what one frequency holds on a screen; on paper it is a tenth or two."""

_GRID_SHARE_FEW = 2.4
_LEAST_BLANK_PX = 4

_INNER_SHARE = 0.6
"""Of the part of the picture in which a garment is expected, the part in which there surely is some of it."""

MOST_SIGMA_MM = 0.6
"""From here on the photograph, not the tape, is what a pattern suffers from."""


def judge_missing(name: str, *, mirrored: bool = False, other_lay: bool = False) -> Finding:
    """Return why a photograph has no scale."""
    if mirrored:
        return Finding(
            "sheet-mirrored",
            Weight.LOOK,
            name,
            "The reference sheets are seen in a mirror, so the photograph has no scale.",
            todo="Use the camera at the back of the phone, or switch off mirroring, and take it again.",
        )
    if other_lay:
        return Finding(
            "other-lay",
            Weight.LOOK,
            name,
            "No reference sheet in this photograph is also in the first one, so the two are not one lay.",
            todo="Trace photographs of different lays one by one.",
        )
    return Finding(
        "no-sheet",
        Weight.LOOK,
        name,
        "There is no reference sheet in this photograph, so its outline has no scale.",
        todo="Lay printed sheets round the garment (`likesewn sheet`), or give a known length.",
    )


def judge_sheet(grey: NDArray[np.uint8], seen: SeenSheet, found: FoundSheet, name: str) -> list[Finding]:
    """Return what is off about one sheet: covered, bent, blurred, glaring, far away or on a screen."""
    where = f"{name}, sheet {seen.number}"
    out: list[Finding] = []
    side = _square_px(found)
    share = len(seen.px) / seen.corners_in_all
    blurred = seen.blur_px / side > MOST_BLUR_SHARE
    if share < LEAST_SHARE_SEEN and not blurred:
        out.append(
            Finding(
                "sheet-cut",
                Weight.LOOK,
                where,
                f"Only {len(seen.px)} of the {seen.corners_in_all} corners of sheet {seen.number} are to be "
                "seen: it is cut off, or something lies over it.",
                share,
                LEAST_SHARE_SEEN,
                "share",
                "Move the sheet clear of the garment and of the picture's rim.",
            )
        )
    bend = found.bend_px / side * 30.0
    if bend > MOST_BEND_MM:
        out.append(
            Finding(
                "sheet-bent",
                Weight.LOOK,
                where,
                f"The corners of sheet {seen.number} do not lie in one plane.",
                bend,
                MOST_BEND_MM,
                "mm",
                "Lay it flat, or hold its corners down with coins outside the black field.",
            )
        )
    if blurred:
        out.append(
            Finding(
                "blurred",
                Weight.LOOK,
                where,
                f"Sheet {seen.number} is blurred.",
                seen.blur_px / side * 30.0,
                MOST_BLUR_SHARE * 30.0,
                "mm",
                "Hold the phone still or prop it up, tap on the garment to focus, and use more light.",
            )
        )
    if seen.contrast < LEAST_CONTRAST:
        glare = seen.white > 235.0
        out.append(
            Finding(
                "glare" if glare else "dark",
                Weight.LOOK,
                where,
                f"A light shines back from sheet {seen.number}: its black squares look grey."
                if glare
                else f"Sheet {seen.number} lies in the dark or in haze.",
                todo="Turn off the flash and stand so that no lamp is mirrored in the paper."
                if glare
                else "Use more light, from the side, and wipe the lens.",
            )
        )
    if side < LEAST_SQUARE_PX:
        out.append(
            Finding(
                "too-far",
                Weight.LOOK,
                where,
                f"Sheet {seen.number} is far away: one pixel is {30.0 / side:.1f} mm there.",
                30.0 / side,
                30.0 / LEAST_SQUARE_PX,
                "mm",
                "Go nearer, so that the sheets just fit in, or use the camera's full resolution.",
            )
        )
    if _on_a_screen(grey, seen, side):
        out.append(
            Finding(
                "screen",
                Weight.LOOK,
                where,
                f"Sheet {seen.number} seems to be shown on a screen: a fine regular pattern lies over its "
                "light squares.",
                todo="Print the sheets; a screen shows them at no known size.",
            )
        )
    return out


def judge_lay(plane: Plane, sheets: Sequence[FoundSheet], name: str) -> list[Finding]:
    """Return what is off about the lay as a whole: doubled sheets, too few, tilt, and what that leaves."""
    out: list[Finding] = []
    for number, count in Counter(sheet.number for sheet in sheets).items():
        if count > 1:
            out.append(
                Finding(
                    "sheet-doubled",
                    Weight.LOOK,
                    f"{name}, sheet {number}",
                    f"Sheet {number} lies there {count} times.",
                    count,
                    1,
                    todo="Each is used, but lay sheets of different numbers: doubled ones cannot be told "
                    "apart in a second photograph.",
                )
            )
    sigma = float(plane.sigma(plane.base, print_scale=False).max())
    if len(sheets) == 1:
        out.append(
            Finding(
                "one-sheet",
                Weight.LOOK,
                name,
                f"There is one reference sheet; far from it, places are known to ± {1.96 * sigma:.1f} mm.",
                1.96 * sigma,
                None,
                "mm",
                "Lay a second sheet on the opposite side, or better four at the corners.",
            )
        )
    elif (sigma := _worst_sigma(plane, sheets)) > MOST_SIGMA_MM:
        out.append(
            Finding(
                "unsure",
                Weight.LOOK,
                name,
                f"At the worst place of the lay the scale leaves ± {1.96 * sigma:.1f} mm.",
                1.96 * sigma,
                1.96 * MOST_SIGMA_MM,
                "mm",
                "Lay sheets on opposite sides of the garment, best four at its corners.",
            )
        )
    if plane.tilt_degrees > MOST_TILT_DEGREES:
        out.append(
            Finding(
                "oblique",
                Weight.LOOK,
                name,
                f"The photograph was taken at a slant of {plane.tilt_degrees:.0f} degrees.",
                plane.tilt_degrees,
                MOST_TILT_DEGREES,
                "degree",
                "Hold the phone level above the middle of the garment.",
            )
        )
    return out


def _worst_sigma(plane: Plane, sheets: Sequence[FoundSheet]) -> float:
    """Return the largest one-sigma error, mm, over the box round the sheets and the picture's middle.

    Table beyond the outermost sheets is seen, too, least surely of all, but no garment lies there.
    """
    camera = plane.camera
    middle = (np.array([camera.width, camera.height]) - 1.0) / 2.0
    inner = middle + (plane.to_photo(plane.base) - middle) * _INNER_SHARE
    box = np.concatenate([plane.to_plane(inner), *(sheet.outline_mm for sheet in sheets)])
    low, high = box.min(axis=0), box.max(axis=0)
    x, y = (np.linspace(low[i], high[i], 5) for i in range(2))
    lay = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    return float(plane.about(lay).sigma(lay, print_scale=False).max())


def _square_px(found: FoundSheet) -> float:
    """Return the side of a chequer square, pixels, by area."""
    a, b = found.outline_px, found.outline_mm
    return 30.0 * float(np.sqrt(_area(a) / _area(b)))


def _area(points: NDArray[np.float64]) -> float:
    x, y = points[:, 0], points[:, 1]
    return abs(float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))) / 2.0


def _on_a_screen(grey: NDArray[np.uint8], seen: SeenSheet, side: float) -> bool:
    """Whether a regular grid lies over the paper, as a screen's pixels and their beats leave it.

    Blank paper is laid out at the picture's own resolution; paper leaves noise there, whose spectrum is
    flat, a screen leaves one frequency that stands out.
    """
    per_px = 30.0 / side
    across, down = (int((high - low) / per_px) for low, high in _BLANK_MM)
    wide = across // _BLANK_PARTS
    if down < _LEAST_BLANK_PX:
        return False
    spectra: list[NDArray[np.float64]] = []
    for part in range(_BLANK_PARTS):
        x = _BLANK_MM[0][0] + (part * wide + np.arange(wide)) * per_px
        y = _BLANK_MM[1][0] + np.arange(down) * per_px
        grid = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2).astype(np.float64)
        px = mapped(seen.to_px, grid).astype(np.float32)
        if px.min() < 1 or px[:, 0].max() > grey.shape[1] - 2 or px[:, 1].max() > grey.shape[0] - 2:
            continue
        patch = cv2.remap(grey, px[:, 0].reshape(down, wide), px[:, 1].reshape(down, wide), cv2.INTER_CUBIC)
        spectrum = _spectrum(patch.astype(np.float64))
        if spectrum is not None:
            spectra.append(spectrum)
    if len(spectra) <= _BLANK_PARTS // 2:
        return False
    # what noise has most of in one part it has not in the next
    power = np.mean(spectra, axis=0)
    # a window spreads one frequency over three by three places
    row, column = np.unravel_index(int(np.argmax(power)), power.shape)
    rows = [(row + i) % len(power) for i in (-1, 0, 1)]
    columns = [c for c in (column - 1, column, column + 1) if 0 <= c < power.shape[1]]
    # where the strip is only some few pixels wide, these are most of its frequencies
    least = max(_GRID_SHARE, _GRID_SHARE_FEW / down)
    return bool(power[np.ix_(rows, columns)].sum() > least * power.sum())


def _spectrum(patch: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Return the power of a patch's fine detail by frequency, its sum 1; None where there is hardly any."""
    smooth = cv2.GaussianBlur(patch, (0, 0), 6.0)
    rest = (patch - smooth) * np.outer(*(np.hanning(count) for count in patch.shape))
    power = np.abs(np.fft.rfft2(rest)) ** 2
    power[:3, :3] = power[-2:, :3] = 0.0
    return power / power.sum() if rest.std() > _LEAST_DETAIL else None

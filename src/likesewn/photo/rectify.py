"""From photographs of one lay to its plane in millimetres: sheets found, solved for, judged."""

from collections import Counter
from collections.abc import Hashable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from likesewn.garment import Finding
from likesewn.photo.adjust import Priors
from likesewn.photo.camera import Camera, Floats
from likesewn.photo.finding_sheets import SeenSheet, find_sheets
from likesewn.photo.judging import judge_lay, judge_missing, judge_sheet
from likesewn.photo.plane import FoundSheet, Plane
from likesewn.photo.reading import Picture
from likesewn.photo.sheet import FIELD_MM
from likesewn.photo.solve import Reference, Solved, solve

__all__ = ["PrintScale", "Rectified", "believed_camera", "focal_sigma", "rectify"]

NOTED_FOCAL_SIGMA = 0.04
"""Makers round the 35 mm equivalent to whole mm, and measure it along a side or along the diagonal."""

UNKNOWN_FOCAL_SIGMA = 0.25
"""Phones' main cameras have 24 to 28 mm equivalents; wide and tele ones lie within two sigmas of this."""

MIDDLE_FOCAL = 0.72
"""Focal length over longer side of a phone's main camera (26 mm equivalent)."""

CORNER_NOISE_PX = 0.03
"""Of a sheet's corners in a good picture of any size, before its own residuals tell better."""

RULER_MM = 200.0
"""Length of the printed rulers."""

_BORDER_MM = (18.0, 28.5)
"""Paper beyond the sheet's field, across and along, on whichever of A4 and letter has more."""


@dataclass(frozen=True, slots=True)
class PrintScale:
    """How true the print is.

    Attributes:
        across: Printed length over true length, across the sheet.
        along: The same along it.
        sigma_common: One sigma of what both share. Home printers that were told to print at actual size are
            off by 0.1 % or so (common practice, no source).
        sigma_apart: One sigma of the difference between the two.
    """

    across: float = 1.0
    along: float = 1.0
    sigma_common: float = 0.001
    sigma_apart: float = 0.0003

    @classmethod
    def measured(cls, along_mm: float, across_mm: float | None = None, sigma_mm: float = 0.1) -> "PrintScale":
        """Return the scale that the printed 200 mm rulers show.

        Args:
            along_mm: Measured length of the ruler along the sheet, mm.
            across_mm: Measured length of the ruler across it, or None where only one was measured.
            sigma_mm: One sigma of measuring, mm.
        """
        share = sigma_mm / RULER_MM
        along = along_mm / RULER_MM
        if across_mm is None:
            return cls(along, along, share)
        return cls(across_mm / RULER_MM, along, share / np.sqrt(2.0), share * np.sqrt(2.0))


@dataclass(frozen=True, slots=True)
class Rectified:
    """What photographs of one lay say about the table.

    Attributes:
        planes: For each photograph its plane, or None where it has no scale; all share one table frame.
        findings: For each photograph, what is worth knowing or wrong.
    """

    planes: tuple[Plane | None, ...]
    findings: tuple[tuple[Finding, ...], ...]


def believed_camera(picture: Picture) -> Camera:
    """Return what is believed of a picture's camera before anything is measured."""
    height, width = picture.rgb.shape[:2]
    focal = picture.focal_px or MIDDLE_FOCAL * max(width, height)
    return Camera(width, height, focal, (width - 1) / 2, (height - 1) / 2)


def focal_sigma(pictures: Sequence[Picture]) -> float:
    """Return the one-sigma uncertainty of the believed focal length, as a share."""
    noted = all(picture.focal_px is not None for picture in pictures)
    return NOTED_FOCAL_SIGMA if noted else UNKNOWN_FOCAL_SIGMA


def rectify(pictures: Sequence[Picture], print_scale: PrintScale | None = None) -> Rectified:
    """Find the reference sheets in photographs of one lay and solve for the table's plane.

    Args:
        pictures: The photographs, all of the same lay; the first one's directions become the table's.
        print_scale: How true the sheets were printed; None where nobody measured.
    """
    greys = [picture.grey() for picture in pictures]
    seen = [find_sheets(grey) for grey in greys]
    references = _references(seen)
    solved = _solved(pictures, references, print_scale or PrintScale()) if references else None
    out: list[Plane | None] = []
    findings: list[tuple[Finding, ...]] = []
    at = 0
    for i, (picture, sheets) in enumerate(zip(pictures, seen, strict=True)):
        plane = solved.planes.get(i) if solved else None
        if solved is None or plane is None:
            mirrored = not sheets and bool(find_sheets(greys[i][:, ::-1].copy()))
            notes = [judge_missing(picture.name, mirrored=mirrored, other_lay=bool(sheets))]
        else:
            laid = [_found(plane, solved, at + k, sheet) for k, sheet in enumerate(sheets)]
            notes = [
                note
                for sheet, place in zip(sheets, laid, strict=True)
                for note in judge_sheet(greys[i], sheet, place, picture.name)
            ]
            notes += judge_lay(plane, laid, picture.name)
            plane = replace(plane, sheets=tuple(laid), findings=tuple(notes))
        at += len(sheets)
        out.append(plane)
        findings.append(tuple(notes))
    return Rectified(tuple(out), tuple(findings))


def _references(seen: Sequence[Sequence[SeenSheet]]) -> list[Reference]:
    """Return the sheets as references; where two share a number, nobody knows which is which elsewhere."""
    doubled = {
        number
        for sheets in seen
        for number, count in Counter(sheet.number for sheet in sheets).items()
        if count > 1
    }
    out: list[Reference] = []
    for photo, sheets in enumerate(seen):
        for place, sheet in enumerate(sheets):
            key: Hashable = (sheet.number, photo, place) if sheet.number in doubled else sheet.number
            out.append(Reference(key, photo, sheet.mm, sheet.px, CORNER_NOISE_PX))
    return out


def _solved(pictures: Sequence[Picture], references: list[Reference], scale: PrintScale) -> Solved:
    cameras = [believed_camera(picture) for picture in pictures]
    noted = focal_sigma(pictures) == NOTED_FOCAL_SIGMA
    priors = Priors(
        focal_sigma(pictures),
        scale_across=float(np.log(scale.across)),
        scale_along=float(np.log(scale.along)),
        scale_common=scale.sigma_common,
        scale_apart=scale.sigma_apart,
    )
    solved = solve(cameras, references, priors, focal_noted=noted)
    off = [abs(np.log(plane.camera.f / cameras[i].f)) for i, plane in solved.planes.items()]
    if noted and max(off) > 3.0 * NOTED_FOCAL_SIGMA:
        # a cropped or zoomed picture keeps the note of the whole one: do not believe it, not even roughly
        cameras = [believed_camera(replace(picture, focal_px=None)) for picture in pictures]
        solved = solve(cameras, references, replace(priors, log_f=UNKNOWN_FOCAL_SIGMA), focal_noted=False)
    return solved


def _found(plane: Plane, solved: Solved, index: int, sheet: SeenSheet) -> FoundSheet:
    x, y, angle = solved.places[index]
    (wide, high), (right, down) = FIELD_MM, _BORDER_MM
    rim = np.array(
        [(-right, -down), (wide + right, -down), (wide + right, high + down), (-right, high + down)]
    )
    c, s = np.cos(angle), np.sin(angle)
    outline: Floats = rim @ np.array([[c, s], [-s, c]]) + (x, y)
    used = solved.used[index]
    miss = solved.residuals[index][used]
    places = sheet.mm[used]
    return FoundSheet(
        sheet.number,
        plane.to_photo(outline),
        outline,
        int(np.count_nonzero(used)),
        sheet.corners_in_all,
        float(np.sqrt(np.mean(np.sum(miss**2, axis=1)))),
        _smooth_part(places, miss),
    )


def _smooth_part(mm: Floats, miss: Floats) -> float:
    """Return the size of that part of the residuals which a cubic over the sheet follows, noise taken off.

    Root mean square over the corners, pixels.
    """
    count = len(mm)
    u, v = ((mm - np.array(FIELD_MM) / 2) / (np.array(FIELD_MM) / 2)).T
    terms = np.stack([u**i * v**j for i in range(4) for j in range(4 - i)], axis=1)
    free = count - terms.shape[1]
    if free < 6:
        return 0.0
    follows = terms @ np.linalg.lstsq(terms, miss, rcond=None)[0]
    noise = np.sum((miss - follows) ** 2) / free
    return float(np.sqrt(max(np.sum(follows**2) - terms.shape[1] * noise, 0.0) / count))

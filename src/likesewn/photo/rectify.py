"""From photographs of one lay to its plane in millimetres: sheets found, solved for, judged.

``rectify`` is the one public step; ``starting`` makes the first guess that the adjustment refines, and
``judging`` says what is wrong with a photograph.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import cv2
import numpy as np

from likesewn.garment import Finding
from likesewn.photo.adjust import Adjusted, Priors, Sighting, Start, adjust
from likesewn.photo.camera import Camera, Floats
from likesewn.photo.finding_sheets import SeenSheet, find_sheets
from likesewn.photo.judging import judge_lay, judge_missing, judge_sheet
from likesewn.photo.plane import FoundSheet, Plane
from likesewn.photo.reading import Picture
from likesewn.photo.sheet import FIELD_MM
from likesewn.photo.starting import starts

__all__ = ["PrintScale", "Rectified", "planes", "rectify"]

NOTED_FOCAL_SIGMA = 0.04
"""Makers round the 35 mm equivalent to whole mm and measure it along a side or the diagonal."""

UNKNOWN_FOCAL_SIGMA = 0.25
"""Phones' main cameras have 24 to 28 mm equivalents; wide and tele ones lie within two sigmas of this."""

MIDDLE_FOCAL = 0.72
"""Focal length over longer side of a phone's main camera (26 mm equivalent)."""

_BORDER_MM = (16.0, 24.0)
"""Paper beyond the sheet's field, across and along: between A4 and letter."""

_BASE_SHARE = 0.35
"""Half-width of the part of the picture, about its middle, in which a garment is expected."""


@dataclass(frozen=True, slots=True)
class PrintScale:
    """How true the print is.

    Attributes:
        across: Printed length over true length, across the sheet.
        along: The same along it.
        sigma_common: One sigma of what both share. Home printers that were told to print at actual size are
            off by 0.1 % or so (common practice, no source).
        sigma_apart: One sigma of each one's own part.
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
        if across_mm is None:
            return cls(along_mm / 200.0, along_mm / 200.0, sigma_mm / 200.0)
        share = sigma_mm / 200.0
        return cls(across_mm / 200.0, along_mm / 200.0, share / np.sqrt(2.0), share * np.sqrt(2.0))


@dataclass(frozen=True, slots=True)
class Rectified:
    """What photographs of one lay say about the table.

    Attributes:
        planes: For each photograph its plane, or None where it has no scale; all share one table frame.
        findings: For each photograph, what is worth knowing or wrong.
    """

    planes: tuple[Plane | None, ...]
    findings: tuple[tuple[Finding, ...], ...]


def rectify(pictures: Sequence[Picture], print_scale: PrintScale | None = None) -> Rectified:
    """Find the reference sheets in photographs of one lay and solve for the table's plane.

    Args:
        pictures: The photographs, all of the same lay; the first one's directions become the table's.
        print_scale: How true the sheets were printed; None where nobody measured.
    """
    greys = [cv2.cvtColor(picture.rgb, cv2.COLOR_RGB2GRAY) for picture in pictures]
    found = [find_sheets(grey) for grey in greys]
    found = [tuple(_whole(s) for s in sheets if len(s.px) >= 4) for sheets in found]
    notes: list[list[Finding]] = [
        [] if sheets else [judge_missing(picture.name, mirrored=bool(find_sheets(grey[:, ::-1].copy())))]
        for picture, grey, sheets in zip(pictures, greys, found, strict=True)
    ]
    with_sheets = [i for i, sheets in enumerate(found) if sheets]
    if not with_sheets:
        return Rectified((None,) * len(pictures), tuple(tuple(n) for n in notes))
    result, linked = _solved([pictures[i] for i in with_sheets], [found[i] for i in with_sheets], print_scale)
    out: list[Plane | None] = [None] * len(pictures)
    made = planes(result[0], result[1]) if result else ()
    for place, i in enumerate(with_sheets):
        if place not in linked:
            notes[i].append(judge_missing(pictures[i].name, other_lay=True))
            continue
        out[i] = made[linked.index(place)]
    for i, plane in enumerate(out):
        if plane is None:
            continue
        sightings = [(s, r) for s, r in zip(result[1], result[0].residuals, strict=True)
                     if linked[s.photo] == with_sheets.index(i)]
        sheets = []
        for seen, (sighting, miss) in zip(found[i], sightings, strict=True):
            used = result[0].used[result[1].index(sighting)]
            sheets.append(_found_sheet(plane, result[0].at, seen, sighting, miss[used]))
        notes[i] += [f for seen, s in zip(found[i], sheets, strict=True) for f in judge_sheet(seen, s, pictures[i].name)]
        notes[i] += judge_lay(plane, sheets, pictures[i].name)
        out[i] = replace(plane, sheets=tuple(sheets), findings=tuple(notes[i]))
    return Rectified(tuple(out), tuple(tuple(n) for n in notes))

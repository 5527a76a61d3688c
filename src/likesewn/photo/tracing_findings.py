"""What is worth a look about a traced outline, and what to do about it."""

import cv2
import numpy as np

from likesewn.garment import Finding, Weight
from likesewn.photo.corners import FoundCorners
from likesewn.photo.outline import Outline
from likesewn.photo.plane import Plane
from likesewn.photo.reading import Picture
from likesewn.photo.segment import DOUBTFUL, Segmentation

__all__ = ["DOUBTFUL_CORNERS", "FAINT", "judge_dip", "judge_outline"]

DOUBTFUL_CORNERS = 4.0
"""Cost per corner above which the corners deserve a look."""

FAINT = 6.0
"""Colour step across the edge, CIELAB units, below which the eye hardly sees it either."""

LEAST_FAINT = 0.1
"""Share of the outline that may be faint without a word."""


def judge_outline(
    picture: Picture,
    segmented: Segmentation,
    outline: Outline,
    found: FoundCorners | None,
    plane: Plane | None,
) -> tuple[Finding, ...]:
    """Return what is off about an outline.

    Args:
        picture: The photograph.
        segmented: Where the garment was found to lie.
        outline: Its refined outline.
        found: Its corners, or None where none were sought.
        plane: The table, with the reference sheets found on it, or None.
    """
    name = picture.name
    notes: list[Finding] = []
    if segmented.touches > 0.01:
        notes.append(
            Finding(
                "garment-cut-off",
                Weight.LOOK,
                name,
                "The garment seems to run out of the picture.",
                round(segmented.touches, 3),
                0.01,
                "share",
                "Step back until table shows all round it.",
            )
        )
    if segmented.score < DOUBTFUL:
        notes.append(
            Finding(
                "outline-doubtful",
                Weight.LOOK,
                name,
                "Garment and table are hard to tell apart here, so the outline may be wrong.",
                round(segmented.score, 2),
                DOUBTFUL,
                "",
                "Look at the overlay; draw a line round the garment (--round) or a few strokes on "
                "it, or put a plain cloth of another colour under it.",
            )
        )
    faint = float((outline.step < FAINT).mean())
    if faint > LEAST_FAINT:
        notes.append(
            Finding(
                "edge-faint",
                Weight.LOOK,
                name,
                "Much of the edge has nearly the colour of what lies beside it.",
                round(faint, 2),
                LEAST_FAINT,
                "share",
                "Put a cloth of another colour under the garment.",
            )
        )
    if found is not None and found.cost > DOUBTFUL_CORNERS:
        notes.append(
            Finding(
                "corners-doubtful",
                Weight.LOOK,
                name,
                "The corners do not lie as this kind's usually do.",
                round(found.cost, 1),
                DOUBTFUL_CORNERS,
                "",
                "Look at the overlay, and move a corner that is wrong: --corner NAME=x,y; where several are, "
                "draw a line round the garment: --round.",
            )
        )
    shape = outline.px.astype(np.float32).reshape(-1, 1, 2)
    notes += [
        Finding(
            "garment-on-sheet",
            Weight.LOOK,
            name,
            f"The garment lies over sheet {sheet.number}, or touches it.",
            todo="Leave a hand's width between garment and sheets.",
        )
        for sheet in (plane.sheets if plane else ())
        if len(sheet.outline_px) >= 3 and _meets(shape, sheet.outline_px)
    ]
    return tuple(notes)


def judge_dip(name: str, corner: str, *, seen: bool) -> Finding:
    """Return what to check about an edge that was sought inside the outline.

    Args:
        name: The photograph's name.
        corner: Name of the edge's lowest point.
        seen: Whether anything was seen there.
    """
    if seen:
        message = f"The edge through {corner} was found as a plain curve; a band shows two edges there."
        todo = f"Look at the overlay, and put its lowest point in place if need be: --corner {corner}=x,y."
        return Finding("inner-edge-guessed", Weight.NOTE, name, message, todo=todo)
    message = f"The edge through {corner} cannot be seen well enough, so it was left out."
    todo = f"Put its lowest point in place (--corner {corner}=x,y), or follow it with --seam."
    return Finding("inner-edge-unseen", Weight.LOOK, name, message, todo=todo)


def _meets(shape: np.ndarray, sheet_px: np.ndarray) -> bool:
    corners = np.concatenate([sheet_px, (sheet_px + np.roll(sheet_px, 1, axis=0)) / 2])
    within = [cv2.pointPolygonTest(shape, (float(x), float(y)), measureDist=True) for x, y in corners]
    size = float(np.hypot(*np.ptp(sheet_px, axis=0)))
    return max(within) > -0.01 * size

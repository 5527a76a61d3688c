"""What a lay has to say, in words."""

import numpy as np

from likesewn.garment import Cloth, Finding, Weight
from likesewn.lay.buy import buy_text
from likesewn.lay.shapes import Shape
from likesewn.lay.ways import PLANNED, Folded, least_width
from likesewn.units import format_length

__all__ = ["cloth_assumed", "folding_saves", "folding_words", "not_planned", "one_layer", "plain", "too_wide"]


def folding_words(folding: str) -> str:
    """Return how cloth lies, as it reads after the words ``the cloth``."""
    if folding == "open":
        return "laid open"
    return {"folded": "folded lengthwise", "selvages to the middle": "with its selvages to the middle"}[
        folding
    ]


def cloth_assumed(name: str, cloth: Cloth, unit: str) -> Finding:
    """Return the note that a cloth's width and folding were taken for granted."""
    return Finding(
        code="cloth-assumed",
        weight=Weight.NOTE,
        where=f"cloth {name}",
        message=(
            f"Nothing was said about the cloth {name}; it is taken to be"
            f" {format_length(cloth.width_mm, unit)} wide and {folding_words(cloth.folding)}."
        ),
        todo="Give its usable width and folding in the garment file.",
    )


def not_planned(name: str, folding: str) -> Finding:
    """Return the finding that this folding is planned as another one."""
    return Finding(
        code="folding-not-planned",
        weight=Weight.LOOK,
        where=f"cloth {name}",
        message=(
            f"A lay for cloth folded as {folding!r} is not planned yet; this plan folds it once, lengthwise."
        ),
        todo="Fold the cloth once lengthwise, or choose one of: " + ", ".join(PLANNED) + ".",
    )


def one_layer(title: str) -> Finding:
    """Return the note that a piece is cut through one layer of folded cloth."""
    return Finding(
        code="one-layer",
        weight=Weight.NOTE,
        where=title,
        message=f"{title} is cut once: cut it through one layer only, and leave the layer below it whole.",
    )


def plain(name: str) -> Finding:
    """Return the note that the lay is a plain one."""
    return Finding(
        code="plain-lay",
        weight=Weight.NOTE,
        where=f"cloth {name}",
        message=(
            "The pieces are laid in plain rows. Moving them about by hand may still save a little;"
            " the length to buy is enough as it stands."
        ),
    )


def too_wide(shape: Shape, cloth: Cloth, folded: Folded, unit: str) -> Finding:
    """Return the finding that a piece is too wide, with what would take it."""
    across = float(np.ptp(shape.whole[:, 1]))
    fits = [other for other in PLANNED if least_width(shape, other) <= cloth.width_mm]
    if fits:
        todo = f"The same cloth {' or '.join(folding_words(other) for other in fits)} would take it."
    else:
        widths = (
            f"{format_length(least_width(shape, other), unit)} wide {folding_words(other)}"
            for other in ("open", "folded")
        )
        todo = f"It needs cloth at least {', or '.join(widths)}."
    needed = least_width(shape, folded.folding)
    return Finding(
        code="too-wide",
        weight=Weight.STOP,
        where=shape.title,
        message=(
            f"{shape.title} is {format_length(across, unit)} wide in all, and does not fit cloth"
            f" {format_length(cloth.width_mm, unit)} wide {folding_words(folded.folding)},"
            f" which would have to be {format_length(needed, unit)} wide."
        ),
        amount=needed,
        limit=cloth.width_mm,
        unit="mm",
        todo=todo,
    )


def folding_saves(other: str, other_mm: float, buy_mm: float, unit: str) -> Finding:
    """Return the note that another folding needs less cloth."""
    return Finding(
        code="folding-saves",
        weight=Weight.NOTE,
        where="cloth",
        message=(
            f"The same cloth {folding_words(other)} would do with {buy_text(other_mm, unit)}"
            f" instead of {buy_text(buy_mm, unit)}."
        ),
        amount=buy_mm - other_mm,
        unit="mm",
        todo=f'Write folding = "{other}" in the garment file to plan it that way.',
    )

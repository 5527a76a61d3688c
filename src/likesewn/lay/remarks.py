"""What a lay has to say, in words."""

import math
from collections.abc import Iterator, Mapping, Sequence

import numpy as np

from likesewn.garment import Cloth, Finding, Weight
from likesewn.lay.buy import buy_text
from likesewn.lay.folds import Folded
from likesewn.lay.leftover import largest_free
from likesewn.lay.nest import GAP_TO_BEST
from likesewn.lay.plan import Placed
from likesewn.lay.shapes import Shape
from likesewn.lay.ways import least_width
from likesewn.units import format_length

__all__ = [
    "cloth_assumed",
    "crosswise_nap",
    "cut_together",
    "fewer_layers",
    "folding_words",
    "how_near",
    "left_over",
    "matched",
    "no_place",
    "other_foldings",
    "too_short",
    "too_wide",
    "unmatched",
]

LIKELY = ("open", "folded", "selvages to the middle", "folded twice")
"""Foldings that are named to someone whose cloth is too narrow for another."""

WORTH_KEEPING = 100.0
"""Least side of a piece left over that is worth naming, mm: a pocket can be cut from it."""

QUICKLY = "This was a quick search: `likesewn lay` has found lays up to 3 % shorter on trial tops."
LONG = "On trial lays of a few pieces such a search came within 0.2 % of the shortest there is."
MANY_OPEN = f"On published sets of many pieces such a search came within {GAP_TO_BEST:.1%} of the best known."
"""How far plans were from the best lays known, see ``docs/lay.md`` and ``docs/lay-open.md``."""

FEW = 6
"""Outlines up to which a lay is like the trial lays of a few pieces."""


def folding_words(folding: str) -> str:
    """Return how cloth lies, as it reads after the words ``the cloth``."""
    if folding == "open":
        return "laid open"
    return {
        "folded": "folded lengthwise",
        "part fold": "folded lengthwise in part",
        "selvages to the middle": "with its selvages to the middle",
        "folded twice": "folded twice, in four layers",
        "crosswise": "folded crosswise",
    }[folding]


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


def fewer_layers(title: str, placed: Placed, under: int) -> Finding:
    """Return the note that a piece is cut through fewer layers than lie where it is cut."""
    number = {1: "one layer", 2: "two layers"}[placed.layers]
    if placed.top > 1:
        how = "the layer below only, and fold back the one that lies on it"
    elif under - placed.layers == 1:
        how = f"{number} only, and leave the layer below it whole"
    else:
        how = f"the top {number.removeprefix('one ')} only, and leave those below whole"
    whole = "both" if under == 2 else f"all {under}"
    return Finding(
        code="one-layer" if placed.layers == 1 else "fewer-layers",
        weight=Weight.NOTE,
        where=title,
        message=f"{title} is not cut through {whole} layers: cut it through {how}.",
    )


def cut_together(one: str, other: str) -> Finding:
    """Return the note that two pieces are cut in one go and one of them trimmed."""
    return Finding(
        code="cut-together",
        weight=Weight.NOTE,
        where=f"{one}, {other}",
        message=(
            f"{one} and {other} are cut in one go, the {one.lower()} from the top two layers and the"
            f" {other.lower()} from the two below."
        ),
        todo="Cut round the outer of the two lines, then trim each pair of layers to its own line.",
    )


def left_over(placed: Sequence[Placed], cloth: Folded, length: float, unit: str) -> Iterator[Finding]:
    """Yield the note on the largest piece of cloth that is left over, where it is of any use."""
    along, across = largest_free(placed, cloth, length)
    if min(along, across) < WORTH_KEEPING:
        return
    layers = {1: "", 2: ", in both layers", 4: ", in all four layers"}[cloth.count]
    yield Finding(
        code="left-over",
        weight=Weight.NOTE,
        where="cloth",
        message=(
            f"The largest piece left over within the lay is about {format_length(along, unit)} along and"
            f" {format_length(across, unit)} across{layers}."
        ),
    )


def how_near(name: str, length: float, bound: float, unit: str, *, quick: bool, outlines: int) -> Finding:
    """Return the note on how near the lay comes to the shortest."""
    known = QUICKLY if quick else LONG if outlines <= FEW else MANY_OPEN
    return Finding(
        code="how-near",
        weight=Weight.NOTE,
        where=f"cloth {name}",
        message=(
            f"The lay takes up {format_length(length, unit)}; no lay can be shorter than"
            f" {format_length(bound, unit)}, the area of the pieces over the width, and it uses"
            f" {bound / length:.0%} of the cloth. {known}"
        ),
        amount=length,
        limit=bound,
        unit="mm",
    )


def matched(name: str, cloth: Cloth, length: float, without: float, unit: str) -> Finding:
    """Return the note on what matching the stripes costs; ``without`` is the lay without it, mm."""
    cost = max(length - without, 0.0)
    fold = "" if cloth.folding in {"open", "crosswise"} else " Fold the cloth on the middle of a stripe."
    pinned = " and pin the layers so that their stripes lie on one another" if cloth.folding != "open" else ""
    return Finding(
        code="matching-cost",
        weight=Weight.NOTE,
        where=f"cloth {name}",
        message=f"Matching the stripes takes {format_length(cost, unit)} of cloth more than leaving them be.",
        amount=cost,
        unit="mm",
        todo=f"Begin the lay at any stripe{pinned}.{fold}",
    )


def unmatched(name: str, point: str) -> Finding:
    """Return the finding that a point cannot be matched together with those named before it."""
    return Finding(
        code="unmatched",
        weight=Weight.LOOK,
        where=f"cloth {name}",
        message=f"The stripes cannot meet at {point} as well as at the points named before it.",
        todo="Name the point that matters most first under match, and leave the other out.",
    )


def crosswise_nap(name: str) -> Finding:
    """Return the finding that cloth with nap cannot be folded crosswise."""
    return Finding(
        code="crosswise-nap",
        weight=Weight.STOP,
        where=f"cloth {name}",
        message="Folded crosswise, one layer of the cloth runs the other way, and this cloth has nap.",
        todo="Fold it lengthwise or lay it open; or cut it across and turn the upper layer round.",
    )


def no_place(shape: Shape, cloth: Cloth, unit: str) -> Finding:
    """Return the finding that a piece fits nowhere between the flaws and edges of the cloth."""
    across, along = (float(v) for v in np.ptp(shape.whole[:, ::-1], axis=0))
    return Finding(
        code="no-place",
        weight=Weight.STOP,
        where=shape.title,
        message=(
            f"{shape.title}, {format_length(along, unit)} long and {format_length(across, unit)} wide in all,"
            f" fits nowhere between the flaws and edges of the cloth {folding_words(cloth.folding)}."
        ),
        todo="Lay the cloth open, where flaws spoil one layer only, or cut this piece from another cloth.",
    )


def too_short(name: str, cloth: Cloth, needed: float, unit: str) -> Finding:
    """Return the finding that the length in hand is too short; ``needed`` is infinite where not known."""
    there = cloth.length_mm or 0.0
    wants = (
        f"needs {format_length(needed, unit)} of it"
        if math.isfinite(needed) and needed > there
        else "fits in no way that was found, round its edges, holes and flaws"
    )
    return Finding(
        code="too-short",
        weight=Weight.STOP,
        where=f"cloth {name}",
        message=(
            f"The lay does not fit the cloth in hand, {format_length(there, unit)} long and"
            f" {format_length(cloth.width_mm, unit)} wide {folding_words(cloth.folding)}: it {wants}."
        ),
        amount=needed if math.isfinite(needed) else None,
        limit=there if math.isfinite(needed) else None,
        unit="mm" if math.isfinite(needed) else "",
        todo="Another folding, a shorter sleeve or a band from another cloth may make it fit.",
    )


def too_wide(shape: Shape, cloth: Cloth, folded: Folded, unit: str) -> Finding:
    """Return the finding that a piece is too wide, with what would take it."""
    across = float(np.ptp(shape.whole[:, 1]))
    fits = [other for other in LIKELY if least_width(shape, other) <= cloth.width_mm]
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


def other_foldings(buy_mm: float, others: Mapping[str, float], unit: str) -> Iterator[Finding]:
    """Yield notes on what the cloth would need folded in other ways.

    Args:
        buy_mm: Length to buy as it is folded, mm.
        others: Length to buy by other folding, mm.
        unit: Unit for lengths in words.
    """
    least = min(others, key=others.__getitem__, default="")
    if least and others[least] < buy_mm - 1:
        yield Finding(
            code="folding-saves",
            weight=Weight.NOTE,
            where="cloth",
            message=(
                f"The same cloth {folding_words(least)} would do with {buy_text(others[least], unit)}"
                f" instead of {buy_text(buy_mm, unit)}."
            ),
            amount=buy_mm - others[least],
            unit="mm",
            todo=f'Write folding = "{least}" in the garment file to plan it that way.',
        )

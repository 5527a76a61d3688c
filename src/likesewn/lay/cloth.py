"""What is wrong with a cloth as it is described, before anything is laid on it."""

import math
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import reduce

import numpy as np
import shapely
from shapely.validation import explain_validity

from likesewn.errors import Problem
from likesewn.garment import Cloth
from likesewn.lay.folds import unusable
from likesewn.lay.plan import FOLDINGS
from likesewn.units import format_length

__all__ = ["cloth_problems", "measured"]


def measured(cloth: Cloth) -> Cloth:
    """Return the cloth with its width and length taken from its outline, where it has one.

    The outline, its holes and the flaws are moved so that the outline starts at x = 0 and y = 0.
    """
    if not cloth.outline:
        return cloth
    at = np.array(cloth.outline)
    left, low = (float(v) for v in at.min(axis=0))
    right, high = (float(v) for v in at.max(axis=0))

    def moved(ring: tuple[tuple[float, float], ...]) -> tuple[tuple[float, float], ...]:
        return tuple((x - left, y - low) for x, y in ring)

    return replace(
        cloth,
        width_mm=high - low,
        length_mm=min(right - left, cloth.length_mm or math.inf),
        outline=moved(cloth.outline),
        holes=tuple(moved(hole) for hole in cloth.holes),
        flaws=tuple((x - left, y - low, r) for x, y, r in cloth.flaws),
        flaws_across=tuple((a - left, b - left) for a, b in cloth.flaws_across),
        flaws_along=tuple((a - low, b - low) for a, b in cloth.flaws_along),
    )


def cloth_problems(name: str, cloth: Cloth, unit: str) -> Iterator[Problem]:
    """Yield what makes a cloth useless as it is described.

    Args:
        name: Its name.
        cloth: The cloth.
        unit: Unit for lengths in words.
    """
    table = f"cloth.{name}"

    def show(mm: float) -> str:
        return format_length(mm, unit) if math.isfinite(mm) else f"{mm} mm"

    sizes = {"width": cloth.width_mm, "length": cloth.length_mm, "fold_depth": cloth.fold_depth_mm}
    for key, mm in sizes.items():
        if mm is not None and not (math.isfinite(mm) and mm > 0):
            yield Problem(
                "the cloth has no usable width" if key == "width" else f"the cloth's {key} cannot be right",
                found=show(mm),
                key=f"{table}.{key}",
                allowed="a length of more than 0",
                todo="Measure the cloth from selvage to selvage, selvages left out."
                if key == "width"
                else "",
            )
            return
    if cloth.folding not in FOLDINGS:
        yield Problem(
            "the cloth cannot be folded like that",
            found=cloth.folding,
            key=f"{table}.folding",
            allowed=", ".join(FOLDINGS),
        )
    if cloth.fold_depth_mm is not None and cloth.fold_depth_mm > cloth.width_mm / 2:
        yield Problem(
            "the fold is deeper than half the cloth",
            found=show(cloth.fold_depth_mm),
            key=f"{table}.fold_depth",
            allowed=f"at most {show(cloth.width_mm / 2)}",
        )
    yield from _repeats(table, cloth, show)
    broken = list(_outlines(table, cloth, unit))
    yield from broken
    if not broken:
        yield from _spoilt(table, cloth)


def _repeats(table: str, cloth: Cloth, show: Callable[[float], str]) -> Iterator[Problem]:
    length = math.inf if cloth.length_mm is None else cloth.length_mm
    for key, repeat, most, along in (
        ("repeat_along", cloth.repeat_along_mm, length, "long"),
        ("repeat_across", cloth.repeat_across_mm, cloth.width_mm, "wide"),
    ):
        if repeat > most:
            yield Problem(
                "the repeat is larger than the cloth",
                found=show(repeat),
                key=f"{table}.{key}",
                allowed=f"0 for no repeat, or up to {show(most)}, as {along} as the cloth is",
                todo="Measure from one stripe to the next one like it.",
            )


def _outlines(table: str, cloth: Cloth, unit: str) -> Iterator[Problem]:
    rings = [("outline", cloth.outline), *((f"holes[{i + 1}]", hole) for i, hole in enumerate(cloth.holes))]
    for key, ring in rings:
        if key == "outline" and not ring:
            continue
        if len(ring) < 3:
            yield Problem(
                "this outline has too few corners",
                found=f"{len(ring)}",
                key=f"{table}.{key}",
                allowed="3 or more",
            )
            continue
        shape = shapely.Polygon(ring)
        if not shape.is_valid or shape.area <= 0:
            yield Problem(
                "this outline crosses itself" if shape.convex_hull.area > 0 else "this outline has no area",
                found=_where(shape, unit),
                key=f"{table}.{key}",
                allowed="corners in order round the cloth, each side clear of the others",
                todo="Go round the cloth once, corner by corner, in one direction.",
            )


def _where(shape: shapely.Polygon, unit: str) -> str:
    """Say where an outline crosses itself."""
    text = explain_validity(shape)
    if "[" not in text:
        return f"{len(shape.exterior.coords) - 1} corners"
    x, y = (float(v) for v in text[text.index("[") + 1 : text.index("]")].split()[:2])
    return f"a crossing near {format_length(x, unit)} along and {format_length(y, unit)} across"


def _spoilt(table: str, cloth: Cloth) -> Iterator[Problem]:
    if not cloth.spoilt:
        return
    cloth = measured(cloth)
    if cloth.folding == "crosswise" and cloth.length_mm is None:
        yield Problem(
            "where the flaws come to lie depends on the cloth's length",
            key=f"{table}.length",
            allowed="a length in hand, where cloth with flaws is folded crosswise",
            todo="Give the length in hand, or fold the cloth in another way.",
        )
    if cloth.length_mm is None:
        # An endless cloth is spoilt when a slice far out is.
        whole = shapely.box(9e4, 0, 9.001e4, cloth.width_mm)
    else:
        whole = shapely.box(0, 0, cloth.length_mm, cloth.width_mm)
    left = reduce(lambda rest, bad: rest.difference(bad), unusable(cloth), whole)
    if left.area <= 1e-6 * whole.area:
        yield Problem(
            "nothing of the cloth is left beside its flaws",
            key=f"{table}.flaws",
            allowed="flaws that leave some cloth to cut from",
            todo="Check the places and sizes of the flaws.",
        )

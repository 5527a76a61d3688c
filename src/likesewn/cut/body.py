"""Whether a finished opening passes what it must pass, at the fabric's usable stretch."""

from collections.abc import Mapping
from dataclasses import dataclass

from likesewn.cut.bands import usable_stretch
from likesewn.cut.edges import finish_chosen
from likesewn.cut.opening import Opening
from likesewn.garment import Finding, Record, Weight
from likesewn.garment.kind import FinishKind
from likesewn.units import format_length

__all__ = ["Girth", "body_girth", "passes"]

COMMON: Mapping[tuple[str, bool], float] = {("head", False): 570.0, ("head", True): 540.0}
"""Girths assumed where the record gives none, mm, by what passes and whether it is a child's: near the
middle of adult heads (ANSUR II: 95th percentile 601 men, 597 women), and an older child's (from memory).
"""


@dataclass(frozen=True, slots=True)
class Girth:
    """A girth that an opening must pass: what it is of, how much in mm (or None), and if it was given."""

    of: str
    mm: float | None
    given: bool


def body_girth(finish: FinishKind, record: Record) -> Girth:
    """Return the girth that an opening must pass: the wearer's, or else a common one."""
    given = record.wearer.head_mm if finish.body == "head" else None
    if given is not None:
        return Girth(finish.body, given, given=True)
    return Girth(finish.body, COMMON.get((finish.body, record.for_child)), given=False)


def passes(opening: Opening, record: Record, girth: Girth, ring_mm: float) -> tuple[Finding, ...]:
    """Return what is found about an opening that must pass a girth.

    Args:
        opening: The opening.
        record: The record, for fabric and unit.
        girth: What must pass.
        ring_mm: Relaxed length of the tightest line round the opening once sewn, mm.

    Returns:
        Nothing where it passes a girth that was given; a note where the girth was assumed; a finding
        that stops the work where it will not pass a given girth, and one worth a look where the girth
        was assumed.
    """
    if girth.mm is None:
        return ()
    stretch, _ = usable_stretch(record)
    if record.fabric.construction == "woven" and finish_chosen(opening.finish, record) in {
        "facing",
        "turned",
    }:
        stretch = record.fabric.stretch_across or 0.0
    opens = max(ring_mm, 0.0) * (1.0 + stretch)

    def length(mm: float) -> str:
        return format_length(mm, record.unit)

    title = opening.finish.title
    if opens >= girth.mm:
        if girth.given:
            return ()
        return (
            Finding(
                code="girth-assumed",
                weight=Weight.NOTE,
                where=title,
                message=f"The {title.lower()} opens to {length(opens)}, enough for a {girth.of} of "
                f"{length(girth.mm)}, which was assumed.",
                amount=opens,
                limit=girth.mm,
                unit="mm",
                todo=f"Measure round the wearer's {girth.of} and give it.",
            ),
        )
    assumed = "" if girth.given else ", which was assumed"
    remedy = "make the opening larger, or use a stretchier fabric."
    if "band_ratio" in record.finish_lengths.get(opening.finish.name, {}):
        remedy = "cut the band longer, make the opening larger, or use a stretchier fabric."
    first = (
        "" if girth.given else f"First measure round the wearer's {girth.of} and give it. Then, if need be, "
    )
    return (
        Finding(
            code="opening-too-small",
            weight=Weight.STOP if girth.given else Weight.LOOK,
            where=title,
            message=f"The {title.lower()} will not pass over the {girth.of}: it opens to {length(opens)}, "
            f"and the {girth.of} measures {length(girth.mm)}{assumed}.",
            amount=opens,
            limit=girth.mm,
            unit="mm",
            todo=first + remedy if first else remedy.capitalize(),
        ),
    )

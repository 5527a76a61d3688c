"""Sewing: the order of work, the stitches and their settings, what to buy and what to mind.

``plan`` holds the result; ``wording`` fills the kind's steps with this garment's figures, which ``figures``
looks up; ``about`` tells which edges a step is about; ``stitches`` holds settings, ``tables`` the tables,
``advice`` what holds for every garment.
"""

from collections.abc import Iterable

from likesewn.cut.cutlist import CutList
from likesewn.garment import Pattern, Record
from likesewn.lay.plan import Plan
from likesewn.sewing import advice, tables
from likesewn.sewing.figures import Facts
from likesewn.sewing.plan import Caution, SewingPlan, ShoppingItem, StepText, Table
from likesewn.sewing.stitches import stitches_for
from likesewn.sewing.wording import CONDITIONS, PLACEHOLDERS, fill_steps

__all__ = [
    "CONDITIONS",
    "PLACEHOLDERS",
    "Caution",
    "SewingPlan",
    "ShoppingItem",
    "StepText",
    "Table",
    "plan_sewing",
]


def plan_sewing(
    pattern: Pattern, cut_list: CutList, record: Record, plans: Iterable[Plan] = ()
) -> SewingPlan:
    """Return the order of work for a garment, in words and with its own figures.

    Args:
        pattern: The trued pattern.
        cut_list: What is cut from it.
        record: What was recorded and chosen: name, unit, machine, cloth, whether it is for a child.
        plans: Lay plans, from which the cloth to buy is taken; without any no length of cloth is named.

    Returns:
        The plan; lengths are written in the record's unit.

    Raises:
        InputError: A step of the garment's kind names something that there is not; all such faults at
            once.
    """
    facts = Facts(pattern, cut_list, record, stitches_for(record))
    plans = tuple(plans)
    size = f"size {record.size}" if record.size else ""
    wearer = f"for {record.wearer.name}" if record.wearer.name else ""
    kind = pattern.kind.title if pattern.kind.title != record.name else ""  # a garment without a name has its
    return SewingPlan(
        title=record.name,
        summary=", ".join(filter(None, (kind, size, wearer))),
        before=advice.before_sewing(facts),
        steps=fill_steps(facts),
        stitches=tables.stitch_table(facts),
        shopping=advice.shopping(facts, plans),
        tools=advice.tools(facts),
        pieces=tables.piece_table(facts),
        points=tables.point_table(facts),
        seams=tables.seam_table(facts),
        bands=tables.band_table(facts),
        measures=tables.measure_table(facts),
        notes=(*advice.notes(facts), *advice.about_cutting(plans)),
        cautions=advice.cautions(facts),
    )

"""A finding: something that a check says about a garment, a pattern or a plan."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Any

__all__ = ["Finding", "Weight", "finding_data"]


class Weight(StrEnum):
    """How much a finding weighs."""

    NOTE = "note"  # good to know; the work goes on
    LOOK = "look"  # something is off and worth a look; the work goes on
    STOP = "stop"  # the result cannot be sewn as it stands; the command exits with 1


@dataclass(frozen=True, slots=True)
class Finding:
    """What a check found: where, what, how much, the limit, and what to do.

    Attributes:
        code: Short stable name of the check, such as ``figures-disagree``.
        weight: How much it weighs.
        where: Piece, edge, corner, seam or measure that it is about, in words.
        message: What was found, as a sentence.
        amount: How much, in ``unit``, or None where no amount applies.
        limit: The limit that ``amount`` is held against, in ``unit``, or None.
        unit: ``mm``, ``degree``, ``share`` or empty.
        todo: What to do, as a sentence; empty when there is nothing to do.
    """

    code: str
    weight: Weight
    where: str
    message: str
    amount: float | None = None
    limit: float | None = None
    unit: str = ""
    todo: str = ""


def finding_data(finding: Finding) -> dict[str, Any]:
    """Return a finding as plain data."""
    return {
        "code": finding.code,
        "weight": finding.weight.value,
        "where": finding.where,
        "message": finding.message,
        "amount": finding.amount,
        "limit": finding.limit,
        "unit": finding.unit,
        "todo": finding.todo,
    }

"""How far each edge is cut outside its seam line.

The record's own figure comes first: by ``piece.edge``, then by the edge's name, then by its group
(``hem`` for edges that are turned up, ``seam`` for the rest); what the record leaves open is the kind's.
An edge round a finished opening follows its finish instead of its group.
"""

import math
from collections.abc import Mapping

from likesewn.cut.edges import Place, finish_at, finish_chosen, words
from likesewn.errors import InputError, Problem
from likesewn.garment import Finding, Kind, Pattern, PatternPiece, Record, Weight
from likesewn.units import format_length

__all__ = [
    "FINISH_ALLOWANCES",
    "LEAST_KNIT_HEM",
    "check_allowances",
    "edge_allowances",
    "hem_findings",
    "seam_allowance",
]

FINISH_ALLOWANCES: Mapping[str, float] = {"band": 0.0, "binding": 0.0, "facing": 6.0, "turned": 10.0}
"""Allowance at a finished opening, mm. A band makes up the height that its seam takes, and a binding lies
round the edge, so neither needs one (common practice, no source); an enclosed neck seam takes 6 mm
(1/4 in; reference: three published pages on allowances); a turned edge 10 mm (common practice, no source).
"""

LEAST_KNIT_HEM = 20.0
"""Least hem on a knit, mm: a narrower one tends to roll (common practice, no source)."""


def check_allowances(record: Record) -> None:
    """Refuse allowances that are no lengths; InputError with every one of them."""
    problems = [
        Problem(
            "an allowance cannot be cut",
            found=str(mm),
            file=record.file,
            line=record.lines.get(f"allowances.{name}", 0),
            key=f"allowances.{name}",
            allowed="0 or more",
        )
        for name, mm in record.allowances.items()
        if not (math.isfinite(mm) and mm >= 0.0)
    ]
    if problems:
        raise InputError(*problems)


def seam_allowance(kind: Kind, record: Record) -> float:
    """Return the allowance at plain seams, mm; a band's own allowance too."""
    return record.allowances.get("seam", kind.seam_allowance)


def edge_allowances(pattern: Pattern, piece: PatternPiece, record: Record) -> dict[str, float]:
    """Return the allowance of each edge of a piece that is not its fold, mm, by edge name."""
    return {
        edge.name: _allowance(pattern.kind, Place(piece, edge), record)
        for edge in piece.edges
        if not edge.fold
    }


def _allowance(kind: Kind, place: Place, record: Record) -> float:
    edge = place.edge
    for key in (place.name, f"{place.piece.name}.{edge.base}", edge.name, edge.base):
        if key in record.allowances:
            return record.allowances[key]
    finish = finish_at(kind, place)
    if finish is not None:
        return FINISH_ALLOWANCES[finish_chosen(finish, record)]
    if edge.base in kind.turned:
        return record.allowances.get("hem", kind.hem_allowance)
    return seam_allowance(kind, record)


def hem_findings(pattern: Pattern, record: Record) -> tuple[Finding, ...]:
    """Return a finding for each hem of a knit that is so narrow that it may roll."""
    if record.fabric.construction != "knit":
        return ()
    found: list[Finding] = []
    for piece in pattern.pieces:
        for name, mm in edge_allowances(pattern, piece, record).items():
            if piece.edge(name).base not in pattern.kind.turned or not 0.0 < mm < LEAST_KNIT_HEM:
                continue
            found.append(
                Finding(
                    code="narrow-hem",
                    weight=Weight.LOOK,
                    where=f"{piece.title}, {words(name)}",
                    message=f"A knit hem of {format_length(mm, record.unit)} tends to roll.",
                    amount=mm,
                    limit=LEAST_KNIT_HEM,
                    unit="mm",
                    todo=f"Allow {format_length(LEAST_KNIT_HEM, record.unit)} or more here.",
                )
            )
    return tuple(found)

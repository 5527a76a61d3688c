"""What was recorded at a finished opening, what will be sewn there, and where the edge must lie for it.

The edge line is where the pattern's seam line runs at the opening. It moves so that the new finished edge
lies where the old one did, as far as that is known. Moves are positive away from the middle of the opening
(into the garment). Terms as in ``bands``: w finished width, a the band's own allowance, e the edge's
allowance; o visible width of the old finish.
"""

from dataclasses import dataclass

import numpy as np

from likesewn.cut.allowances import edge_allowances
from likesewn.cut.bands import strip_widths
from likesewn.cut.cutlist import FinishRule
from likesewn.cut.edges import Place, find, finish_chosen
from likesewn.cut.opening import Opening, opening_of
from likesewn.garment import Finding, Pattern, Record, Weight
from likesewn.garment.kind import FinishKind
from likesewn.geometry import closest, point_at, tangent_at
from likesewn.truing import Untrued, move_edges
from likesewn.units import format_length

__all__ = ["Finished", "apply_finishes"]

LEAST_MOVE = 1e-6
"""Moves below this, mm, are none."""

ASSUMED_SHARE = 0.04
"""An old finish whose width is assumed is not taken to show wider than this share of its opening all round:
small garments are finished narrower (common practice, no source), and a tight curve has no parallel far
inside it."""

MOVED_WITHIN = 2.0
"""How far a moved edge may lie from the parallel of the old one, mm: what it takes to keep its corners
square and its joins smooth, and what nobody sees in a sewn opening."""


@dataclass(frozen=True, slots=True)
class Finished:
    """The pattern with its edges moved for their finishes, the rules, and findings about them."""

    pattern: Pattern
    rules: tuple[FinishRule, ...]
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class _Choice:
    """What the record says of one opening.

    ``old_mm`` is the old visible width where it is known, ``assumed_mm`` what stands in for it.
    """

    finish: FinishKind
    recorded_at: str
    sewn: str
    old_mm: float | None
    assumed_mm: float


def apply_finishes(pattern: Pattern, record: Record) -> Finished:
    """Move the edges of each finished opening for what will be sewn there.

    Args:
        pattern: The trued pattern, its lines where they were recorded.
        record: The record, for what was traced and what will be sewn.

    Returns:
        The pattern with edges moved (all of sewing's demands held), the rules in words and figures, and
        findings; a stop among them, and the edges where they were, if they cannot be moved.
    """
    moves: dict[str, float] = {}
    openings: list[tuple[_Choice, Opening]] = []
    findings: list[Finding] = []
    for finish in pattern.kind.finishes:
        opening = opening_of(pattern, finish)
        if opening is None:
            continue
        choice = _choice(opening, record)
        openings.append((choice, opening))
        for place, _ in opening.run:
            beyond = edge_allowances(pattern, place.piece, record)[place.edge.name]
            moved = _move(choice, pattern, record, beyond)
            if abs(moved) > LEAST_MOVE:
                moves[f"{place.piece.name}.{place.edge.base}"] = moved
        if choice.old_mm is None and choice.sewn != "band" and choice.recorded_at == "seam":
            findings.append(_width_assumed(choice, record))
    answer = _moved(pattern, moves)
    if isinstance(answer, str):
        findings.append(_stuck(moves, answer))
        rules = [_rule(choice, opening, pattern, record, stuck=True) for choice, opening in openings]
        return Finished(pattern, tuple(rules), tuple(findings))
    rules = [_rule(choice, opening, pattern, record) for choice, opening in openings]
    return Finished(answer, tuple(rules), tuple(findings))


def _moved(pattern: Pattern, moves: dict[str, float]) -> Pattern | str:
    """Return the pattern with its edges moved, proved, or why they cannot be moved."""
    if not moves:
        return pattern
    answer = move_edges(pattern, moves)
    if isinstance(answer, Untrued):
        return answer.reason
    for name, move in moves.items():
        old, new = find(pattern, name), find(answer, name)
        if old is None or new is None:
            continue
        away = _astray(old, new, move)
        if away > MOVED_WITHIN:
            return f"{name} would come to lie {away:.1f} mm from where it belongs"
    return answer


def _astray(old: Place, new: Place, move: float) -> float:
    """Return how far a moved edge lies from the parallel of the old one, mm, its ends left out.

    At its ends the edge grows or shrinks to its neighbours, so only the middle 80 % is held to it. The
    piece's frame may have moved with the edge (it stands at the neck point's level), so the corners that
    the edge does not touch say how far.
    """
    ends = {old.edge.start, old.edge.end}
    others = [name for name in old.piece.corners if name not in ends and name in new.piece.corners]
    shift = np.median([new.piece.corners[n] - old.piece.corners[n] for n in others] or [np.zeros(2)], axis=0)
    before, after = old.edge.path.moved(by=shift), new.edge.path
    s = np.linspace(0.1, 0.9, 41)
    at, way = point_at(before, s * before.length), tangent_at(before, s * before.length)
    wanted = at - move * np.stack([way[:, 1], -way[:, 0]], axis=-1)
    there = closest(after, wanted).distance.max()
    back = np.abs(closest(before, point_at(after, s * after.length)).distance - abs(move)).max()
    return float(max(there, back))


def _choice(opening: Opening, record: Record) -> _Choice:
    finish = opening.finish
    return _Choice(
        finish=finish,
        recorded_at=record.finish.get(finish.name, {}).get("recorded_at") or "seam",
        sewn=finish_chosen(finish, record),
        old_mm=record.finish_lengths.get(finish.name, {}).get("old_width"),
        assumed_mm=min(finish.old_width, ASSUMED_SHARE * opening.length_mm),
    )


def _move(choice: _Choice, pattern: Pattern, record: Record, beyond: float) -> float:
    widths = strip_widths(pattern.kind, choice.finish, record)
    band = widths.finished_mm - widths.allowance_mm + beyond if choice.sewn == "band" else 0.0
    if choice.recorded_at == "finished edge":
        return band
    if choice.old_mm is not None:
        return band - choice.old_mm
    return 0.0 if choice.sewn == "band" else -choice.assumed_mm


def _rule(
    choice: _Choice, opening: Opening, pattern: Pattern, record: Record, *, stuck: bool = False
) -> FinishRule:
    place = opening.run[0][0]
    beyond = edge_allowances(pattern, place.piece, record)[place.edge.name]
    moved = 0.0 if stuck else _move(choice, pattern, record, beyond)
    known = choice.recorded_at == "finished edge" or choice.old_mm is not None or choice.sewn != "band"
    rise = (beyond if choice.sewn == "binding" else 0.0) if known and not stuck else None
    return FinishRule(
        name=choice.finish.name,
        recorded_at=choice.recorded_at,
        finish=choice.sewn,
        moved_mm=moved,
        edge_rise_mm=rise,
        message=_message(choice, pattern, record, (moved, beyond), stuck=stuck),
    )


def _message(
    choice: _Choice, pattern: Pattern, record: Record, figures: tuple[float, float], *, stuck: bool
) -> str:
    moved, beyond = figures
    widths = strip_widths(pattern.kind, choice.finish, record)

    def length(mm: float) -> str:
        return format_length(abs(mm), record.unit)

    sewn = {
        "band": f"a band that shows {length(widths.finished_mm)}",
        "binding": f"a binding that shows {length(widths.finished_mm)}",
        "facing": "a facing",
        "turned": "its edge turned in",
    }[choice.sewn]
    traced = "at its seam" if choice.recorded_at == "seam" else "at its finished edge"
    parts = [f"{choice.finish.title}: the line was taken {traced} and will be sewn with {sewn}."]
    if stuck:
        return f"{parts[0]} The edge could not be moved for it, and stays where it was."
    if abs(moved) <= LEAST_MOVE:
        parts.append("The edge stays on the line that was taken.")
    else:
        way = "outward, into the garment" if moved > 0 else "inward, towards the middle of the opening"
        parts.append(f"The edge is moved {length(moved)} {way}.")
    if choice.sewn == "band" and choice.recorded_at == "seam" and choice.old_mm is None:
        over = widths.finished_mm - widths.allowance_mm + beyond
        side = "inside" if over >= 0 else "outside"
        parts.append(
            f"The band makes up the height that its seam takes; its finished edge will lie {length(over)} "
            f"{side} the old seam. To put it where the old one was, give the old finish's width."
        )
    elif choice.sewn == "binding" and beyond > 0.0:
        parts.append(f"The new finished edge lies {length(beyond)} inside the old one.")
    else:
        parts.append("The new finished edge lies where the old one did.")
    return " ".join(parts)


def _width_assumed(choice: _Choice, record: Record) -> Finding:
    width = choice.assumed_mm
    return Finding(
        code="old-finish-assumed",
        weight=Weight.NOTE,
        where=choice.finish.title,
        message=f"The old finish was taken to show {format_length(width, record.unit)}, as is usual there.",
        amount=width,
        unit="mm",
        todo="Measure how wide the old finish shows beyond its seam, and give it.",
    )


def _stuck(moves: dict[str, float], reason: str) -> Finding:
    return Finding(
        code="edge-not-moved",
        weight=Weight.STOP,
        where=", ".join(moves),
        message=f"The edge cannot be moved to where its finish needs it: {reason}.",
        amount=max(moves.values(), key=abs),
        unit="mm",
        todo="Measure the opening and the old finish's width again, or choose another finish.",
    )

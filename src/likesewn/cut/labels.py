"""What is printed on a piece: its garment, how many to cut, and what its cut line includes."""

from collections.abc import Iterable, Mapping
from datetime import date

from likesewn.cut.edges import words
from likesewn.garment import Kind, PatternPiece, Record
from likesewn.units import format_length

__all__ = ["allowance_line", "copies_line", "piece_labels"]


def copies_line(piece: PatternPiece) -> str:
    """Return how many to cut, in words."""
    if piece.on_fold:
        return f"Cut {piece.copies} on the fold"
    if piece.copies % 2 == 0:
        pairs = piece.copies // 2
        return f"Cut {piece.copies}: {pairs} {'pair' if pairs == 1 else 'pairs'}, mirrored"
    return f"Cut {piece.copies}"


def allowance_line(
    kind: Kind, piece: PatternPiece, allowances: Mapping[str, float], record: Record, plain: float
) -> str:
    """Return what the cut line includes, such as ``Included: seam 1.0 cm, hem 2.5 cm; none at neckline``.

    Args:
        kind: The kind, which knows the turned edges.
        piece: The piece.
        allowances: Allowance by edge name, mm.
        record: The record, for its unit.
        plain: Allowance of plain seams, mm, which is told once for all edges that have it.
    """
    told: dict[str, float] = {}
    none: list[str] = []
    for edge in piece.edges:
        if edge.fold:
            continue
        mm = allowances[edge.name]
        name = words(edge.base)
        if mm == 0.0:
            none.append(name)
        elif mm == plain and edge.base not in kind.turned:
            told["seam"] = mm
        else:
            told[name if name not in told or told[name] == mm else words(edge.name)] = mm
    parts = [f"{name} {format_length(mm, record.unit)}" for name, mm in told.items()]
    line = f"Included: {', '.join(parts)}" if parts else "Nothing is included"
    return f"{line}; none at {' and '.join(dict.fromkeys(none))}" if parts and none else line


def piece_labels(
    piece: PatternPiece,
    record: Record,
    *,
    included: str,
    cloth: str,
    place: tuple[int, int],
    today: date | None,
    notes: Iterable[str] = (),
) -> tuple[str, ...]:
    """Return the lines printed on a piece.

    Args:
        piece: The piece.
        record: The record, for the garment's name, size and wearer.
        included: What the cut line includes, from ``allowance_line``.
        cloth: Name of the cloth that it is cut from.
        place: Its number among all pieces, and how many there are.
        today: Date to print, or None.
        notes: Further lines.
    """
    lines = [piece.title, record.name, copies_line(piece)]
    if record.size:
        lines.append(f"Size {record.size}")
    if record.wearer.name:
        lines.append(f"For {record.wearer.name}")
    if cloth != "main":
        lines.append(f"From the cloth “{cloth}”")
    lines += [included, *notes]
    if today is not None:
        lines.append(today.isoformat())
    lines.append(f"{place[0]} of {place[1]}")
    return tuple(lines)

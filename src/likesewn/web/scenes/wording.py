"""The words of scenes: what pieces, edges, corners and measures are called where they are pointed at."""

from collections.abc import Iterable, Sequence

from likesewn.cut import CutPiece
from likesewn.garment import PatternPiece
from likesewn.units import format_length, format_with_sigma

__all__ = [
    "allowance_words",
    "and_so_on",
    "corner_words",
    "edge_words",
    "length_words",
    "measure_words",
    "moved_words",
    "piece_words",
    "plain",
    "sheet_words",
]


def plain(name: str) -> str:
    """Return a name of the kind as people read it: ``hem_side`` as ``hem side``."""
    return name.replace("_", " ")


def _of(name: str, title: str) -> str:
    return f"{plain(name).capitalize()} of the {title.lower()}"


def and_so_on(words: Sequence[str]) -> str:
    """Return words in a row: ``front``, ``front and back``, ``front, back and sleeve``."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def length_words(mm: float, unit: str, sigma_mm: float | None = None) -> str:
    """Return a length, and how sure it is where that is known."""
    return format_length(mm, unit) if sigma_mm is None else format_with_sigma(mm, sigma_mm, unit)


def edge_words(name: str, title: str, length: str) -> str:
    """Return what an edge is: ``Armhole of the front, 24.3 cm``."""
    return f"{_of(name, title)}, {length}"


def corner_words(name: str, title: str) -> str:
    """Return what a corner is: ``Neck point of the front``."""
    return _of(name, title)


def piece_words(piece: PatternPiece | CutPiece) -> str:
    """Return what a piece is: ``Front, cut 1 on the fold``."""
    return f"{piece.title}, cut {piece.copies}{' on the fold' if piece.on_fold else ''}"


def allowance_words(allowance_mm: float, unit: str) -> str:
    """Return what an edge's allowance is."""
    return f"allowance {format_length(allowance_mm, unit)}" if allowance_mm else "no allowance"


def moved_words(mm: float, near: str, unit: str) -> str:
    """Return how far truing moved an edge; ``mm`` is positive out of the piece."""
    where = f" near the {plain(near)}" if near else " in the middle"
    return f"truing moved it {format_length(abs(mm), unit, decimals=1)} {'out' if mm > 0 else 'in'}{where}"


def measure_words(title: str, value_mm: float | None, unit: str, *, taken: bool) -> str:
    """Return what a measure is and how long."""
    if value_mm is None:
        return f"{title}, not measured yet"
    length = format_length(value_mm, unit)
    return f"{title}, {length}" if taken else f"{title}, not measured yet, about {length}"


def sheet_words(name: str, titles: Iterable[str]) -> str:
    """Return what a printed sheet holds: ``Sheet B3: front and sleeve``."""
    return f"Sheet {name}: {and_so_on([title.lower() for title in titles])}"

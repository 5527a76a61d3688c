"""The words of scenes: what pieces, edges, corners and measures are called where they are pointed at."""

from collections.abc import Iterable, Sequence

from likesewn.cut import CutPiece
from likesewn.garment import PatternPiece
from likesewn.units import format_length, format_with_sigma
from likesewn.web.words import say

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
    return say("scene.of_the", what=plain(name).capitalize(), piece=title.lower())


def and_so_on(words: Sequence[str]) -> str:
    """Return words in a row: ``front``, ``front and back``, ``front, back and sleeve``."""
    if len(words) < 2:
        return "".join(words)
    return say("scene.and", some=", ".join(words[:-1]), last=words[-1])


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
    return say(
        "scene.piece_on_fold" if piece.on_fold else "scene.piece", piece=piece.title, copies=piece.copies
    )


def allowance_words(allowance_mm: float, unit: str) -> str:
    """Return what an edge's allowance is."""
    return (
        say("scene.allowance", length=format_length(allowance_mm, unit))
        if allowance_mm
        else say("scene.no_allowance")
    )


def moved_words(mm: float, near: str, unit: str) -> str:
    """Return how far truing moved an edge; ``mm`` is positive out of the piece."""
    where = say("scene.near", corner=plain(near)) if near else say("scene.in_the_middle")
    length = format_length(abs(mm), unit, decimals=1)
    return say("scene.moved_out" if mm > 0 else "scene.moved_in", length=length, where=where)


def measure_words(title: str, value_mm: float | None, unit: str, *, taken: bool) -> str:
    """Return what a measure is and how long."""
    if value_mm is None:
        return say("scene.not_measured", title=title)
    length = format_length(value_mm, unit)
    return f"{title}, {length}" if taken else say("scene.about", title=title, length=length)


def sheet_words(name: str, titles: Iterable[str]) -> str:
    """Return what a printed sheet holds: ``Sheet B3: front and sleeve``."""
    return say("scene.sheet", name=name, pieces=and_so_on([title.lower() for title in titles]))

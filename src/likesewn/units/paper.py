"""Sheet sizes, upright, in mm.

Sources: ISO 216 for the A sizes; ANSI/ASME Y14.1 for letter (ANSI A), tabloid (ANSI B) and ANSI C to E
and for the architectural sizes; US legal is common practice. The inch sizes are exact at 25.4 mm.
"""

import difflib
from collections.abc import Mapping
from dataclasses import dataclass

from likesewn.units.factors import MM_PER_INCH, UnitError

__all__ = ["PAPER", "Paper", "paper"]


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet size: its name as typed, and its sides in mm, the shorter one being the width."""

    name: str
    width_mm: float
    height_mm: float


def _inches(width: float, height: float) -> tuple[float, float]:
    return width * MM_PER_INCH, height * MM_PER_INCH


PAPER: Mapping[str, Paper] = {
    name: Paper(name, width, height)
    for name, (width, height) in {
        "a0": (841.0, 1189.0),
        "a1": (594.0, 841.0),
        "a2": (420.0, 594.0),
        "a3": (297.0, 420.0),
        "a4": (210.0, 297.0),
        "letter": _inches(8.5, 11),
        "legal": _inches(8.5, 14),
        "tabloid": _inches(11, 17),
        "ansi-c": _inches(17, 22),
        "ansi-d": _inches(22, 34),
        "ansi-e": _inches(34, 44),
        "arch-d": _inches(24, 36),
        "arch-e1": _inches(30, 42),
    }.items()
}
"""Known sheets by name."""


def paper(name: str) -> Paper:
    """Return the sheet of that name, in capitals or not.

    Raises:
        UnitError: There is none; the error lists those there are and the nearest one.
    """
    known = PAPER.get(name.strip().lower())
    if known is not None:
        return known
    near = difflib.get_close_matches(name.strip().lower()[:40], PAPER, n=1)
    raise UnitError("this paper is not known", repr(name[:40]), ", ".join(PAPER), near[0] if near else "")

"""The pattern: trued flat pieces at the seam line, with what was checked about them.

Lengths are mm, angles degrees. Piece frame as in ``garment.kind``.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.garment.finding import Finding
from likesewn.garment.kind import Kind
from likesewn.geometry import Path

__all__ = [
    "Angle",
    "Assumption",
    "Edge",
    "MeasureValue",
    "Pattern",
    "PatternPiece",
    "SeamLengths",
]


@dataclass(frozen=True, slots=True)
class Edge:
    """One edge of a piece.

    Attributes:
        name: Its name; ``cap_front`` and the like on an opened piece.
        base: The kind's name for it (``cap``), by which the kind's rules are looked up.
        side: The half it lies on when the piece is opened out, or empty.
        start: Corner it starts at.
        end: Corner it ends at.
        path: Where it runs, from start to end.
        fold: True for the fold edge of a piece on the fold.
    """

    name: str
    base: str
    side: str
    start: str
    end: str
    path: Path
    fold: bool = False


@dataclass(frozen=True, slots=True)
class PatternPiece:
    """One flat part at the seam line.

    Attributes:
        name: Its name.
        title: Its name as printed.
        copies: How many are cut for one garment.
        on_fold: True when ``edges`` describe one half and the last edge is the fold.
        edges: Its edges in order round it.
        corners: Corner positions by name, each shape (2,).
    """

    name: str
    title: str
    copies: int
    on_fold: bool
    edges: tuple[Edge, ...]
    corners: Mapping[str, NDArray[np.float64]]

    def edge(self, name: str) -> Edge:
        """Return the edge of that name; KeyError where there is none."""
        for edge in self.edges:
            if edge.name == name:
                return edge
        raise KeyError(name)


@dataclass(frozen=True, slots=True)
class MeasureValue:
    """A measure of the pattern beside what was asked.

    Attributes:
        key: The measure's key, with a prefix where it holds for one piece alone.
        title: Its name as printed.
        value_mm: What the pattern measures.
        sigma_mm: Standard uncertainty of that value.
        asked_mm: What was recorded, or None.
        asked_sigma_mm: Standard uncertainty of the recorded figure, or None.
        sides_mm: The measure on the garment's right and on its left as seen from the front, whose mean it is;
            None where the halves are alike, or the measure is taken across both.
    """

    key: str
    title: str
    value_mm: float
    sigma_mm: float
    asked_mm: float | None = None
    asked_sigma_mm: float | None = None
    sides_mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class SeamLengths:
    """The two lengths of a sewn pair; ``difference_mm`` is right less left less ease."""

    name: str
    left: str
    right: str
    left_mm: float
    right_mm: float
    ease_mm: float
    difference_mm: float


@dataclass(frozen=True, slots=True)
class Angle:
    """An angle that sewing demands: what it is and what it should be, degrees."""

    name: str
    degrees: float
    wanted: float


@dataclass(frozen=True, slots=True)
class Assumption:
    """What stands in for something that was not recorded, in words."""

    key: str
    value_mm: float
    message: str


@dataclass(frozen=True, slots=True)
class Pattern:
    """Trued pieces and what was checked about them."""

    kind: Kind
    pieces: tuple[PatternPiece, ...]
    measures: tuple[MeasureValue, ...]
    seams: tuple[SeamLengths, ...]
    square_corners: tuple[Angle, ...]
    smooth_joins: tuple[Angle, ...]
    assumptions: tuple[Assumption, ...]
    findings: tuple[Finding, ...]
    steps: int

    def piece(self, name: str) -> PatternPiece:
        """Return the piece of that name; KeyError where there is none."""
        for piece in self.pieces:
            if piece.name == name:
                return piece
        raise KeyError(name)

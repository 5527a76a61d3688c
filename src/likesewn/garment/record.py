"""The record: what was observed of a sewn garment, each figure with its uncertainty.

Lengths are millimetres, shares are fractions (0.5 for 50 %).
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

__all__ = ["Cloth", "Fabric", "Figure", "Photo", "Record", "TracedPoints", "Wearer"]

OFF_CENTRE = 1.0
"""How far a carefully made fold lies from a garment's centre, one standard deviation, mm (common practice, no
source)."""


@dataclass(frozen=True, slots=True)
class Figure:
    """One length that a person read off, with how sure they were.

    Attributes:
        mm: The length, in mm.
        sigma_mm: Its standard uncertainty in mm, or None where the person gave none.
        text: The figure as it was typed.
    """

    mm: float
    sigma_mm: float | None = None
    text: str = ""


@dataclass(frozen=True, slots=True)
class TracedPoints:
    """Points read off along one edge of one piece.

    Attributes:
        piece: Name of the piece.
        edge: Name of the edge.
        at: Points, shape (n, 2), mm, in order along the edge (either direction).
        sigma_mm: Standard uncertainty of each coordinate, mm.
        lay: Empty when the points stand in the piece's own frame; otherwise a name for the place and
            angle at which the piece lay: points of one piece with the same name lay still together.
        side: Half of a piece on the fold that they lie on as one looks at it: ``left``, ``right``, or empty.
        off_centre_mm: For a fold: how far it may lie from the garment's centre, one standard deviation, mm.
    """

    piece: str
    edge: str
    at: NDArray[np.float64]
    sigma_mm: float = 1.5
    lay: str = ""
    side: str = ""
    off_centre_mm: float = OFF_CENTRE


@dataclass(frozen=True, slots=True)
class Photo:
    """A photograph that points were traced from.

    Attributes:
        file: The picture's file name; nothing else of the picture is kept.
        face: Name of the piece that faces up, or empty.
        lay: Name under which its points stand, as in ``TracedPoints.lay``.
        thickness_mm: Height of the cloth's upper side above the table, mm, or None where it was not given.
    """

    file: str
    face: str = ""
    lay: str = ""
    thickness_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Fabric:
    """The new garment's fabric.

    Attributes:
        construction: ``knit`` or ``woven``.
        stretch_across: Usable stretch across the grain, a share.
        stretch_along: Usable stretch along the grain, a share, or None where it was not said.
    """

    construction: str = "knit"
    stretch_across: float | None = None
    stretch_along: float | None = None


@dataclass(frozen=True, slots=True)
class Cloth:
    """Cloth to cut from. Places on it count x along its length from one end and y across from one selvage.

    Attributes:
        width_mm: Usable width, selvages off, mm.
        folding: How it is folded for cutting.
        nap: Whether all pieces must point the same way.
        length_mm: Length in hand, mm, or None where it is still to be bought.
        fold_depth_mm: How deep a part fold reaches, mm, or None to have it chosen.
        shrinkage: Share of its length that it loses in its first wash, where it is bought unwashed.
        price: Price of one metre, or of one yard for people who measure in inches; None where not said.
        currency: What the price is in, as it is printed.
        flaws: Round places to avoid, each x, y and radius, mm.
        flaws_across: Stretches along the length that are spoilt over the whole width, each from and to, mm.
        flaws_along: Stretches across the width that are spoilt all along, each from and to, mm.
        outline: Outline of a remnant, corners in order, mm; empty for a whole width of cloth.
        holes: Holes in it, likewise.
        repeat_along_mm: How often its stripes or checks repeat along the length, mm; 0 for none.
        repeat_across_mm: The same across the width.
        stripe_mm: Distance from the selvage to the middle of a stripe that the middle of a piece may lie on.
        match: Points at which stripes or checks meet at a seam, by name.
    """

    width_mm: float = 1500.0
    folding: str = "folded"
    nap: bool = False
    length_mm: float | None = None
    fold_depth_mm: float | None = None
    shrinkage: float = 0.0
    price: float | None = None
    currency: str = ""
    flaws: tuple[tuple[float, float, float], ...] = ()
    flaws_across: tuple[tuple[float, float], ...] = ()
    flaws_along: tuple[tuple[float, float], ...] = ()
    outline: tuple[tuple[float, float], ...] = ()
    holes: tuple[tuple[tuple[float, float], ...], ...] = ()
    repeat_along_mm: float = 0.0
    repeat_across_mm: float = 0.0
    stripe_mm: float = 0.0
    match: tuple[str, ...] = ()

    @property
    def spoilt(self) -> bool:
        """True where some places on it cannot be used."""
        return bool(self.flaws or self.flaws_across or self.flaws_along or self.outline or self.holes)


@dataclass(frozen=True, slots=True)
class Wearer:
    """Who will wear it: a name for the labels, and girths that openings must pass, mm."""

    name: str = ""
    head_mm: float | None = None


@dataclass(frozen=True, slots=True)
class Record:
    """Everything that a garment file says.

    Attributes:
        name: The garment's name.
        kind: Name of its kind.
        unit: Unit for bare numbers and for output: ``mm``, ``cm`` or ``in``.
        size: Size as printed on labels, or empty.
        tape: Tape measures by key; a prefix such as ``front_`` holds for one piece alone.
        photos: Photographs that points were traced from.
        points: Traced points.
        allowances: Allowances in mm by edge name or group (``seam``, ``hem``), or ``piece.edge``.
        ease: Ease in mm by seam name, where it differs from the kind's.
        finish: For each finished opening of the kind (``neck``), its choices by key:
            ``recorded_at`` (``seam``, ``finished edge``), ``finish`` (``band``, ``binding``,
            ``facing``, ``turned``).
        finish_lengths: For each opening, lengths in mm: ``old_width`` (visible width of the old
            finish), ``band_cut_width``; and ``band_ratio``, a share.
        fabric: The new fabric.
        cloths: Cloths by name; the main one is ``main``.
        grain: How far a piece may lie off the grain, by piece: degrees, or ``across`` or ``bias``.
        wearer: The new wearer.
        machine: ``overlock`` or ``zigzag``.
        for_child: True when the garment is for a child.
        symmetric: False to keep the difference of its two halves; else both are copied from their mean.
        lines: 1-based line of each dotted key in the file, for messages; may be empty.
        file: Name of the garment file, for messages.
    """

    name: str
    kind: str
    unit: str = "cm"
    size: str = ""
    tape: Mapping[str, Figure] = field(default_factory=dict[str, Figure])
    photos: tuple[Photo, ...] = ()
    points: tuple[TracedPoints, ...] = ()
    allowances: Mapping[str, float] = field(default_factory=dict[str, float])
    ease: Mapping[str, float] = field(default_factory=dict[str, float])
    finish: Mapping[str, Mapping[str, str]] = field(default_factory=dict[str, Mapping[str, str]])
    finish_lengths: Mapping[str, Mapping[str, float]] = field(default_factory=dict[str, Mapping[str, float]])
    fabric: Fabric = field(default_factory=Fabric)
    cloths: Mapping[str, Cloth] = field(default_factory=dict[str, Cloth])
    grain: Mapping[str, float | str] = field(default_factory=dict[str, float | str])
    wearer: Wearer = field(default_factory=Wearer)
    machine: str = "overlock"
    for_child: bool = False
    symmetric: bool = True
    lines: Mapping[str, int] = field(default_factory=dict[str, int])
    file: str = ""

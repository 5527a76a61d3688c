"""The lay plan: where each piece lies on the cloth.

The cloth lies folded as it is cut: its length runs along x from 0 and its width along y from 0, in mm.
The grain runs along x. A fold along the cloth lies at y = 0; with the selvages brought to the middle there is
a second one at ``y = width_mm``. Cloth folded crosswise has its fold at x = 0.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Cloth, Finding, Weight

__all__ = ["FOLDINGS", "SAFETY_GAP", "WIDE_CLOTH", "Placed", "Plan"]

FOLDINGS = ("open", "folded", "folded twice", "selvages to the middle", "crosswise", "part fold")
"""How a garment file may say that cloth is folded."""

SAFETY_GAP = 2.0
"""Least distance kept between two cut lines, mm: room for the blade (common practice, no source)."""

WIDE_CLOTH = 1400.0
"""Width from which the trade's rule for the length of cloth holds, mm (common practice, no source)."""


@dataclass(frozen=True, slots=True, eq=False)
class Placed:
    """One outline that is cut, through one layer or several.

    Attributes:
        piece: Name of the piece.
        copy: Number of the first copy that is cut here, from 1.
        outline: Cut line as a closed polygon in cloth coordinates, shape (n, 2), mm, first point not
            repeated. A piece that lies on a fold shows its half.
        turned: Degrees from x towards y by which the piece's downward direction is turned from running along
            x; 180 when it runs against it.
        mirrored: True when the paper lies face down. (On a fold either face gives the same piece.)
        on_fold: True when the outline is one half, its fold edge on a fold of the cloth.
        layers: How many layers of cloth are cut through.
        top: The first layer that is cut, counted from the top, from 1.
        along_with: Another piece that is cut in the same go, from other layers, or empty.
    """

    piece: str
    copy: int
    outline: NDArray[np.float64]
    turned: float
    mirrored: bool
    on_fold: bool
    layers: int
    top: int = 1
    along_with: str = ""

    @property
    def copies(self) -> int:
        """How many copies of the piece this outline yields."""
        return self.layers // 2 if self.on_fold else self.layers


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Where the pieces lie on one cloth and how much of it to buy.

    A plan whose findings include one of weight STOP places nothing, and its lengths are 0.

    Attributes:
        cloth_name: Name of the cloth.
        cloth: The cloth as it was asked for.
        folding: How it is folded in this plan.
        width_mm: Width of the cloth as it lies folded, mm.
        length_mm: Length of cloth that the pieces take up, mm.
        buy_mm: Length to buy, mm: straightened at both ends and rounded up as shops sell.
        layers: Layers of cloth, 1, 2 or 4.
        placed: The outlines to cut, in the order to cut them in.
        used_fraction: Area of all copies over the area of the cloth they take up.
        bound_mm: Area of all copies over the cloth's whole width: no lay can be shorter.
        findings: What was noticed.
        rule_mm: Length by the trade's rule, mm, or None where it does not apply.
        fold_depth_mm: Depth of a part fold, mm; 0 for other foldings.
        steps: Steps that the search took.
    """

    cloth_name: str
    cloth: Cloth
    folding: str
    width_mm: float
    length_mm: float
    buy_mm: float
    layers: int
    placed: tuple[Placed, ...]
    used_fraction: float
    bound_mm: float
    findings: tuple[Finding, ...]
    rule_mm: float | None = None
    fold_depth_mm: float = 0.0
    steps: int = 0

    @property
    def stopped(self) -> bool:
        """True when the pieces do not fit this cloth."""
        return any(finding.weight is Weight.STOP for finding in self.findings)

    @property
    def lies_mm(self) -> float:
        """Length that the pieces take up of the cloth as it lies, mm: half when it is folded crosswise."""
        return self.length_mm / 2 if self.folding == "crosswise" else self.length_mm

"""The cut list: pieces with allowances and marks, how many of each and from which cloth.

Lengths are mm. A piece keeps its pattern frame; a piece on the fold is its half, the fold on x = 0.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from likesewn.garment import Edge, Finding
from likesewn.geometry import Path, flatten

__all__ = ["Band", "CutList", "CutPiece", "FinishRule", "Notch"]


@dataclass(frozen=True, slots=True)
class Notch:
    """A matching point, drawn across the allowance from the cut line towards the seam line.

    Attributes:
        name: What the sewing plan calls it (``front notch``, ``sleeve top``, ``quarter mark``).
        edge: Edge that it lies on.
        along_mm: Distance along that edge's seam line from its start.
        marks: 1 for a single notch, 2 for a double one.
        lines: The strokes to draw, each a straight path of about 5 mm inward from the cut line.
    """

    name: str
    edge: str
    along_mm: float
    marks: int
    lines: tuple[Path, ...]


@dataclass(frozen=True, slots=True)
class CutPiece:
    """One piece as it is cut.

    Attributes:
        name: Its name.
        title: Its name as printed.
        copies: How many are cut for one garment; a mirrored pair counts two.
        on_fold: True when the paths describe one half and the fold edge lies on x = 0.
        cloth: Name of the cloth that it is cut from.
        seam: Seam line, one ``Edge`` per edge in order (the fold edge included, last).
        cut: Cut line by edge name, one path per edge in the order of ``seam``, each starting where the
            one before ends; the fold edge has none.
        allowances: Allowance by edge name, mm.
        notches: Matching points.
        grain: Grain line, a straight path.
        labels: Lines of text to print on the piece.
        marks: Further lines to draw on it, such as a band's folding lines.
    """

    name: str
    title: str
    copies: int
    on_fold: bool
    cloth: str
    seam: tuple[Edge, ...]
    cut: Mapping[str, Path]
    allowances: Mapping[str, float]
    notches: tuple[Notch, ...]
    grain: Path
    labels: tuple[str, ...]
    marks: tuple[Path, ...] = ()

    def outline(self, tolerance: float = 0.05) -> NDArray[np.float64]:
        """Return the cut line as one closed polygon, shape (n, 2), mm, first point not repeated.

        A half piece on the fold gives the half, closed along the fold. ``tolerance`` bounds the
        distance between polygon and cut line, mm.
        """
        runs = [flatten(path, tolerance) for path in self.cut.values()]
        points = np.concatenate([run[:-1] for run in runs])
        return np.vstack([points, runs[-1][-1:]]) if self.on_fold else points


@dataclass(frozen=True, slots=True)
class Band:
    """A band or binding computed from the opening that it is sewn to.

    Attributes:
        name: The band piece's name.
        title: As printed.
        edge_mm: Length of the opening's edge all round, relaxed.
        ratio: Cut length over ``edge_mm``.
        trade_ratio: Ratio that common practice gives for this stretch.
        bound_ratio: Largest ratio at which the band can lie flat: the curve one band width inside.
        cut_length_mm: Length to cut, joining allowances included.
        cut_width_mm: Width to cut, before folding.
        finished_width_mm: Width that shows once sewn.
        allowance_mm: The band's own seam allowance.
        ring_mm: Length once joined to a ring.
        strain: How far the ring is stretched on to the edge, a share.
        quarter_ahead_mm: How far the side quarter marks fall ahead of the seam between the two
            halves of the opening (towards the longer half).
        quarters_mm: Distance of the quarter marks along the opening from the first fold.
    """

    name: str
    title: str
    edge_mm: float
    ratio: float
    trade_ratio: float
    bound_ratio: float
    cut_length_mm: float
    cut_width_mm: float
    finished_width_mm: float
    allowance_mm: float
    ring_mm: float
    strain: float
    quarter_ahead_mm: float
    quarters_mm: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class FinishRule:
    """What was traced at an opening and what will be sewn there.

    Attributes:
        name: The opening's name (``neck``).
        recorded_at: ``seam`` or ``finished edge``.
        finish: ``band``, ``binding``, ``facing`` or ``turned``.
        moved_mm: How far the edge moved away from the opening's middle (negative: towards it).
        edge_rise_mm: How far the new finished edge lies inside the old one (0: where it was), or None
            where the old one is not known.
        message: The rule in words, with figures.
    """

    name: str
    recorded_at: str
    finish: str
    moved_mm: float
    edge_rise_mm: float | None
    message: str


@dataclass(frozen=True, slots=True)
class CutList:
    """Everything to cut for one garment."""

    garment: str
    pieces: tuple[CutPiece, ...]
    bands: tuple[Band, ...]
    finishes: tuple[FinishRule, ...]
    findings: tuple[Finding, ...]

    def piece(self, name: str) -> CutPiece:
        """Return the piece of that name; KeyError where there is none."""
        for piece in self.pieces:
            if piece.name == name:
                return piece
        raise KeyError(name)

"""Hints: what a person may add to mend a bad start, in pixels of the photograph.

One rectangle round the garment, a line drawn roughly round it, a few strokes on the garment or on the table,
or a corner moved. Pixel centres lie at whole numbers; x runs right, y down.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

if TYPE_CHECKING:
    from likesewn.photo.drawn_line import DrawnLine

__all__ = ["BAND", "NO_HINT", "Hint"]


BAND = 2.75
"""Spreads from a drawn line beyond which everything is settled: 1 in 170 points of a line so rough is farther
off."""


@dataclass(frozen=True, slots=True)
class Hint:
    """What a person showed in the photograph.

    Attributes:
        rectangle: Left, top, right and bottom of a box that holds the whole garment, px, or None.
        garment: Strokes that lie on the garment, each of shape (n, 2), px.
        table: Strokes that lie on what is not the garment, each of shape (n, 2), px.
        corners: Corners put in place by hand, by name, each (x, y) px.
        drawn: Points along the garment's outline as it was drawn round roughly, in order, shape (n, 2), px,
            or None: a few, tapped at its corners and here and there between them, or a finger's line. It
            closes by itself; ``drawn_line.line_problem`` says what no such line may be.
    """

    rectangle: tuple[float, float, float, float] | None = None
    garment: tuple[NDArray[np.float64], ...] = ()
    table: tuple[NDArray[np.float64], ...] = ()
    corners: Mapping[str, tuple[float, float]] = field(default_factory=dict[str, tuple[float, float]])
    drawn: NDArray[np.float64] | None = None

    def line(self) -> "DrawnLine | None":
        """Return the line that was drawn round the garment, or None."""
        if self.drawn is None:
            return None
        # few draw a line, and what it needs takes a tenth of a second to load
        from likesewn.photo.drawn_line import DrawnLine  # noqa: PLC0415

        return DrawnLine.through(self.drawn)


NO_HINT = Hint()
"""Nothing was shown."""

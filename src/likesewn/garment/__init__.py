"""What a garment is: its kind, the record of it, and the pattern made from it.

``kind`` and ``kinds/*.toml`` say how classes of garments are put together; ``record`` holds what was
observed; ``pattern`` holds trued pieces; ``finding`` is what a check says; the garment file is read
and written here too.
"""

from likesewn.garment.finding import Finding, Weight
from likesewn.garment.kind import Kind
from likesewn.garment.pattern import (
    Angle,
    Assumption,
    Edge,
    MeasureValue,
    Pattern,
    PatternPiece,
    SeamLengths,
)
from likesewn.garment.record import Cloth, Fabric, Figure, Record, TracedPoints, Wearer

__all__ = [
    "Angle",
    "Assumption",
    "Cloth",
    "Edge",
    "Fabric",
    "Figure",
    "Finding",
    "Kind",
    "MeasureValue",
    "Pattern",
    "PatternPiece",
    "Record",
    "SeamLengths",
    "TracedPoints",
    "Wearer",
    "Weight",
]

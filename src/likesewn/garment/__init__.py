"""What a garment is: its kind, the record of it, and the pattern made from it.

``kind`` and ``kinds/*.toml`` say how classes of garments are put together; ``record`` holds what was
observed; ``pattern`` holds trued pieces; ``finding`` is what a check says; ``uneven`` opens a kind out
for a garment whose halves differ; the garment file is read and written here too.
"""

from likesewn.garment.editing import update_garment
from likesewn.garment.finding import Finding, Weight
from likesewn.garment.garment_file import Draft, read_draft, read_garment
from likesewn.garment.kind import Kind
from likesewn.garment.kinds import kind_names, load_kind, read_kind
from likesewn.garment.pattern import (
    Angle,
    Assumption,
    Edge,
    MeasureValue,
    Pattern,
    PatternPiece,
    SeamLengths,
)
from likesewn.garment.record import Cloth, Fabric, Figure, Photo, Record, TracedPoints, Wearer
from likesewn.garment.schema import garment_schema
from likesewn.garment.writing import new_garment, write_garment

__all__ = [
    "Angle",
    "Assumption",
    "Cloth",
    "Draft",
    "Edge",
    "Fabric",
    "Figure",
    "Finding",
    "Kind",
    "MeasureValue",
    "Pattern",
    "PatternPiece",
    "Photo",
    "Record",
    "SeamLengths",
    "TracedPoints",
    "Wearer",
    "Weight",
    "garment_schema",
    "kind_names",
    "load_kind",
    "new_garment",
    "read_draft",
    "read_garment",
    "read_kind",
    "update_garment",
    "write_garment",
]

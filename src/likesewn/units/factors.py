"""The one table of unit factors, the words that stand for each unit, and the error of this package."""

from collections.abc import Mapping

from likesewn.errors import LikesewnError

__all__ = ["MM_PER_INCH", "UNIT_MM", "UNIT_WORDS", "UnitError"]

MM_PER_INCH = 25.4
"""Exact: the international yard and pound agreement of 1959 sets the yard to 0.9144 m."""

UNIT_MM: Mapping[str, float] = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "ft": 304.8,
    "yd": 914.4,
}
"""Millimetres in each unit."""

UNIT_WORDS: Mapping[str, str] = {
    word: unit
    for unit, words in {
        "mm": "mm mms millimetre millimetres millimeter millimeters",
        "cm": "cm cms centimetre centimetres centimeter centimeters",
        "m": "m metre metres meter meters",
        "in": "in ins inch inches in. ins. \" '' ″ ”",
        "ft": "ft foot feet ft. ' ′ ’",
        "yd": "yd yds yard yards yd. yds.",
    }.items()
    for word in words.split()
}
"""The unit that each word or sign stands for, in lower case."""


class UnitError(LikesewnError, ValueError):
    """A length, share, unit or paper name cannot be understood.

    Attributes:
        message: What is wrong, as a sentence without a full stop.
        found: What was read.
        allowed: What would be accepted.
        nearest: The nearest name that is known, where one is near.
    """

    def __init__(self, message: str, found: str, allowed: str, nearest: str = "") -> None:
        self.message = message
        self.found = found
        self.allowed = allowed
        self.nearest = nearest
        hint = f"; did you mean {nearest}?" if nearest else ""
        super().__init__(f"{message}: found {found}; allowed: {allowed}{hint}")

"""Lengths, shares and paper sizes as people write them.

``factors`` holds the one table of unit factors; ``reading`` turns what a person typed into mm and
shares; ``showing`` turns mm back into words; ``paper`` lists sheet sizes.
"""

from likesewn.units.factors import MM_PER_INCH, UNIT_MM, UnitError
from likesewn.units.paper import PAPER, Paper, paper
from likesewn.units.reading import LENGTH_FORMS, SHARE_FORMS, Length, parse_length, parse_share
from likesewn.units.showing import format_length, format_share, format_with_sigma

__all__ = [
    "LENGTH_FORMS",
    "MM_PER_INCH",
    "PAPER",
    "SHARE_FORMS",
    "UNIT_MM",
    "Length",
    "Paper",
    "UnitError",
    "format_length",
    "format_share",
    "format_with_sigma",
    "paper",
    "parse_length",
    "parse_share",
]

"""Lengths and shares as people read them.

Metric lengths show decimals; inches and yards show fractions in lowest terms. A length that rounds to
nothing never shows a minus sign.
"""

from fractions import Fraction

from likesewn.units.factors import UNIT_MM, UnitError

__all__ = ["format_length", "format_share", "format_with_sigma"]

_DECIMALS = {"mm": 0, "cm": 1, "m": 2}


def format_length(
    mm: float,
    unit: str,
    *,
    denominator: int = 8,
    decimals: int | None = None,
    with_unit: bool = True,
) -> str:
    """Return a length as text: ``49.0 cm``, ``490 mm``, ``19 1/4 in``.

    Args:
        mm: The length, mm; finite.
        unit: A key of ``UNIT_MM``.
        denominator: Inches, feet and yards are rounded to one part in this many.
        decimals: Decimals of a metric length; None gives mm 0, cm 1, m 2.
        with_unit: Whether the unit follows the figure.

    Returns:
        The text, rounded to the nearest step, halves to even.

    Raises:
        UnitError: The unit is not known.
    """
    if unit not in UNIT_MM:
        raise UnitError("this is not a unit", repr(unit), ", ".join(UNIT_MM))
    if unit in _DECIMALS:
        places = _DECIMALS[unit] if decimals is None else decimals
        figure = f"{mm / UNIT_MM[unit]:.{places}f}"
        if float(figure) == 0:
            figure = figure.removeprefix("-")
    else:
        figure = _with_fraction(round(mm / UNIT_MM[unit] * denominator), denominator)
    return f"{figure} {unit}" if with_unit else figure


def _with_fraction(parts: int, denominator: int) -> str:
    whole, left = divmod(abs(parts), denominator)
    sign = "-" if parts < 0 else ""
    if not left:
        return f"{sign}{whole}"
    return f"{sign}{f'{whole} ' if whole else ''}{Fraction(left, denominator)}"


def format_with_sigma(mm: float, sigma_mm: float, unit: str) -> str:
    """Return a length with its uncertainty: ``49.0 ± 0.2 cm``, ``19 1/4 ± 1/16 in``.

    The uncertainty never shows as nothing: it is at least one step of the last place (a tenth of a
    centimetre or millimetre, a sixteenth of an inch), so that the text does not claim more than it says.
    """
    if unit in _DECIMALS:
        decimals = max(_DECIMALS[unit], 1)
        step = UNIT_MM[unit] / 10**decimals
        shown = format_length(mm, unit, decimals=decimals, with_unit=False)
        return f"{shown} ± {format_length(max(sigma_mm, step), unit, decimals=decimals)}"
    shown = format_length(mm, unit, with_unit=False)
    return f"{shown} ± {format_length(max(sigma_mm, UNIT_MM.get(unit, 1.0) / 16), unit, denominator=16)}"


def format_share(share: float) -> str:
    """Return a share as text: ``50 %``."""
    return f"{round(100 * share)} %"

"""How much cloth to buy for a lay, in the lengths that shops sell."""

import math
from collections.abc import Mapping

from likesewn.garment import Cloth, Kind
from likesewn.units import UNIT_MM, format_length

__all__ = ["END_MARGIN", "IMPERIAL", "buy_length", "buy_text", "length_rule", "price_text", "shop_steps"]

END_MARGIN = 30.0
"""Cloth lost at each end when it is straightened along a thread or a course of knitting, mm
(common practice, no source)."""

METRIC_STEP = 100.0
YARD_STEP = UNIT_MM["yd"] / 8
IMPERIAL = frozenset({"in", "ft", "yd"})
"""Units of people who buy cloth by the yard."""


def buy_length(length_mm: float, unit: str, shrinkage: float = 0.0) -> float:
    """Return the length to buy for a lay of ``length_mm``, in mm.

    The lay is lengthened by what the wash takes back, ``END_MARGIN`` is added at each end, and the sum is
    rounded up as shops sell: to 10 cm, or to 1/8 yard when ``unit`` is one of ``in``, ``ft``, ``yd``.

    Args:
        length_mm: Length of the lay, mm, 0 or more. A lay of 0 needs no cloth.
        unit: Unit in which the person measures.
        shrinkage: Share of its length that the cloth loses in its first wash, at least 0 and below 1.

    Raises:
        ValueError: When ``length_mm`` is negative or not finite, or ``shrinkage`` is outside its range.
    """
    if not math.isfinite(length_mm) or length_mm < 0:
        raise ValueError(f"a lay has a length of 0 or more, not {length_mm!r} mm")
    if not 0 <= shrinkage < 1:
        raise ValueError(f"shrinkage is a share of at least 0 and below 1, not {shrinkage!r}")
    if length_mm == 0:
        return 0.0
    return shop_steps(length_mm / (1 - shrinkage) + 2 * END_MARGIN, unit)


def shop_steps(length_mm: float, unit: str) -> float:
    """Return a length rounded up to what shops sell, mm: 10 cm, or 1/8 yard for ``in``, ``ft`` and ``yd``."""
    step = YARD_STEP if unit in IMPERIAL else METRIC_STEP
    # The small allowance keeps a length of a whole number of steps from being charged one more.
    return math.ceil(length_mm / step - 1e-9) * step


def buy_text(buy_mm: float, unit: str) -> str:
    """Return a length to buy as one asks for it in a shop: ``1.5 m``, or ``1 3/4 yd``.

    Yards are given to the nearest eighth, metres to the nearest 10 cm; both suit ``buy_length``.
    """
    if unit in IMPERIAL:
        return format_length(buy_mm, "yd", denominator=8)
    return format_length(buy_mm, "m", decimals=1)


def price_text(buy_mm: float, cloth: Cloth, unit: str) -> str:
    """Return what a length of cloth costs, such as ``21.75 EUR``; empty where the price is not known.

    The price is that of a metre, or of a yard when ``unit`` is one of ``in``, ``ft``, ``yd``.
    """
    if cloth.price is None:
        return ""
    cost = cloth.price * buy_mm / UNIT_MM["yd" if unit in IMPERIAL else "m"]
    return f"{cost:.2f} {cloth.currency}".strip()


def length_rule(kind: Kind, measures: Mapping[str, float]) -> float | None:
    """Return the trade's rule for the length of wide cloth, mm, or None where it cannot be had.

    The rule is the sum of the kind's ``length_rule`` measures, such as body length and sleeve length for a
    top (common practice, no source). It holds for cloth of ``WIDE_CLOTH`` and more.

    Args:
        kind: The kind.
        measures: Measures in mm by key.
    """
    if not kind.length_rule or any(key not in measures for key in kind.length_rule):
        return None
    return sum(measures[key] for key in kind.length_rule)

"""Lengths and shares as people write them: ``49``, ``490 mm``, ``19 1/4 in``, ``1' 7"``, ``49 +- 0.3 cm``.

Figures are read as exact fractions and turned into floats once, at the end, so that ``49.3 cm`` is the
float nearest to 493 mm.
"""

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import NoReturn

from likesewn.units.factors import UNIT_MM, UNIT_WORDS, UnitError

__all__ = ["LENGTH_FORMS", "SHARE_FORMS", "Length", "parse_length", "parse_share"]

LENGTH_FORMS = "a length such as 49, 49 cm, 490 mm, 19 1/4 in, 1.5 yd or 49 +- 0.3 cm"
"""What ``parse_length`` accepts, for messages."""

SHARE_FORMS = "a share such as 0.5 or 50 %"
"""What ``parse_share`` accepts, for messages."""

MOST_LETTERS = 100
"""No length takes more letters to write; what does is something else, and slow to look at."""

MOST_MM = 1e7
"""Ten kilometres: beyond any cloth, and still far inside what a float holds."""

_VULGAR = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅕": "1/5", "⅖": "2/5", "⅗": "3/5",
    "⅘": "4/5", "⅙": "1/6", "⅚": "5/6", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
_SIGNS = str.maketrans(
    {"⁄": "/", "∕": "/", "−": "-", "–": "-", "‐": "-", "‑": "-"}
)  # fraction slashes, minus signs, dashes

_MIXED = r"[0-9]+(?:\ +|\ *-\ *)[0-9]+\ */\ *[0-9]+"
_NUMBER = rf"(?:{_MIXED}|[0-9]+\ */\ *[0-9]+|[0-9]*[.,][0-9]+|[0-9]+[.,]?)"
_UNIT = "|".join(re.escape(word) for word in sorted(UNIT_WORDS, key=len, reverse=True))
_QUANTITY = re.compile(rf"\ *(?P<number>{_NUMBER})\ *(?P<unit>(?:{_UNIT})(?![a-z]))?")
_PLUS_MINUS = re.compile(r"\+ ?/? ?-|±")
_THOUSANDS = re.compile(r"[0-9][.,][0-9]+[.,][0-9]|(?<![0-9])[1-9][0-9]{0,2},[0-9]{3}(?![0-9])")
_WORD = re.compile(r"[0-9. ]+([a-z]+)")


@dataclass(frozen=True, slots=True)
class Length:
    """A length that was read.

    Attributes:
        mm: The length, mm.
        sigma_mm: Its uncertainty, mm, or None where none was given.
        text: As it was written.
    """

    mm: float
    sigma_mm: float | None = None
    text: str = ""


def parse_length(text: str | float, unit: str) -> Length:
    """Read a length.

    Forms: a number with or without a unit (``49``, ``49 cm``, ``490mm``, ``2 m``, ``1.5 yd``); decimal
    point or comma; fractions (``19 1/4 in``, ``19-1/4"``, ``19¼ in``); feet or yards with smaller units
    after them (``1 ft 7 in``, ``1' 7"``); an uncertainty after ``+-``, ``+/-`` or ``±``. The uncertainty
    is in the length's unit unless it has its own. Where only the uncertainty has a unit, it covers both
    (``49 +- 0.3 cm``), except that a smaller unit of the default's own family could be meant either way
    and is refused. Letters may be capitals.

    Args:
        text: What was written, or a plain number.
        unit: Unit for numbers that stand alone, a key of ``UNIT_MM``; empty where there is none, and
            then a number alone is refused.

    Returns:
        The length in mm, its uncertainty in mm, and the text.

    Raises:
        UnitError: It is not a length, or could be read in two ways.
    """
    if unit and unit not in UNIT_MM:
        raise UnitError("this is not a unit", _shown(unit), ", ".join(UNIT_MM))
    if isinstance(text, str):
        return _Reading(text, unit).length()
    plain = _plain(text, LENGTH_FORMS)
    if not unit:
        raise UnitError("this figure has no unit", _shown(text), LENGTH_FORMS)
    return Length(_in_range(plain * Fraction(str(UNIT_MM[unit])), text), None, str(text))


def parse_share(text: str | float) -> float:
    """Read a share: ``0.5``, ``"0.5"``, ``"50 %"``, ``"1/2"``.

    Raises:
        UnitError: It is not a share.
    """
    if not isinstance(text, str):
        return _share_in_range(_plain(text, SHARE_FORMS), text)
    tidy = _tidy(text, SHARE_FORMS)
    found = re.fullmatch(rf"(-?) *({_NUMBER}) *(%|percent|per cent)?", tidy)
    if found is None or _THOUSANDS.search(tidy):
        raise UnitError("this is not a share", _shown(text), SHARE_FORMS)
    value = _number(found[2], text, SHARE_FORMS) / (100 if found[3] else 1)
    return _share_in_range(-value if found[1] else value, text)


def _share_in_range(value: Fraction, text: object) -> float:
    if abs(value) > MOST_MM:
        raise UnitError("this is far too large for a share", _shown(text), SHARE_FORMS)
    return float(value)


def _shown(value: object) -> str:
    try:
        text = str(value)
    except ValueError:  # Python refuses to write whole numbers of many thousand digits
        text = "a number of thousands of digits"
    text = "".join(c if c.isprintable() else "�" for c in text[: MOST_LETTERS + 1])
    return text if len(text) <= MOST_LETTERS else f"{text[:40]}…"


def _plain(value: object, forms: str) -> Fraction:
    """Return a number exactly as it was typed, not as the float nearest to it."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise UnitError("this is not a number", _shown(value), forms)
    if isinstance(value, int):
        return Fraction(value)
    if not math.isfinite(value):
        raise UnitError("this is not a finite number", _shown(value), forms)
    return Fraction(str(float(value)))


def _in_range(mm: Fraction, text: object) -> float:
    if abs(mm) > MOST_MM:
        raise UnitError("this is longer than ten kilometres", _shown(text), LENGTH_FORMS)
    return float(mm)


def _tidy(text: str, forms: str) -> str:
    if len(text) > MOST_LETTERS:
        raise UnitError("this is too long to be a figure", _shown(text), forms)
    signs = "".join(f" {_VULGAR[c]}" if c in _VULGAR else c for c in text).translate(_SIGNS)
    return " ".join(signs.lower().split())


def _number(text: str, whole: str, forms: str) -> Fraction:
    """Return the number of a match of ``_NUMBER``; ``whole`` is what it stands in, for messages."""
    *first, last = re.split(r"[ -]+(?=[0-9]+ */)", text)
    try:
        return sum((Fraction(part) for part in first), _fraction(last))
    except ZeroDivisionError:
        raise UnitError("this fraction has nothing below its line", _shown(whole), forms) from None


def _fraction(text: str) -> Fraction:
    return Fraction(text.replace(",", ".").replace(" ", "").removesuffix("."))


class _Reading:
    """One text being read as a length."""

    def __init__(self, text: str, unit: str) -> None:
        self.text = text
        self.default = unit
        self.tidy = _tidy(text, LENGTH_FORMS)

    def refuse(self, message: str, allowed: str = LENGTH_FORMS) -> NoReturn:
        raise UnitError(message, _shown(self.text) or "nothing", allowed)

    def length(self) -> Length:
        if not self.tidy:
            self.refuse("there is no figure here")
        if _THOUSANDS.search(self.tidy):
            self.refuse(
                "a comma or point here could be read in two ways",
                "figures without separators between thousands, such as 1234.5 or 1234,5",
            )
        sign, body = (-1, self.tidy[1:]) if self.tidy.startswith("-") else (1, self.tidy)
        parts = _PLUS_MINUS.split(body)
        if len(parts) > 2:
            self.refuse("there is more than one uncertainty")
        value, unit = self.sum_of(parts[0])
        if len(parts) == 1:
            return Length(_in_range(sign * value * self.factor(unit), self.text), None, self.text)
        spread, spread_unit = self.sum_of(parts[1])
        if spread <= 0:
            self.refuse("the uncertainty must be more than 0")
        unit = unit or self.shared(spread_unit)
        mm = _in_range(sign * value * self.factor(unit), self.text)
        return Length(mm, _in_range(spread * self.factor(spread_unit or unit), self.text), self.text)

    def shared(self, spread_unit: str) -> str:
        """Return the unit for a length whose uncertainty alone has one."""
        metric = {"mm", "cm", "m"}
        default = self.default
        if not spread_unit or not default or spread_unit == default:
            return spread_unit
        if (spread_unit in metric) == (default in metric) and UNIT_MM[spread_unit] < UNIT_MM[default]:
            self.refuse(
                f"the first figure could be in {default} or in {spread_unit}",
                f"a unit after each figure, such as 49 {default} +- 3 {spread_unit}",
            )
        return spread_unit

    def factor(self, unit: str) -> Fraction:
        unit = unit or self.default
        if not unit:
            self.refuse("this figure has no unit")
        return Fraction(str(UNIT_MM[unit]))

    def sum_of(self, text: str) -> tuple[Fraction, str]:
        """Return the figures of ``text`` added up, in the unit of the last one, and that unit."""
        found: list[tuple[Fraction, str]] = []
        at = 0
        while at < len(text.rstrip()):
            match = _QUANTITY.match(text, at)
            if match is None:
                self.refuse(*self.unknown())
            found.append(
                (
                    _number(match["number"], self.text, LENGTH_FORMS),
                    UNIT_WORDS[match["unit"]] if match["unit"] else "",
                )
            )
            at = match.end()
        if not found:
            self.refuse("a figure is missing")
        units = [unit for _, unit in found]
        if len(found) == 1:
            return found[0]
        if "" in units:
            self.refuse("one of these figures has no unit", "a unit after each figure, such as 1 ft 7 in")
        sizes = [UNIT_MM[unit] for unit in units]
        if any(small >= large for large, small in pairwise(sizes)):
            self.refuse("these figures do not add up to one length", "larger units first, such as 1 ft 7 in")
        total = sum((n * Fraction(str(UNIT_MM[unit])) for n, unit in found), Fraction(0))
        return total / Fraction(str(UNIT_MM[units[-1]])), units[-1]

    def unknown(self) -> tuple[str, str]:
        word = _WORD.search(self.tidy)
        if word and word[1] not in UNIT_WORDS:
            return f"{_shown(word[1])} is not a unit", f"{', '.join(UNIT_MM)}, or their names written out"
        return "this is not a length", LENGTH_FORMS

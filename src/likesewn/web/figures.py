"""Figures as they are typed and shown: what a field holds, how sure a person is, and what the file is to say.

A person who is unsure of a tape reading gives it twice the usual uncertainty, written as the file has it:
``49 +- 0.6``. A figure with an uncertainty of its own keeps that.
"""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any, Literal, TypeAlias

from likesewn.garment.kind import Measure
from likesewn.units import UNIT_MM, UnitError, format_length, parse_length

__all__ = [
    "Shown",
    "Sure",
    "bare",
    "figure_value",
    "file_value",
    "file_values",
    "plain_value",
    "shown_figure",
    "text_of",
]

Sure: TypeAlias = Literal["sure", "unsure", "own"]

UNSURE = 2.0
"""An unsure reading is this many times as uncertain as a usual one."""

NEAR = 0.15
"""An uncertainty within this of twice the usual one, mm, is one that was written for an unsure reading."""

_PLUS_MINUS = re.compile(r"\s*(?:\+ ?/? ?-|±)\s*")
_WHOLE = re.compile(r"-?(?:0|[1-9][0-9]{0,8})")
_DECIMAL = re.compile(r"-?(?:0|[1-9][0-9]{0,8})\.[0-9]{1,6}")


@dataclass(frozen=True, slots=True)
class Shown:
    """A figure as its field shows it.

    Attributes:
        text: What stands in the field.
        sure: ``sure``, ``unsure``, or ``own`` where it carries an uncertainty of its own.
        spread: That uncertainty as it was typed, where it is one of its own.
    """

    text: str = ""
    sure: Sure = "sure"
    spread: str = ""


def shown_figure(text: str, measure: Measure, unit: str) -> Shown:
    """Return what a field shows for a figure of the file.

    Args:
        text: The figure as it stands in the file.
        measure: The measure.
        unit: The file's unit.
    """
    parts = _PLUS_MINUS.split(text, maxsplit=1)
    if len(parts) < 2:
        return Shown(text)
    try:
        sigma = parse_length(text, unit).sigma_mm
    except UnitError:
        sigma = None
    if sigma is not None and abs(sigma - UNSURE * measure.sigma) < NEAR:
        return Shown(parts[0], "unsure")
    return Shown(text, "own", parts[1])


def figure_value(typed: str, sure: Sure, measure: Measure, unit: str) -> str | int | float | None:
    """Return what the file is to say for a figure; None where the field was emptied.

    Args:
        typed: What was typed.
        sure: How sure the person is; an uncertainty that was typed goes before it.
        measure: The measure.
        unit: The file's unit.
    """
    typed = " ".join(typed.split())
    if len(_PLUS_MINUS.split(typed)) > 1:
        return typed
    if sure != "unsure" or not typed:
        return plain_value(typed)
    try:
        parse_length(typed, unit)
    except UnitError:
        return typed  # refused as it was typed
    sigma = UNSURE * measure.sigma
    try:
        parse_length(typed, "")
    except UnitError:
        decimals = {"mm": 0, "cm": 1}.get(unit, 2)
        return f"{typed} +- {sigma / UNIT_MM[unit]:.{decimals}f}"
    return f"{typed} +- {format_length(sigma, 'mm')}"


def bare(typed: str) -> str:
    """Return a figure without its uncertainty."""
    return _PLUS_MINUS.split(typed, maxsplit=1)[0].strip()


def plain_value(typed: str) -> str | int | float | None:
    """Return a number where a number was typed, else the text; None for nothing."""
    typed = typed.strip()
    if _WHOLE.fullmatch(typed):
        return int(typed)
    if _DECIMAL.fullmatch(typed):
        return float(typed)
    return typed or None


def text_of(value: object) -> str:
    """Return a value of the file as its field shows it."""
    if value is None or isinstance(value, bool | dict | list):
        return ""
    if isinstance(value, float):
        try:
            return f"{Decimal(repr(value)):f}"
        except InvalidOperation:
            return repr(value)
    return str(value)


def file_values(text: str) -> Mapping[str, Any]:
    """Return a garment file's values as TOML has them, nothing where it cannot be read."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return {}


def file_value(values: Mapping[str, Any], table: str, name: str) -> object:
    """Return one value of a table, or None."""
    found = values.get(table)
    return found.get(name) if isinstance(found, Mapping) else None

"""Another unit for a garment: its figures stay as long as they are.

A figure that stands alone in a garment file is in the file's unit; before that is changed, each such figure
is given the unit that it was written in.
"""

import tomllib
from collections.abc import Iterator, Mapping
from typing import Any

from likesewn.garment import Kind
from likesewn.garment.editing import Change
from likesewn.garment.keys import UNITS, Form, Key, Table, file_tables
from likesewn.garment.writing import toml_key
from likesewn.units import UNIT_MM, UnitError, parse_length
from likesewn.web.figures import bare, text_of

__all__ = ["unit_changes"]

LENGTHS = frozenset({Form.LENGTH, Form.FIGURE})
LISTS = frozenset({Form.POINTS, Form.RINGS})
PLACES = 7
"""Decimals of points in another unit: a ten-thousandth of a micrometre."""


def unit_changes(text: str, kind: Kind, unit: str) -> dict[str, Change]:
    """Return the changes that give a garment file another unit and leave its lengths as they are.

    Args:
        text: The garment file.
        kind: Its kind.
        unit: The new unit.

    Returns:
        New values by dotted key, as for ``update_garment``; figures keep their digits and are given their
        unit, lists of points are converted.
    """
    values = tomllib.loads(text)
    old = values.get("garment", {}).get("unit")
    changes: dict[str, Change] = {}
    if old in UNITS and old != unit:
        for table in file_tables(kind, (kind.name,)):
            changes |= dict(_table(table, values.get(table.name), table.name, old, unit))
    return changes | {"garment.unit": unit}


def _table(table: Table, found: Any, place: str, old: str, unit: str) -> Iterator[tuple[str, Change]]:  # noqa: ANN401 - as TOML has it
    if isinstance(found, list):
        for i, entry in enumerate(found, 1):
            yield from _table(table, entry, f"{place}[{i}]", old, unit)
        return
    if not isinstance(found, Mapping):
        return
    keys = {name: key for key in table.keys for name in (key.name, key.other) if name}
    parts = {part.name: part for part in table.parts}
    for name, value in found.items():
        inside = f"{place}.{toml_key(name)}"
        if isinstance(value, Mapping):
            # a part of the table, or another cloth that has the same keys
            yield from _table(parts.get(name, table), value, inside, old, unit)
        elif name in keys:
            yield from _value(keys[name], value, inside, old, unit)


def _value(key: Key, value: Any, place: str, old: str, unit: str) -> Iterator[tuple[str, Change]]:  # noqa: ANN401 - as TOML has it
    if key.form in LISTS and isinstance(value, list):
        yield place, _converted(value, old, unit)
    elif key.form in LENGTHS and isinstance(value, int | float | str) and not isinstance(value, bool):
        written = text_of(value)
        if written and _stands_alone(written, old):
            yield place, _with_unit(written, old)


def _stands_alone(written: str, old: str) -> bool:
    """Return whether a figure can be read, and only with the help of the file's unit."""
    try:
        parse_length(written, old)
    except UnitError:
        return False
    try:
        parse_length(written, "")
    except UnitError:
        return True
    return False


def _with_unit(written: str, old: str) -> str:
    first = bare(written)
    spread = written[len(first) :].strip()
    try:
        parse_length(first, "")
    except UnitError:
        first = f"{first} {old}"
    return f"{first} {spread}".strip()


def _converted(value: Any, old: str, unit: str) -> Any:  # noqa: ANN401 - as TOML has it
    if isinstance(value, list):
        return [_converted(one, old, unit) for one in value]
    if isinstance(value, str):
        return f"{value} {old}" if _stands_alone(value, old) else value
    return round(value * UNIT_MM[old] / UNIT_MM[unit], PLACES)

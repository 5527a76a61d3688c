"""The JSON Schema (2020-12) of the garment file, made from the table of keys.

The schema helps editors; reading a file says more and in plainer words. It cannot hold a length against
its limits when the length is written as text.
"""

import json
from collections.abc import Iterable

from likesewn.garment.keys import (
    FORMAT,
    MOST_POINTS,
    Form,
    Key,
    Table,
    file_tables,
    points_wanted,
    traced_edges,
)
from likesewn.garment.kind import Kind
from likesewn.garment.kinds import kind_names, load_kind

__all__ = ["garment_schema", "schema_text"]

Schema = dict[str, object]

_FIGURE = "[0-9½⅓⅔¼¾⅕⅖⅗⅘⅙⅚⅛⅜⅝⅞]"
_TEXTS: Schema = {"type": "string", "pattern": _FIGURE, "maxLength": 100}
_DEFS: Schema = {
    "length": {
        "description": "A length: a number in the file's unit, or text such as 49 cm or 19 1/4 in.",
        "anyOf": [{"type": "number", "minimum": 0}, {**_TEXTS, "pattern": rf"^[^-−]*{_FIGURE}"}],
    },
    "signed": {
        "description": "A length that may be less than nothing.",
        "anyOf": [{"type": "number"}, _TEXTS],
    },
}


def garment_schema(kinds: Iterable[Kind] | None = None) -> Schema:
    """Return the schema that covers these kinds; None means all that come with likesewn."""
    chosen = tuple(load_kind(name) for name in kind_names()) if kinds is None else tuple(kinds)
    names = [kind.name for kind in chosen]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": f"likesewn garment file, format {FORMAT}",
        "type": "object",
        "required": ["format", "garment"],
        "properties": {
            "format": {"const": FORMAT},
            "garment": {"type": "object", "required": ["kind"], "properties": {"kind": {"enum": names}}},
        },
        "allOf": [_when_kind(kind) for kind in chosen],
        "$defs": {**_DEFS, **{f"kind-{kind.name}": _kind(kind) for kind in chosen}},
    }


def schema_text() -> str:
    """Return the published schema as the text of ``garment.schema.json``."""
    return json.dumps(garment_schema(), indent=2, ensure_ascii=False) + "\n"


def _when_kind(kind: Kind) -> Schema:
    named = {"required": ["kind"], "properties": {"kind": {"const": kind.name}}}
    return {
        "if": {"required": ["garment"], "properties": {"garment": named}},
        "then": {"$ref": f"#/$defs/kind-{kind.name}"},
    }


def _kind(kind: Kind) -> Schema:
    properties: Schema = {"format": True}
    for table in file_tables(kind, (kind.name,)):
        schema = _table(table)
        if table.name == "tape":
            schema["allOf"] = [*_needed(kind), *_either(kind)]
        if table.repeated:
            schema = {"type": "array", "items": {**schema, "allOf": _entry(kind)}}
        properties[table.name] = schema
    needed = any(measure.needed for measure in kind.measures.values())
    return {
        "properties": properties,
        "required": ["tape"] if needed else [],
        "additionalProperties": False,
    }


def _table(table: Table) -> Schema:
    properties: Schema = {}
    for key in table.keys:
        for name in filter(None, (key.name, key.other)):
            properties[name] = {"description": key.about, **_value(key)}
    for part in table.parts:
        properties[part.name] = _table(part)
    own: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    schema: Schema = {"description": table.about, **own}
    if table.named:
        schema["additionalProperties"] = own
    needed = [key.name for key in table.keys if key.needed and key.form is not Form.FIGURE]
    if needed:
        schema["required"] = needed
    return schema


def _value(key: Key) -> Schema:
    length: Schema = {"$ref": "#/$defs/length" if key.least >= 0 else "#/$defs/signed"}
    schemas: dict[Form, Schema] = {
        Form.TEXT: {"type": "string", "maxLength": 200},
        Form.CHOICE: {"enum": list(key.choices)},
        Form.FLAG: {"type": "boolean"},
        Form.LENGTH: length,
        Form.FIGURE: length,
        Form.SHARE: {
            "anyOf": [
                {"type": "number", "minimum": key.least, "maximum": key.most},
                {**_TEXTS, "pattern": r"^\s*[0-9][0-9.,/ ]*\s*(%|percent|per cent)?\s*$"},
            ]
        },
        Form.POINTS: {
            "type": "array",
            "minItems": 2 if key.needed else 0,
            "maxItems": MOST_POINTS,
            "items": _row(key.figures),
        },
        Form.RINGS: {"type": "array", "items": {"type": "array", "items": _row(key.figures)}},
        Form.NAMES: {"type": "array", "items": {"enum": list(key.choices)}},
        Form.NUMBER: {"type": "number", "minimum": key.least, "maximum": key.most},
        Form.LEAN: {
            "anyOf": [
                {"type": "number", "minimum": key.least, "maximum": key.most},
                {"enum": list(key.choices)},
            ]
        },
    }
    return schemas[key.form]


def _row(figures: int) -> Schema:
    signed: Schema = {"$ref": "#/$defs/signed"}
    return {"type": "array", "minItems": figures, "maxItems": figures, "items": signed}


def _needed(kind: Kind) -> list[Schema]:
    return [
        {"anyOf": [{"required": [m.key]}, *([{"required": _each(kind, m.key)}] if m.split else [])]}
        for m in kind.measures.values()
        if m.needed
    ]


def _either(kind: Kind) -> list[Schema]:
    """A measure is given for all its pieces at once or for single pieces, not both."""
    return [
        {"not": {"required": [m.key, key]}}
        for m in kind.measures.values()
        if m.split
        for key in _each(kind, m.key)
    ]


def _each(kind: Kind, measure: str) -> list[str]:
    return [key for key, m in kind.tape_keys().items() if m.key == measure and key != measure]


def _entry(kind: Kind) -> list[Schema]:
    """What holds between the keys of one ``[[points]]``."""
    schemas: list[Schema] = [
        {
            "if": {"required": ["lay"]},
            "then": {"required": ["frame"], "properties": {"frame": {"const": "free"}}},
        }
    ]
    for piece in kind.pieces:
        edges = traced_edges(kind, piece.name)
        curved = [edge for edge in edges if points_wanted(kind, piece.name, edge) > 2]
        here: Schema = {"required": ["piece"], "properties": {"piece": {"const": piece.name}}}
        schemas.append({"if": here, "then": {"properties": {"edge": {"enum": list(edges)}}}})
        if curved:
            there: Schema = {
                "required": ["piece", "edge"],
                "properties": {"piece": {"const": piece.name}, "edge": {"enum": curved}},
            }
            schemas.append({"if": there, "then": {"properties": {"at": {"minItems": 3}}}})
    return schemas

"""Writes what was traced into the text of a garment file, and keeps everything else as its writer left it."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, cast

import tomlkit

from likesewn.garment import Kind, Photo, TracedPoints, new_garment, update_garment
from likesewn.garment.keys import UNITS
from likesewn.garment.toml_text import load_toml
from likesewn.garment.writing import photo_lines, points_lines
from likesewn.photo.trace import Tracing

__all__ = ["filled_in", "with_tracing", "without_tracing"]


def with_tracing(text: str, traced: Tracing, kind: Kind, thickness_mm: float | None = None) -> str:
    """Return a garment file with a photograph and its points added.

    Measures that nothing can stand in for are filled in from the corners where they wait to be.

    Args:
        text: The file's text; empty for a new file of this kind.
        traced: What was traced, with scale.
        kind: The kind.
        thickness_mm: The cloth's height above the table, mm, or None where it was not given.
    """
    text = text or new_garment(kind, "cm")
    waiting = {f"tape.{key}": figure for key, figure in filled_in(text, traced).items()}
    finish = {
        f"garment.{finish.name}_recorded_at": "finished edge"
        for finish in kind.finishes
        if any(f"{edge.piece}.{edge.edge}" in finish.edges for edge in traced.edges)
        and f"\n{finish.name}_recorded_at" not in text
    }
    text = update_garment(text, {**waiting, **finish})
    unit = _unit(text)
    photo = Photo(traced.name, traced.face, traced.name, thickness_mm)
    entries = [_rounded(edge) for edge in traced.edges]
    tables = [photo_lines(photo, unit), *(points_lines(entry, unit) for entry in entries)]
    return text.rstrip("\n") + "\n\n" + "\n\n".join(tables) + "\n"


def filled_in(text: str, traced: Tracing) -> dict[str, str]:
    """Return the tape measures that wait in a garment file and that a tracing's corners give, as written."""
    return {
        key: f"{mm:.1f} mm +- {sigma:.1f} mm"
        for key, (mm, sigma) in traced.measures.items()
        if f'\n{key} = ""' in text
    }


def without_tracing(text: str, name: str, filled: Mapping[str, str]) -> str:
    """Return a garment file without what a photograph brought to it, so that it can be traced again.

    Args:
        text: The file's text.
        name: The photograph's name.
        filled: Tape measures that it filled in, as written; those that still say so wait again.

    Raises:
        InputError: The text is not TOML.
    """
    data = load_toml(text)[0]
    document = cast("dict[str, Any]", tomlkit.parse(text))
    for table, named in (("photo", "file"), ("points", "lay")):
        entries = data.get(table)
        if not isinstance(entries, list):
            continue
        for i, entry in reversed(list(enumerate(cast("list[object]", entries)))):
            said = cast("dict[str, object]", entry).get(named) if isinstance(entry, dict) else None
            if said == name or (named == "lay" and str(said).startswith(f"{name}, ")):
                del document[table][i]
        if table in document and not len(document[table]):
            del document[table]
    text = tomlkit.dumps(document)  # pyright: ignore[reportUnknownMemberType, reportArgumentType]
    tape = data.get("tape")
    still = cast("dict[str, object]", tape) if isinstance(tape, dict) else {}
    return update_garment(text, {f"tape.{k}": "" for k, figure in filled.items() if still.get(k) == figure})


def _unit(text: str) -> str:
    garment = load_toml(text)[0].get("garment")
    found = garment.get("unit") if isinstance(garment, dict) else None
    return found if found in UNITS else "cm"


def _rounded(entry: TracedPoints) -> TracedPoints:
    """Return points rounded to a thousandth of a millimetre, so that the file stays readable."""
    return replace(entry, at=entry.at.round(3))

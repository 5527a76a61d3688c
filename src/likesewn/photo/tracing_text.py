"""Writes what was traced into the text of a garment file, and keeps everything else as its writer left it."""

from dataclasses import replace

from likesewn.garment import Kind, Photo, TracedPoints, new_garment, update_garment
from likesewn.garment.keys import UNITS
from likesewn.garment.toml_text import load_toml
from likesewn.garment.writing import photo_lines, points_lines
from likesewn.photo.trace import Tracing

__all__ = ["with_tracing"]


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
    waiting = {
        f"tape.{key}": f"{mm:.1f} mm +- {sigma:.1f} mm"
        for key, (mm, sigma) in traced.measures.items()
        if f'\n{key} = ""' in text
    }
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


def _unit(text: str) -> str:
    garment = load_toml(text)[0].get("garment")
    found = garment.get("unit") if isinstance(garment, dict) else None
    return found if found in UNITS else "cm"


def _rounded(entry: TracedPoints) -> TracedPoints:
    """Return points rounded to a thousandth of a millimetre, so that the file stays readable."""
    return replace(entry, at=entry.at.round(3))

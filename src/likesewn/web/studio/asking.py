"""Reads what a page asks to have traced: plain JSON, into what ``photo.tracing_job`` takes."""

from collections.abc import Mapping
from typing import Any, cast

import numpy as np
from numpy.typing import NDArray

from likesewn.errors import InputError, Problem
from likesewn.garment import Kind, kind_names, load_kind
from likesewn.garment.problems import nearest
from likesewn.photo import known_card, known_paper, known_points
from likesewn.photo.hints import Hint
from likesewn.photo.known import Known
from likesewn.photo.thickness import default_thickness
from likesewn.photo.tracing_job import EdgeName, Lay, Seam, read_length
from likesewn.units import PAPER

__all__ = ["MOST_POINTS", "read_lay", "read_points"]

MOST_POINTS = 5_000
"""Points of one stroke or line that a page may send."""

MOST_LINES = 100
"""Strokes, seams or edges that a page may send."""

LONGEST_FIGURE = 40
"""Letters of a length as typed."""

_KEYS = (
    "kind",
    "face",
    "rectangle",
    "round",
    "garment",
    "table",
    "corners",
    "seams",
    "edges",
    "thickness",
    "construction",
    "rulers",
    "known",
    "thing",
    "photo",
)

Array = NDArray[np.float64]


def read_lay(asked: Mapping[str, Any]) -> Lay:
    """Return what a page asks for.

    Args:
        asked: The page's JSON, as ``docs/workbench-photographs.md`` describes it. Whether names fit the kind
            is checked where the tracing is done.

    Raises:
        InputError: Something in it is not of the right form.
    """
    for name in asked:
        if name not in _KEYS:
            near = nearest(name, _KEYS)
            raise InputError(
                Problem("there is no such key", found=name[:60], nearest=near, allowed=", ".join(_KEYS))
            )
    thickness = _text(asked, "thickness")
    return Lay(
        _kind(_text(asked, "kind")),
        _text(asked, "face"),
        _hint(asked),
        read_length(thickness, "thickness") if thickness else None,
        default_thickness(_text(asked, "construction")),
        tuple(read_length(_short(text, "rulers"), "rulers")[0] for text in _list(asked, "rulers")),
        _thing(asked),
        _measure(asked),
        tuple(_seam(entry) for entry in _list(asked, "seams")),
        _edges(asked),
        _photo(asked),
    )


def read_points(value: object, key: str, *, least: int = 1) -> Array:
    """Return points as a page sends them, shape (n, 2), px.

    Args:
        value: A list of pairs of numbers.
        key: What it is called, for messages.
        least: How many there have to be.

    Raises:
        InputError: It is no such list, or too long, or too short.
    """
    rows = cast("list[object]", value) if isinstance(value, list) else []
    if not least <= len(rows) <= MOST_POINTS or not all(_is_pair(row) for row in rows):
        raise _wrong(
            "these are not points", value, key, f"{least} to {MOST_POINTS} pairs such as [120, 80.5]"
        )
    return np.array(rows, dtype=np.float64).reshape(-1, 2)


def _is_pair(row: object) -> bool:
    if not isinstance(row, list) or len(cast("list[object]", row)) != 2:
        return False
    return all(_is_number(value) for value in cast("list[object]", row))


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) < 1e6


def _wrong(message: str, value: object, key: str, allowed: str) -> InputError:
    return InputError(Problem(message, found=repr(value)[:60], key=key, allowed=allowed))


def _text(asked: Mapping[str, Any], key: str) -> str:
    return _short(asked.get(key) or "", key)


def _short(value: object, key: str) -> str:
    if not isinstance(value, str) or len(value) > LONGEST_FIGURE:
        raise _wrong("this is not a short text", value, key, f"at most {LONGEST_FIGURE} letters")
    return value


def _list(asked: Mapping[str, Any], key: str) -> list[object]:
    value = asked.get(key) or []
    if not isinstance(value, list) or len(cast("list[object]", value)) > MOST_LINES:
        raise _wrong("this is not a list", value, key, f"at most {MOST_LINES} entries")
    return cast("list[object]", value)


def _table(asked: Mapping[str, Any], key: str) -> dict[str, Any]:
    value = asked.get(key) or {}
    if not isinstance(value, dict) or len(cast("dict[str, Any]", value)) > MOST_LINES:
        raise _wrong("this is not a table of names", value, key, f"at most {MOST_LINES} entries")
    return cast("dict[str, Any]", value)


def _kind(name: str) -> Kind | None:
    if not name or name == "none":
        return None
    if name not in kind_names():
        near, allowed = nearest(name, kind_names()), ", ".join(kind_names())
        problem = Problem(
            "there is no such kind of garment", found=name, key="kind", nearest=near, allowed=allowed
        )
        raise InputError(problem)
    return load_kind(name)


def _hint(asked: Mapping[str, Any]) -> Hint:
    box = None
    if asked.get("rectangle"):
        value = asked["rectangle"]
        sides = cast("list[Any]", value) if isinstance(value, list) else []
        if (
            len(sides) != 4
            or not all(_is_number(side) for side in sides)
            or min(sides[2] - sides[0], sides[3] - sides[1]) < 8
        ):
            raise _wrong("this is not a rectangle", value, "rectangle", "left, top, right and bottom, px")
        box = (float(sides[0]), float(sides[1]), float(sides[2]), float(sides[3]))
    corners = {
        name: (float(x), float(y))
        for name, place in _table(asked, "corners").items()
        for x, y in read_points([place], f"corners.{name[:40]}")
    }
    on, off = (
        tuple(read_points(stroke, key) for stroke in _list(asked, key)) for key in ("garment", "table")
    )
    drawn = read_points(asked["round"], "round") if asked.get("round") else None
    return Hint(box, on, off, corners, drawn)


def _seam(entry: object) -> Seam:
    seam = cast("dict[str, Any]", entry) if isinstance(entry, dict) else {}
    picked = read_points(seam.get("picked"), "seams.picked", least=2)
    return Seam(_text(seam, "piece"), _text(seam, "edge"), picked)


def _edges(asked: Mapping[str, Any]) -> dict[EdgeName, Array]:
    out: dict[EdgeName, Array] = {}
    for name, px in _table(asked, "edges").items():
        piece, _, rest = _short(name, "edges").partition(".")
        edge, _, side = rest.rpartition(".")
        out[piece, edge, side] = read_points(px, f"edges.{name}", least=3)
    return out


def _photo(asked: Mapping[str, Any]) -> int | None:
    value = asked.get("photo")
    if value is None or (isinstance(value, int) and not isinstance(value, bool)):
        return value
    raise _wrong("this is not a photograph's place", value, "photo", "a whole number, counted from 0")


def _measure(asked: Mapping[str, Any]) -> tuple[str, str]:
    known = _table(asked, "known")
    return (_text(known, "measure"), _text(known, "length")) if known else ("", "")


def _thing(asked: Mapping[str, Any]) -> Known | None:
    thing = _table(asked, "thing")
    if not thing:
        return None
    what = _text(thing, "what")
    if what == "points":
        return known_points(
            read_points(thing.get("px"), "thing.px"), read_points(thing.get("mm"), "thing.mm")
        )
    if what != "card" and what not in PAPER:
        raise _wrong(
            "nothing of this name has a known size", what, "thing.what", f"card, {', '.join(PAPER)}, points"
        )
    corners = read_points(thing.get("corners"), "thing.corners", least=4)
    return known_card(corners) if what == "card" else known_paper(corners, what)

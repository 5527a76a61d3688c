"""Checks what the values of a garment file say together: what is missing, and what contradicts what."""

import numpy as np

from likesewn.garment.keys import MOST_POINTS, missing_measures, points_wanted, traced_edges
from likesewn.garment.kind import FinishKind, Kind, Measure
from likesewn.garment.problems import nearest, shown
from likesewn.garment.toml_lines import TomlPath
from likesewn.garment.walk import Walk
from likesewn.units import format_length

__all__ = ["check_missing", "check_together"]

BANDED = ("band", "binding")
"""Finishes that are sewn on as a strip, so that its width and length can be chosen."""


def check_missing(kind: Kind, walk: Walk) -> None:
    """Note every measure that is needed and not there."""
    unit = walk.text("garment.unit", "cm")
    for key, measure in missing_measures(kind, walk.taped()):
        _missing(walk, key, measure, unit)


def check_together(kind: Kind, walk: Walk) -> None:
    """Note every fault that shows only when several keys are seen together, but for what is missing."""
    given = walk.taped()
    for key, measure in kind.tape_keys().items():
        if key != measure.key and key in given and measure.key in given:
            each = " and ".join(f"{piece}_{measure.key}" for piece in measure.pieces)
            walk.problems.add(
                ("tape", key),
                f"{measure.key} already says this of every piece",
                allowed=f"either {measure.key}, or {each}",
            )
    for finish in kind.finishes:
        _check_band(kind, finish, walk)
    if "main" in walk.cloths and any(
        f"cloth.{key.name}" in walk.written for key in walk.tables["cloth"].keys
    ):
        walk.problems.add(
            ("cloth", "main"), "[cloth] already describes the main cloth", todo="keep one of them"
        )
    _check_points(kind, walk)


def _missing(walk: Walk, key: str, measure: Measure, unit: str) -> None:
    title = measure.title[:1].lower() + measure.title[1:]
    where = "" if key == measure.key else f" for the {key.removesuffix(f'_{measure.key}')}"
    walk.problems.add(
        ("tape", key),
        f"the {title}{where} is missing, and nothing can stand in for it",
        allowed=f"{format_length(measure.least, unit)} to {format_length(measure.most, unit)}",
        todo=f"How to take it: {measure.how}",
    )


def _check_band(kind: Kind, finish: FinishKind, walk: Walk) -> None:
    chosen = walk.text(f"garment.{finish.name}_finish", finish.finishes[0])
    if chosen in BANDED:
        return
    path: TomlPath = ("band",) if len(kind.finishes) == 1 else ("band", finish.name)
    name = ".".join(str(part) for part in path)
    if any(key.startswith(f"{name}.") for key in walk.written):
        walk.problems.add(
            path,
            f"there is no band to describe: {finish.name}_finish is {chosen}",
            todo=f'leave [{name}] out, or write {finish.name}_finish = "band"',
        )


def _check_points(kind: Kind, walk: Walk) -> None:
    total = 0
    for i in range(walk.entries.get("points", 0)):
        path: TomlPath = ("points", i)
        key = f"points[{i + 1}]"
        _check_lay(walk, key, path)
        _check_halves(kind, walk, key, path)
        at = walk.points(f"{key}.at")
        total += 0 if at is None else len(at)
        piece, edge = walk.text(f"{key}.piece"), walk.text(f"{key}.edge")
        if not piece or not edge:
            continue
        edges = traced_edges(kind, piece)
        if edge not in edges:
            walk.problems.add(
                (*path, "edge"),
                f"the {piece} has no such edge",
                found=shown(edge),
                allowed=", ".join(edges),
                near=nearest(edge, edges),
            )
        elif at is not None:
            wanted = points_wanted(kind, piece, edge)
            places = len(np.unique(at, axis=0))
            if places < wanted:
                walk.problems.add(
                    (*path, "at"),
                    "these are too few points to say how the edge runs",
                    found=f"{places} in different places",
                    allowed=f"at least {wanted} along {edge}",
                )
    if total > MOST_POINTS:
        walk.problems.add(
            ("points",),
            "these are too many points",
            found=str(total),
            allowed=f"at most {MOST_POINTS} in one file",
        )


def _check_lay(walk: Walk, key: str, path: TomlPath) -> None:
    if f"{key}.lay" in walk.written and walk.text(f"{key}.frame", "piece") != "free":
        walk.problems.add(
            (*path, "lay"),
            "a lay goes with a free frame; these points stand in the frame of the piece",
            todo='write frame = "free", or leave lay out',
        )


def _check_halves(kind: Kind, walk: Walk, key: str, path: TomlPath) -> None:
    """Report a half of a piece that has none, and a fold's place on an edge that is no fold."""
    piece, edge = walk.text(f"{key}.piece"), walk.text(f"{key}.edge")
    known = next((p for p in kind.pieces if p.name == piece), None)
    if known is None:
        return
    fold = known.fold
    if f"{key}.side" in walk.written and fold is None:
        walk.problems.add(
            (*path, "side"), f"the {piece} is cut in one, without halves", todo="leave side out"
        )
    if f"{key}.off_centre" in walk.written and (fold is None or edge != fold.name):
        walk.problems.add(
            (*path, "off_centre"),
            "only a fold can lie off the centre; these points are on another edge",
            found=shown(edge),
            allowed=fold.name if fold else "no edge of this piece",
            todo="leave off_centre out",
        )

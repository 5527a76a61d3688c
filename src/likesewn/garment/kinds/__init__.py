"""The kinds that come with likesewn, one TOML file each, and how such a file is read.

Adding a kind is adding a file here: nothing else in the program names one.
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import fields
from functools import lru_cache
from importlib import resources
from typing import Any, cast

from likesewn.errors import InputError, Problem
from likesewn.garment.kind import (
    OPERATIONS,
    Alike,
    Corner,
    EdgeKind,
    FinishKind,
    Kind,
    Level,
    Measure,
    NotchKind,
    Opening,
    PieceKind,
    Seam,
    StandIn,
    Step,
)
from likesewn.garment.silhouette import Dip, Silhouette, SilhouetteCorner

__all__ = ["kind_names", "load_kind", "read_kind"]

Table = Mapping[str, Any]


@lru_cache(maxsize=1)
def kind_names() -> tuple[str, ...]:
    """Return the names of the kinds that come with likesewn, sorted."""
    folder = resources.files(__name__)
    return tuple(sorted(f.name[:-5] for f in folder.iterdir() if f.name.endswith(".toml")))


@lru_cache(maxsize=32)
def load_kind(name: str) -> Kind:
    """Return the kind of that name; KeyError where none comes with likesewn."""
    if name not in kind_names():
        raise KeyError(name)
    text = resources.files(__name__).joinpath(f"{name}.toml").read_text(encoding="utf-8")
    return read_kind(text, f"{name}.toml")


def read_kind(text: str, file: str = "kind") -> Kind:
    """Read a kind from TOML.

    Args:
        text: The file's text; the keys are the field names of ``garment.kind``.
        file: Its name, for messages.

    Returns:
        The kind, its parts checked against one another.

    Raises:
        InputError: The text is not TOML, or parts are missing or name one another wrongly.
    """
    try:
        data = tomllib.loads(text)
        kind = _kind(data)
    except tomllib.TOMLDecodeError as error:
        raise InputError(Problem("this is not TOML", found=str(error), file=file)) from None
    except KeyError as error:
        raise InputError(Problem("a key is missing", key=str(error.args[0]), file=file)) from None
    except TypeError as error:
        raise InputError(Problem("a key is not known", found=str(error), file=file)) from None
    problems = list(_faults(kind))
    if problems:
        raise InputError(*(Problem(message, file=file, key=key) for key, message in problems))
    return kind


def _tuples(value: object) -> Any:  # noqa: ANN401 - TOML values have no closed type
    return tuple(_tuples(v) for v in cast("list[Any]", value)) if isinstance(value, list) else value


def _make(cls: type, table: Table, **given: object) -> Any:  # noqa: ANN401 - builds any of the kind's classes
    known = {f.name for f in fields(cls)}
    values = {k: _tuples(v) for k, v in table.items() if k not in given}
    unknown = sorted(set(values) - known)
    if unknown:
        raise TypeError(f"{unknown[0]!r} in {cls.__name__}; known: {', '.join(sorted(known))}")
    return cls(**values, **given)


def _piece(name: str, table: Table) -> PieceKind:
    opening = table.get("opening")
    return _make(
        PieceKind,
        table,
        name=name,
        corners=tuple(Corner(k, float(x), float(y)) for k, (x, y) in table["corners"].items()),
        edges=tuple(_make(EdgeKind, edge) for edge in table["edges"]),
        opening=None if opening is None else _make(Opening, opening),
    )


def _measure(key: str, table: Table) -> Measure:
    level = table.get("level")
    return _make(
        Measure,
        table,
        key=key,
        level=None if level is None else _make(Level, level),
        stand_in=tuple(_make(StandIn, s) for s in table.get("stand_in", ())),
    )


def _silhouette_corner(table: Table) -> SilhouetteCorner:
    usual = {key: value for key, value in table.items() if key != "instead"}
    others = tuple(_make(SilhouetteCorner, {**usual, **other}) for other in table.get("instead", ()))
    return _make(SilhouetteCorner, table, instead=others)


def _silhouette(table: Table) -> Silhouette:
    dip = table.get("dip")
    return _make(
        Silhouette,
        table,
        corners=tuple(_silhouette_corner(corner) for corner in table["corners"]),
        dip=None if dip is None else _make(Dip, dip),
    )


def _kind(data: Table) -> Kind:
    if data["format"] != 1:
        raise TypeError(f"format {data['format']!r}; known: 1")
    allowances: Table = data.get("allowances", {})
    return Kind(
        name=data["name"],
        title=data["title"],
        summary=data["summary"],
        pieces=tuple(_piece(name, table) for name, table in data["pieces"].items()),
        seams=tuple(_make(Seam, seam) for seam in data["seams"]),
        measures={key: _measure(key, table) for key, table in data["measures"].items()},
        alike=tuple(_make(Alike, a) for a in data.get("alike", ())),
        notches=tuple(_make(NotchKind, n) for n in data.get("notches", ())),
        finishes=tuple(_make(FinishKind, f) for f in data.get("finishes", ())),
        seam_allowance=float(allowances.get("seam", 10.0)),
        hem_allowance=float(allowances.get("hem", 25.0)),
        turned=tuple(allowances.get("turned", ())),
        steps=tuple(_make(Step, s) for s in data.get("steps", ())),
        length_rule=tuple(data.get("length_rule", ())),
        silhouette=_silhouette(data["silhouette"]) if "silhouette" in data else None,
    )


def _piece_faults(piece: PieceKind) -> Iterable[tuple[str, str]]:
    corners = {c.name for c in piece.corners}
    where = f"pieces.{piece.name}"
    for before, edge in zip((piece.edges[-1], *piece.edges), piece.edges, strict=False):
        key = f"{where}.{edge.name}"
        if {edge.start, edge.end} - corners:
            yield (
                key,
                f"runs from {edge.start} to {edge.end}, and the corners are {sorted(corners)}",
            )
        if before.end != edge.start:
            yield key, f"starts at {edge.start}, and the edge before it ends at {before.end}"
        if edge.frame not in {"box", "chord"}:
            yield key, f"has the frame {edge.frame!r}; allowed are box and chord"
        if not edge.straight and len(edge.shape) != 3 * edge.shape_cubics - 1:
            yield key, f"needs {3 * edge.shape_cubics - 1} shape points for {edge.shape_cubics} cubics"
    for name in (*piece.square, *piece.level, *piece.grain):
        if name not in corners:
            yield where, f"names the corner {name}, which it has not"
    if piece.on_fold and not piece.edges[-1].straight:
        yield where, "is on the fold, so its last edge must be straight"
    if not piece.level or (not piece.on_fold and not piece.grain):
        yield where, "needs level (and grain where there is no fold) to fix its place"


def _reference_faults(kind: Kind) -> Iterable[tuple[str, str]]:
    edges = {f"{p.name}.{e.name}" for p in kind.pieces for e in p.edges}
    for seam in kind.seams:
        for end in (seam.left, seam.right):
            if end not in edges:
                yield f"seams.{seam.name}", f"names {end}, which is not piece.edge of any piece"
    for finish in kind.finishes:
        for end in finish.edges:
            if end not in edges:
                yield (
                    f"finishes.{finish.name}",
                    f"names {end}, which is not piece.edge of any piece",
                )
    seams = {seam.name for seam in kind.seams}
    for notch in kind.notches:
        if notch.seam not in seams:
            yield "notches", f"names the seam {notch.seam}, which there is not"


def _measure_faults(kind: Kind) -> Iterable[tuple[str, str]]:
    pieces = {p.name: p for p in kind.pieces}
    for measure in kind.measures.values():
        key = f"measures.{measure.key}"
        if measure.op not in OPERATIONS:
            yield key, f"has the operation {measure.op!r}; allowed are {', '.join(OPERATIONS)}"
        for name in measure.pieces:
            if name not in pieces:
                yield key, f"names the piece {name}, which there is not"
                continue
            corners = {c.name for c in pieces[name].corners}
            edges = {e.name for e in pieces[name].edges}
            for corner in set(measure.corners) - corners:
                yield key, f"names the corner {corner}, which {name} has not"
            for edge in set(measure.edges) - edges:
                yield key, f"names the edge {edge}, which {name} has not"
        for stand_in in measure.stand_in:
            for other in {*stand_in.terms, *stand_in.at_least} - set(kind.measures):
                yield key, f"stands in by {other}, which is not a measure"
    for other in set(kind.length_rule) - set(kind.measures):
        yield "length_rule", f"names {other}, which is not a measure"


def _silhouette_faults(kind: Kind) -> Iterable[tuple[str, str]]:
    shown = kind.silhouette
    if shown is None:
        return
    names = {piece.name for piece in kind.pieces}
    for face in shown.faces:
        if face not in names:
            yield "silhouette.faces", f"names the piece {face}, which there is not"
            return
    edges = {f"{p.name}.{e.name}" for p in kind.pieces for e in p.edges}
    edges |= {e.name for face in shown.faces for e in kind.piece(face).edges} | {""}
    used = [*(corner.edge for corner in shown.corners), shown.closing_edge]
    for edge in (*used, *([shown.dip.edge] if shown.dip else [])):
        if edge not in edges:
            yield "silhouette", f"names the edge {edge}, which no piece that faces up has"


def _faults(kind: Kind) -> Iterable[tuple[str, str]]:
    for piece in kind.pieces:
        yield from _piece_faults(piece)
    yield from _reference_faults(kind)
    yield from _measure_faults(kind)
    yield from _silhouette_faults(kind)

"""The kinds that come with likesewn, one TOML file each, and how such a file is read.

Adding a kind is adding a file here: nothing else in the program names one.
"""

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import fields, replace
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
from likesewn.garment.kinds.typed import Each, Many, faults, table_of
from likesewn.garment.kinds.typed import Table as Sorts
from likesewn.garment.problems import shown
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

    All values of a wrong sort are told at once; where there is none, all parts that do not go together.

    Args:
        text: The file's text; the keys are the field names of ``garment.kind``.
        file: Its name, for messages.

    Returns:
        The kind, its parts checked against one another.

    Raises:
        InputError: The text is not TOML, values are of other sorts than they should be, or parts are missing
            or name one another wrongly.
    """
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(Problem("this is not TOML", found=str(error), file=file)) from None
    problems = list(faults(data, _FILE, ""))
    if not problems and data["format"] != 1:
        problems = [
            Problem("this format is not known", found=shown(data["format"]), key="format", allowed="1")
        ]
    if problems:
        raise InputError(*(replace(problem, file=file) for problem in problems))
    kind = _kind(data)
    problems = [Problem(message, file=file, key=key) for key, message in _faults(kind)]
    if problems:
        raise InputError(*problems)
    return kind


def _tuples(value: object) -> Any:  # noqa: ANN401 - TOML values have no closed type
    return tuple(_tuples(v) for v in cast("list[Any]", value)) if isinstance(value, list) else value


def _make(cls: type, table: Table, **given: object) -> Any:  # noqa: ANN401 - builds any of the kind's classes
    floats = {f.name for f in fields(cls) if f.type in {float, "float"}}
    values = {k: float(v) if k in floats else _tuples(v) for k, v in table.items() if k not in given}
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


_CORNER = table_of(SilhouetteCorner)
_INSTEAD = Sorts({key: sort for key, sort in _CORNER.keys.items() if key != "instead"}, frozenset())
_KIND = table_of(
    Kind,
    without=("seam_allowance", "hem_allowance", "turned", "halves"),
    pieces=Each(table_of(PieceKind, ("name",), corners=Each(tuple[float, float]))),
    measures=Each(table_of(Measure, ("key", "sides"))),
    silhouette=table_of(
        Silhouette, corners=Many(Sorts({**_CORNER.keys, "instead": Many(_INSTEAD)}, _CORNER.needed))
    ),
)
_FILE = Sorts(
    {
        **_KIND.keys,
        "format": int,
        "allowances": Sorts({"seam": float, "hem": float, "turned": tuple[str, ...]}, frozenset()),
    },
    _KIND.needed | {"format"},
)
"""What the file of a kind may hold."""


def _kind(data: Table) -> Kind:
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
    if len(piece.edges) < 2:
        yield where, "needs two edges or more"
        return
    if piece.copies < 1:
        yield where, f"has {piece.copies} copies; allowed is 1 or more"
    names = [edge.name for edge in piece.edges]
    yield from ((where, f"has more than one edge {name}") for name in set(names) if names.count(name) > 1)
    for before, edge in zip((piece.edges[-1], *piece.edges), piece.edges, strict=False):
        yield from ((f"{where}.{edge.name}", fault) for fault in _edge_faults(edge, before, corners))
    kept = piece.opening.keep if piece.opening else ()
    for name in (*piece.square, *piece.smooth, *piece.level, *piece.grain, *kept):
        if name not in corners:
            yield where, f"names the corner {name}, which it has not"
    if piece.on_fold and not piece.edges[-1].straight:
        yield where, "is on the fold, so its last edge must be straight"
    if not piece.level or (not piece.on_fold and not piece.grain):
        yield where, "needs level (and grain where there is no fold) to fix its place"


def _edge_faults(edge: EdgeKind, before: EdgeKind, corners: set[str]) -> Iterable[str]:
    if {edge.start, edge.end} - corners:
        yield f"runs from {edge.start} to {edge.end}, and the corners are {sorted(corners)}"
    if before.end != edge.start:
        yield f"starts at {edge.start}, and the edge before it ends at {before.end}"
    if edge.spans < 1 or edge.cubics < 0:
        yield f"has {edge.spans} spans and {edge.cubics} cubics; allowed are 1 or more, and 0 or more"
    if edge.frame not in {"box", "chord"}:
        yield f"has the frame {edge.frame!r}; allowed are box and chord"
    if not edge.straight and len(edge.shape) != 3 * edge.shape_cubics - 1:
        yield f"needs {3 * edge.shape_cubics - 1} shape points for {edge.shape_cubics} cubics"


def _reference_faults(kind: Kind) -> Iterable[tuple[str, str]]:
    edges = {f"{p.name}.{e.name}" for p in kind.pieces for e in p.edges}
    for seam in kind.seams:
        yield from ((f"seams.{seam.name}", fault) for fault in _seam_faults(seam, edges))
    for group in kind.alike:
        yield from (("alike", fault) for fault in _alike_faults(group, kind, edges))
    for finish in kind.finishes:
        key = f"finishes.{finish.name}"
        if not finish.finishes or not finish.edges:
            yield key, "needs one finish or more, and one edge or more"
        for end in set(finish.edges) - edges:
            yield key, f"names {end}, which is not piece.edge of any piece"
    seams = {seam.name for seam in kind.seams}
    for notch in kind.notches:
        if notch.seam not in seams:
            yield "notches", f"names the seam {notch.seam}, which there is not"
        if not 0.0 <= notch.share <= 1.0 or notch.marks not in {1, 2}:
            yield (
                "notches",
                f"has share {notch.share:g} and {notch.marks} marks; allowed are 0 to 1, and 1 or 2",
            )


def _seam_faults(seam: Seam, edges: set[str]) -> Iterable[str]:
    for end in (seam.left, seam.right):
        if end not in edges:
            yield f"names {end}, which is not piece.edge of any piece"
    for left, right, at in seam.smooth:
        for end, name in ((seam.left, left), (seam.right, right)):
            whole = f"{end.partition('.')[0]}.{name}"
            if whole not in edges:
                yield f"runs smoothly over {whole}, which is not piece.edge of any piece"
        if at not in {"start", "end"}:
            yield f"has edges that meet at {at!r}; allowed are start and end"


def _alike_faults(group: Alike, kind: Kind, edges: set[str]) -> Iterable[str]:
    names = {piece.name for piece in kind.pieces}
    for name in sorted({*group.pieces, *group.opens} - names):
        yield f"names the piece {name}, which there is not"
    for piece in names & set(group.pieces):
        for edge in group.edges:
            if f"{piece}.{edge}" not in edges:
                yield f"names {piece}.{edge}, which is not piece.edge of any piece"


_TAKES = {
    "across": (1, 0),
    "from_fold": (1, 0),
    "down": (2, 0),
    "straight": (2, 0),
    "along": (0, 1),
    "down_to_edge": (1, 1),
    "across_at": (0, 1),
    "between": (2, 0),
    "between_at": (0, 2),
    "level": (1, 0),
}
"""How many corners and edges each operation takes; ``along`` takes more edges too."""


def _takes(measure: Measure) -> str:
    """Return what a measure lacks for its operation, or nothing."""
    corners, edges = _TAKES[measure.op]
    right = len(measure.corners) == corners and (
        len(measure.edges) == edges or (measure.op == "along" and len(measure.edges) > edges)
    )
    if not measure.pieces:
        return "needs a piece to be taken on"
    if not right:
        more = " or more" if measure.op == "along" else ""
        return f"needs {corners} corners and {edges} edges{more} for the operation {measure.op}"
    if measure.op in {"across_at", "between_at"} and measure.level is None:
        return f"needs a level for the operation {measure.op}"
    return ""


def _measure_faults(kind: Kind) -> Iterable[tuple[str, str]]:
    for measure in kind.measures.values():
        key = f"measures.{measure.key}"
        if measure.op not in OPERATIONS:
            yield key, f"has the operation {measure.op!r}; allowed are {', '.join(OPERATIONS)}"
        elif _takes(measure):
            yield key, _takes(measure)
        yield from ((key, fault) for fault in _place_faults(measure, kind))
        if measure.level and measure.level.measure and measure.level.measure not in kind.measures:
            yield key, f"is taken at {measure.level.measure}, which is not a measure"
        for stand_in in measure.stand_in:
            for other in {*stand_in.terms, *stand_in.at_least} - set(kind.measures):
                yield key, f"stands in by {other}, which is not a measure"
    for other in set(kind.length_rule) - set(kind.measures):
        yield "length_rule", f"names {other}, which is not a measure"


def _place_faults(measure: Measure, kind: Kind) -> Iterable[str]:
    pieces = {p.name: p for p in kind.pieces}
    level = measure.level
    at = {level.start, *(() if level.measure else (level.end,))} if level else set[str]()
    for name in measure.pieces:
        if name not in pieces:
            yield f"names the piece {name}, which there is not"
            continue
        for corner in {*measure.corners, *at} - {c.name for c in pieces[name].corners}:
            yield f"names the corner {corner}, which {name} has not"
        for edge in set(measure.edges) - {e.name for e in pieces[name].edges}:
            yield f"names the edge {edge}, which {name} has not"


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
    if not kind.pieces:
        yield "pieces", "needs one piece or more"
    for piece in kind.pieces:
        yield from _piece_faults(piece)
    yield from _reference_faults(kind)
    yield from _measure_faults(kind)
    yield from _silhouette_faults(kind)

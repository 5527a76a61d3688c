"""The garment file: a record as a person writes it, in TOML.

Which keys there are is said once, in ``keys``; this module walks the file along that table, notes
everything that is wrong with it, and makes the record when nothing is. A draft is read likewise, but may
lack measures.
"""

from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from itertools import count
from typing import cast

from likesewn.errors import InputError, Problem
from likesewn.garment.keys import FORMAT, UNITS, file_tables, missing_measures
from likesewn.garment.kind import Kind, Measure
from likesewn.garment.kinds import kind_names, load_kind
from likesewn.garment.problems import Problems, shown
from likesewn.garment.record import Cloth, Fabric, Figure, Photo, Record, TracedPoints, Wearer
from likesewn.garment.together import check_missing, check_together
from likesewn.garment.toml_text import load_toml
from likesewn.garment.values import ValueReader
from likesewn.garment.walk import Walk

__all__ = ["Draft", "read_draft", "read_garment"]


@dataclass(frozen=True, slots=True)
class Draft:
    """A garment file that may still lack measures.

    Attributes:
        record: What it says, or None where something in it cannot be used.
        kind: Its kind, or None where that is not known.
        missing: Needed measures that are not in it, each with the key that it waits under.
        problems: Every fault but those.
    """

    record: Record | None
    kind: Kind | None
    missing: tuple[tuple[str, Measure], ...]
    problems: tuple[Problem, ...]


def read_garment(
    data: bytes | str,
    file: str = "",
    kinds: Callable[[str], Kind] | None = None,
) -> Record:
    """Read a garment file.

    Args:
        data: The file's bytes in UTF-8, or its text.
        file: Its name, for messages.
        kinds: Gives a kind by name or raises KeyError; None means the kinds that come with likesewn.

    Returns:
        The record, with the line of every key that was given.

    Raises:
        InputError: The file cannot be used; with every fault that could be found, each with its line,
            its key, what was found, what is allowed and the nearest known name.
    """
    kind, walk = _walked(data, file, kinds)
    if kind is not None:
        check_missing(kind, walk)
    walk.problems.stop()
    if kind is None:
        raise AssertionError("a kind that is not known is a problem by itself")
    return _record(kind, walk, file)


def read_draft(data: bytes | str, file: str = "", kinds: Callable[[str], Kind] | None = None) -> Draft:
    """Read a garment file that is being written: needed measures may be missing.

    Its record can be trued all the same: what is missing is then taken from the kind's usual shape. Arguments
    as for ``read_garment``; faults are returned, not raised.
    """
    try:
        kind, walk = _walked(data, file, kinds)
    except InputError as error:
        return Draft(None, None, (), error.problems)
    missing = tuple(missing_measures(kind, walk.taped())) if kind else ()
    try:
        walk.problems.stop()
    except InputError as error:
        return Draft(None, kind, missing, error.problems)
    return Draft(None if kind is None else _record(kind, walk, file), kind, missing, ())


def _walked(data: bytes | str, file: str, kinds: Callable[[str], Kind] | None) -> tuple[Kind | None, Walk]:
    """Walk a file from end to end and note its faults, but for needed measures that are missing."""
    values, lines = load_toml(data, file)
    problems = Problems(file, lines)
    _check_format(values, problems)
    kind = _find_kind(values, problems, kinds)
    tables = file_tables(kind, kind_names() if kind is None else (kind.name,))
    reader = ValueReader(_find_unit(values), problems)
    walk = Walk(tables, reader, problems, complete=kind is not None)
    walk.read(values)
    if kind is not None:
        check_together(kind, walk)
    return kind, walk


def _check_format(values: Mapping[str, object], problems: Problems) -> None:
    found = values.get("format")
    if found is None:
        problems.add(("format",), "the format is missing", todo=f"write format = {FORMAT} in the first line")
        return
    if isinstance(found, int) and not isinstance(found, bool) and found > FORMAT:
        problems.add(
            ("format",),
            "this file needs a newer likesewn",
            found=shown(found),
            allowed=str(FORMAT),
            todo="update likesewn, and try again",
        )
        problems.stop()  # a newer format may say anything, so nothing else can be judged
    if isinstance(found, bool) or found != FORMAT:
        problems.add(
            ("format",), "this is not a format that likesewn knows", found=shown(found), allowed=str(FORMAT)
        )


def _in_garment(values: Mapping[str, object], key: str) -> object:
    table = values.get("garment")
    found = cast("dict[str, object]", table).get(key) if isinstance(table, dict) else None
    return None if found == "" else found  # a line of a new file that was not filled in


def _find_kind(
    values: Mapping[str, object], problems: Problems, kinds: Callable[[str], Kind] | None
) -> Kind | None:
    name = _in_garment(values, "kind")
    known = kind_names()
    if name is None:
        problems.add(
            ("garment", "kind"),
            "the kind of garment is missing",
            allowed=", ".join(known),
            todo=f'write kind = "{known[0]}" under [garment]',
        )
        return None
    if isinstance(name, str):
        with suppress(KeyError):
            return (kinds or load_kind)(name)
    return None


def _find_unit(values: Mapping[str, object]) -> str | None:
    unit = _in_garment(values, "unit")
    if unit is None:
        return None
    return unit if isinstance(unit, str) and unit in UNITS else "cm"


def _record(kind: Kind, walk: Walk, file: str) -> Record:
    """Make the record of a walk that found no fault."""
    prefix = "tape."
    tape = {
        key.removeprefix(prefix): value
        for key, value in walk.values.items()
        if key.startswith(prefix) and isinstance(value, Figure)
    }
    return Record(
        name=walk.text("garment.name", kind.title),
        kind=kind.name,
        unit=walk.text("garment.unit", "cm"),
        size=walk.text("garment.size"),
        tape=tape,
        photos=_photos(walk),
        points=_points(walk),
        allowances=walk.below("allowances"),
        ease=walk.below("ease"),
        finish=_finish(kind, walk),
        finish_lengths=_finish_lengths(kind, walk),
        fabric=_fabric(walk),
        cloths=_cloths(walk),
        grain=_grain(walk),
        wearer=Wearer(walk.text("wearer.name"), walk.mm("wearer.head")),
        machine=walk.text("garment.machine", "overlock"),
        for_child=walk.flag("garment.for_child"),
        symmetric=walk.flag("garment.symmetric", default=True),
        lines=walk.lines,
        file=file,
    )


def _photos(walk: Walk) -> tuple[Photo, ...]:
    keys = (f"photo[{i + 1}]" for i in range(walk.entries.get("photo", 0)))
    return tuple(
        Photo(
            walk.text(f"{key}.file"),
            walk.text(f"{key}.face"),
            walk.text(f"{key}.lay"),
            walk.mm(f"{key}.thickness"),
        )
        for key in keys
    )


def _points(walk: Walk) -> tuple[TracedPoints, ...]:
    keys = [f"points[{i + 1}]" for i in range(walk.entries.get("points", 0))]
    taken = {walk.text(f"{key}.lay") for key in keys}
    fresh = (name for n in count(1) if (name := f"free {n}") not in taken)
    found: list[TracedPoints] = []
    for key in keys:
        at = walk.points(f"{key}.at")
        if at is None:
            raise AssertionError("points without figures are a problem by themselves")
        lay = ""
        if walk.text(f"{key}.frame") == "free":
            lay = walk.text(f"{key}.lay") or next(fresh)
        sigma = walk.mm(f"{key}.sigma")
        piece, edge = walk.text(f"{key}.piece"), walk.text(f"{key}.edge")
        points = TracedPoints(piece, edge, at, lay=lay, side=walk.text(f"{key}.side"))
        off_centre = walk.mm(f"{key}.off_centre")
        given = {"sigma_mm": sigma, "off_centre_mm": off_centre}
        found.append(replace(points, **{name: mm for name, mm in given.items() if mm is not None}))
    return tuple(found)


def _finish(kind: Kind, walk: Walk) -> dict[str, dict[str, str]]:
    found: dict[str, dict[str, str]] = {}
    for finish in kind.finishes:
        for what in ("recorded_at", "finish"):
            value = walk.text(f"garment.{finish.name}_{what}")
            if value:
                found.setdefault(finish.name, {})[what] = value
    return found


def _finish_lengths(kind: Kind, walk: Walk) -> dict[str, dict[str, float]]:
    found: dict[str, dict[str, float]] = {}
    for finish in kind.finishes:
        band = "band" if len(kind.finishes) == 1 else f"band.{finish.name}"
        for what, value in (
            ("old_width", walk.mm(f"garment.{finish.name}_finish_width")),
            ("band_cut_width", walk.mm(f"{band}.cut_width")),
            ("band_ratio", walk.share(f"{band}.ratio")),
        ):
            if value is not None:
                found.setdefault(finish.name, {})[what] = value
    return found


def _fabric(walk: Walk) -> Fabric:
    usual = Fabric()
    return Fabric(
        walk.text("fabric.construction", usual.construction),
        walk.share("fabric.stretch_across"),
        walk.share("fabric.stretch_along"),
    )


def _cloths(walk: Walk) -> dict[str, Cloth]:
    found: dict[str, Cloth] = {}
    own = any(f"cloth.{key.name}" in walk.values for key in walk.tables["cloth"].keys)
    for name in (*(["main"] if own else []), *walk.cloths):
        table = "cloth" if name == "main" and own else f"cloth.{name}"
        found[name] = _cloth(walk, table)
    return found


def _cloth(walk: Walk, table: str) -> Cloth:
    usual = Cloth()

    def mm(key: str, default: float = 0.0) -> float:
        found = walk.mm(f"{table}.{key}")
        return default if found is None else found

    def rows(key: str) -> list[list[float]]:
        found = walk.points(f"{table}.{key}")
        return [] if found is None else found.tolist()

    return Cloth(
        width_mm=mm("width", usual.width_mm),
        folding=walk.text(f"{table}.folding", usual.folding),
        nap=walk.flag(f"{table}.nap"),
        length_mm=walk.mm(f"{table}.length"),
        fold_depth_mm=walk.mm(f"{table}.fold_depth"),
        shrinkage=walk.share(f"{table}.shrinkage") or 0.0,
        price=walk.share(f"{table}.price"),
        currency=walk.text(f"{table}.currency"),
        flaws=tuple((x, y, r) for x, y, r in rows("flaws")),
        flaws_across=tuple((a, b) for a, b in rows("flaws_across")),
        flaws_along=tuple((a, b) for a, b in rows("flaws_along")),
        outline=tuple((x, y) for x, y in rows("outline")),
        holes=tuple(tuple((x, y) for x, y in ring.tolist()) for ring in walk.rings(f"{table}.holes")),
        repeat_along_mm=mm("repeat_along"),
        repeat_across_mm=mm("repeat_across"),
        stripe_mm=mm("stripe"),
        match=walk.names(f"{table}.match"),
    )


def _grain(walk: Walk) -> dict[str, float | str]:
    read = {key.name: walk.values.get(f"grain.{key.name}") for key in walk.tables["grain"].keys}
    return {name: value for name, value in read.items() if isinstance(value, float | str)}

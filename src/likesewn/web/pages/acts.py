"""What a person can do about a finding: for each code of truing and cutting, the buttons that go with it.

An act changes the garment (undo takes it back) or leads to the figure or choice that the finding is about.
A finding of a new code has to be put into ``ACTS``; a test reads the codes out of the stages.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TypeAlias

from likesewn.garment import Finding, Kind, Record
from likesewn.garment.editing import Change
from likesewn.garment.kind import FinishKind, Measure, PieceKind
from likesewn.garment.writing import toml_key
from likesewn.units import format_length
from likesewn.web.figures import bare, figure_value
from likesewn.web.pages.tape import title_of
from likesewn.web.scenes.wording import plain
from likesewn.web.words import all_words, say

__all__ = ["ACTS", "Act", "acts_for", "measures_at", "measures_named"]

MOST = 4
"""Most figures that one finding leads to: more would be a list, not advice."""


@dataclass(frozen=True, slots=True)
class Act:
    """One thing to do about a finding.

    Attributes:
        words: What its button says.
        to: Page that it leads to, such as ``record?measure=chest_width``; empty where it changes.
        changes: New values by dotted key, for one that changes the garment file.
        said: What was changed, in a few words, for undo.
    """

    words: str
    to: str = ""
    changes: Mapping[str, Change] = field(default_factory=lambda: MappingProxyType({}))
    said: str = ""


Ways: TypeAlias = Callable[[Finding, Record, Kind], Iterable[Act]]


def acts_for(finding: Finding, record: Record, kind: Kind) -> tuple[Act, ...]:
    """Return what can be done about a finding, the likeliest first; each act once.

    Args:
        finding: The finding.
        record: The record that it was found in.
        kind: The record's kind, as it is kept: not opened out.
    """
    found: dict[str, Act] = {}
    for act in ACTS[finding.code](finding, record, kind):
        found.setdefault(act.words, act)
    return tuple(found.values())


def measures_named(names: Iterable[str], kind: Kind) -> list[str]:
    """Return the keys of the measures that some names mean: keys, or titles as truing writes them."""
    titles = {measure.title: key for key, measure in kind.measures.items()}
    for key, measure in kind.tape_keys().items():
        if key != measure.key:
            titles[f"{measure.title}, {measure.variants()[key][0]}"] = key
    keys = kind.tape_keys()
    found = [name if name in keys else titles.get(name, "") for name in names]
    return [key for key in dict.fromkeys(found) if key]


def measures_at(where: str, record: Record, kind: Kind) -> list[str]:
    """Return the recorded measures that shape a place: a piece, ``piece.edge``, a seam, corner or join.

    Those taken on the place itself come first; where none was recorded, those that could be.
    """
    places = list(_places(where, kind))
    touching = [
        key
        for piece, edge in places
        for key, measure in kind.tape_keys().items()
        if key == measure.key or key in record.tape
        if _touches(measure, piece, edge)
    ]
    keys = list(dict.fromkeys(touching))
    taken = [key for key in keys if key in record.tape]
    return (taken or [key for key in keys if kind.tape_keys()[key].op != "level"])[:MOST]


def _places(where: str, kind: Kind) -> Iterator[tuple[PieceKind, str]]:
    """Yield pieces, each with an edge or nothing, that a finding's place stands for."""
    where = where.removeprefix("left ")
    for seam in kind.seams:
        if seam.name == where or where.endswith(f" over the {seam.name} seam"):
            for end in (seam.left, seam.right):
                piece, edge = end.split(".")
                yield kind.piece(piece), edge
    for piece in kind.pieces:
        # an opened piece's halves carry ``left_``, and a square or smooth corner is written "piece corner"
        for name in (piece.name, f"left_{piece.name}"):
            if where == name or where.startswith(f"{name} "):
                yield piece, ""
            elif where.startswith(f"{name}."):
                yield piece, where.removeprefix(f"{name}.").removeprefix("left_")


def _touches(measure: Measure, piece: PieceKind, edge: str) -> bool:
    if piece.name not in measure.pieces:
        return False
    if not edge or edge in measure.edges:
        return True
    own = [one for one in piece.edges if one.name == edge]
    return any({one.start, one.end} & set(measure.corners) for one in own)


# --- acts that several findings share ---------------------------------------------------------------------


def _measure(key: str, kind: Kind) -> Act:
    return Act(say("true.measure_again", title=_small(title_of(kind, key))), f"record?measure={key}")


def _small(title: str) -> str:
    return title[:1].lower() + title[1:]


def _field(dotted: str, words: str) -> Act:
    return Act(words, f"record?field={dotted}")


def _set(words: str, **changes: Change) -> Act:
    return Act(words, changes=changes, said=_small(words))


def _change(words: str, key: str, value: Change) -> Act:
    return Act(words, changes={key: value}, said=_small(words))


def _cut_page(words: str, where: str = "") -> Act:
    return Act(words, f"cut?edge={where}" if where else "cut")


def _leave_out(key: str, record: Record, kind: Kind) -> Iterator[Act]:
    """Leave a figure out, or trust it less, where it can be done without."""
    measure, figure = kind.tape_keys()[key], record.tape.get(key)
    if figure is None:
        return
    title = _small(title_of(kind, key))
    if not measure.needed:
        yield _change(say("true.leave_out", title=title), f"tape.{key}", None)
    if figure.sigma_mm is None:
        value = figure_value(bare(figure.text), "unsure", measure, record.unit)
        yield _change(say("true.mark_unsure", title=title), f"tape.{key}", value)


def _finish_of(finding: Finding, kind: Kind) -> FinishKind | None:
    """Return the finished opening that a finding is about, by its title or by a place on its edges."""
    for finish in kind.finishes:
        if finding.where.lower().startswith(finish.title.lower()):
            return finish
    place = _place_of(finding, kind)
    return next((finish for finish in kind.finishes if place and place in finish.edges), None)


def _place_of(finding: Finding, kind: Kind) -> str:
    """Return ``piece.edge`` for a place in words such as ``Front, neckline``; empty where it is none."""
    title, _, edge = finding.where.partition(", ")
    for piece in kind.pieces:
        if piece.title == title:
            names = {plain(one.name): one.name for one in piece.edges}
            if edge in names:
                return f"{piece.name}.{names[edge]}"
    return ""


def _band_key(finish: FinishKind, kind: Kind, name: str) -> str:
    return f"band.{name}" if len(kind.finishes) == 1 else f"band.{toml_key(finish.name)}.{name}"


# --- one way of doing for each code -----------------------------------------------------------------------


def _disagree(finding: Finding, record: Record, kind: Kind) -> Iterator[Act]:
    keys = measures_named(finding.where.split(", "), kind)
    yield from (_measure(key, kind) for key in keys)
    if keys:
        yield from _leave_out(keys[0], record, kind)


def _named(finding: Finding, _: Record, kind: Kind) -> Iterator[Act]:
    yield from (_measure(key, kind) for key in measures_named([finding.where], kind))


def _shaped(finding: Finding, record: Record, kind: Kind) -> Iterator[Act]:
    yield from (_measure(key, kind) for key in measures_at(finding.where, record, kind))
    if record.points:
        yield from _traced(finding, record, kind)


def _halves(finding: Finding, record: Record, kind: Kind) -> Iterator[Act]:
    if record.symmetric:
        yield _set(say("true.keep_difference"), **{"garment.symmetric": False})
    yield from _traced(finding, record, kind)


def _traced(finding: Finding, record: Record, _: Kind) -> Iterator[Act]:
    if record.photos:
        yield Act(say("true.to_photographs"), "record?field=photos")
    del finding
    yield Act(say("true.to_points"), "record?field=file")


def _girth(finding: Finding, _: Record, kind: Kind) -> Iterator[Act]:
    finish = _finish_of(finding, kind)
    if finish is not None and finish.body:
        words = all_words().get(f"record.key_{finish.body}", finish.body)
        yield _field(f"wearer.{finish.body}", say("true.give", what=_small(words)))
    yield from _stretch(finding, _, kind)


def _stretch(_: Finding, record: Record, kind: Kind) -> Iterator[Act]:
    del record, kind
    yield _field("fabric.stretch_across", say("true.give", what=_small(say("record.key_stretch_across"))))


def _stretch_or_finish(finding: Finding, record: Record, kind: Kind) -> Iterator[Act]:
    yield from _stretch(finding, record, kind)
    yield from _other_finishes(finding, record, kind)


def _other_finishes(finding: Finding, record: Record, kind: Kind) -> Iterator[Act]:
    finish = _finish_of(finding, kind)
    if finish is None:
        return
    now = record.finish.get(finish.name, {}).get("finish", finish.finishes[0])
    for choice in finish.finishes:
        if choice != now:
            words = say("true.finish_with", title=_small(finish.title), finish=choice)
            yield _change(words, f"garment.{finish.name}_finish", choice)


def _old_width(finding: Finding, _: Record, kind: Kind) -> Iterator[Act]:
    finish = _finish_of(finding, kind)
    for one in kind.finishes if finish is None else (finish,):
        words = say("record.key_finish_width", title=one.title)
        yield _field(f"garment.{one.name}_finish_width", say("true.give", what=_small(words)))


def _not_moved(finding: Finding, record: Record, kind: Kind) -> Iterator[Act]:
    yield from _old_width(finding, record, kind)
    for where in finding.where.split(", "):
        yield from (_measure(key, kind) for key in measures_at(where, record, kind)[:2])
    for finish in kind.finishes:
        if set(finding.where.split(", ")) & set(finish.edges):
            yield from _other_finishes(Finding(finding.code, finding.weight, finish.title, ""), record, kind)


def _allowance(finding: Finding, _: Record, kind: Kind) -> Iterator[Act]:
    yield _cut_page(say("true.to_allowance"), _place_of(finding, kind))


def _wider_hem(finding: Finding, record: Record, kind: Kind) -> Iterator[Act]:
    place = _place_of(finding, kind)
    if place and finding.limit is not None:
        length = format_length(finding.limit, record.unit)
        yield _change(say("true.allow", length=length), f"allowances.{toml_key(place)}", length)
    yield from _allowance(finding, record, kind)


def _band(finding: Finding, record: Record, kind: Kind) -> Iterator[Act]:
    finish = _finish_of(finding, kind)
    if finish is not None:
        given = record.finish_lengths.get(finish.name, {})
        if finding.code == "band-too-narrow" and "band_cut_width" in given:
            yield _change(say("true.band_width"), _band_key(finish, kind, "cut_width"), None)
        if finding.code != "band-too-narrow" and "band_ratio" in given:
            yield _change(say("true.band_length"), _band_key(finish, kind, "ratio"), None)
    yield _cut_page(say("true.to_band"))


def _fabric(_: Finding, record: Record, kind: Kind) -> Iterator[Act]:
    del record, kind
    yield _field("fabric.construction", say("true.to_fabric"))


ACTS: Mapping[str, Ways] = MappingProxyType(
    {
        "allowance-too-large": _allowance,
        "band-longer": _stretch_or_finish,
        "band-stands-away": _stretch_or_finish,
        "band-strain": _band,
        "band-too-narrow": _band,
        "band-too-short": _band,
        "bias-strip": _fabric,
        "edge-not-moved": _not_moved,
        "edge-turned": _shaped,
        "edge-vanishes": _shaped,
        "figure-not-met": _named,
        "figures-disagree": _disagree,
        "fold-not-traced": _traced,
        "girth-assumed": _girth,
        "halves-differ": _halves,
        "level-missed": _named,
        "mark-at-corner": _allowance,
        "narrow-hem": _wider_hem,
        "no-room-for-facing": _other_finishes,
        "not-sewable": _shaped,
        "off-centre": _traced,
        "old-finish-assumed": _old_width,
        "opening-too-small": _girth,
        "outline-crosses": _shaped,
        "point-off": _traced,
        "points-off": _traced,
        "seam-twisted": _halves,
        "stretch-assumed": _stretch,
    }
)
"""What can be done about a finding, by its code."""

"""The tables of the True page: measures, edges and corners, the walk of the seams, and what truing moved."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager

from likesewn.garment import Angle, Kind, MeasureValue, PatternPiece, SeamLengths
from likesewn.truing import Explained
from likesewn.units import format_length
from likesewn.web.scenes.wording import moved_words, plain
from likesewn.web.widgets import button, node, text
from likesewn.web.words import say

__all__ = ["corners", "edges", "measures", "moves", "walk"]

SURE = 2.0
"""Standard errors to each side within which a value lies 95 times in 100."""

MOVED = 0.05
"""Moves below this, mm, show as nothing."""

FINE = {"mm": 2, "cm": 3}
"""Decimals of lengths whose difference matters."""


@contextmanager
def _table(caption: str, heads: Iterable[str], *, hidden_caption: bool = False) -> Iterator[None]:
    box = node("div", "ls-scroll", tabindex="0", role="region", aria_label=caption)
    with box, node("table", "ls-table"):
        text(caption, "caption", "ls-unseen" if hidden_caption else "")
        with node("thead"), node("tr"):
            for i, head in enumerate(heads):
                text(head, "th", "ls-num" if i else "", scope="col")
        with node("tbody"):
            yield


def _figure(mm: float, unit: str, decimals: int | None = None) -> str:
    if unit == "in":
        return format_length(mm, unit, denominator=8 if decimals is None else 64, with_unit=False)
    return format_length(mm, unit, decimals=max(decimals or 0, 1), with_unit=False)


def _spread(mm: float, unit: str) -> str:
    """Return an uncertainty; it never shows as nothing."""
    least = {"mm": 0.1, "cm": 1.0}.get(unit, 25.4 / 16)
    if unit == "in":
        return format_length(max(mm, least), unit, denominator=16, with_unit=False)
    return format_length(max(mm, least), unit, decimals=1, with_unit=False)


def measures(
    explained: Explained, kind: Kind, unit: str, off: set[str], lead: Callable[[str], object]
) -> None:
    """Show each measure: asked, trued, difference, how sure.

    Args:
        explained: The answer.
        kind: The garment's kind, not opened out.
        unit: The unit.
        off: Keys of the measures that are out of line.
        lead: Called with the key of the measure whose field is wanted.
    """
    heads = [say(f"true.head_{head}") for head in ("measure", "asked", "trued", "difference", "sure")]
    with _table(say("true.measures_in", unit=say(f"record.unit_{unit}")), heads, hidden_caption=True):
        for one in explained.pattern.measures:
            _measure_row(one, kind, unit, lead, off=one.key in off)


def _measure_row(
    one: MeasureValue, kind: Kind, unit: str, lead: Callable[[str], object], *, off: bool
) -> None:
    marks = " ".join(edges_of(one.key, kind))
    with node("tr", "ls-off" if off else "", data_row=f"measure {one.key}", data_marks=marks):
        with node("th", scope="row"):
            known = one.key in kind.tape_keys()
            if known:
                button(
                    one.title,
                    lambda: lead(one.key),
                    "plain ls-cell",
                    label=say("record.to_field", what=one.title),
                )
            else:
                text(one.title, "span")
            if off:
                text(say("true.off"), "span", "ls-needed")
        if one.asked_mm is None:
            with node("td", "ls-num"):
                text("–", "span", aria_hidden="true")
                text(say("true.not_asked"), "span", "ls-unseen")
        else:
            text(_figure(one.asked_mm, unit), "td", "ls-num")
        text(_figure(one.value_mm, unit), "td", "ls-num")
        difference = None if one.asked_mm is None else one.value_mm - one.asked_mm
        text(_signed(difference, unit), "td", "ls-num")
        text(f"± {_spread(SURE * one.sigma_mm, unit)}", "td", "ls-num")


def _signed(mm: float | None, unit: str, decimals: int | None = None) -> str:
    if mm is None:
        return ""
    words = _figure(abs(mm), unit, decimals)
    if words.strip("0.") == "":
        return words
    return f"{'+' if mm > 0 else '−'}{words}"


def edges_of(key: str, kind: Kind) -> list[str]:
    """Return the edges, each ``piece.edge``, that a measure runs along or ends at."""
    measure = kind.tape_keys().get(key)
    if measure is None:
        return []
    found: list[str] = []
    for name in measure.variants().get(key, measure.pieces):
        piece = kind.piece(name)
        own = [edge.name for edge in piece.sewn_edges if edge.name in measure.edges]
        corners = set(measure.corners)
        ends = [edge.name for edge in piece.sewn_edges if {edge.start, edge.end} & corners]
        found += [f"{name}.{edge}" for edge in own or ends]
    return found


def edges(explained: Explained, unit: str) -> None:
    """Show each edge's length and how sure it is."""
    pieces = {piece.name: piece for piece in explained.pattern.pieces}
    heads = (say("true.head_edge"), say("true.head_length"), say("true.head_sure"))
    with _table(say("true.edges_in", unit=say(f"record.unit_{unit}")), heads):
        for one in explained.edges:
            piece, edge = one.name.split(".")
            with node("tr", data_row=f"edge {one.name}", data_marks=one.name):
                text(_of(edge, pieces[piece]), "th", scope="row")
                text(_figure(one.length_mm, unit), "td", "ls-num")
                text(f"± {_spread(SURE * one.sigma_mm, unit)}", "td", "ls-num")


def corners(explained: Explained, unit: str) -> None:
    """Show each corner's place and how sure it is."""
    pieces = {piece.name: piece for piece in explained.pattern.pieces}
    heads = [say(f"true.head_{head}") for head in ("corner", "across", "down")]
    with _table(say("true.corners_in", unit=say(f"record.unit_{unit}")), heads):
        for one in explained.corners:
            with node("tr"):
                text(_of(one.corner, pieces[one.piece]), "th", scope="row")
                for at, sigma in zip(one.at, one.sigma_mm, strict=True):
                    text(f"{_figure(at, unit)} ± {_spread(SURE * sigma, unit)}", "td", "ls-num")


def _of(name: str, piece: PatternPiece) -> str:
    return say("true.of", what=plain(name).capitalize(), piece=piece.title.lower())


def walk(explained: Explained, unit: str) -> None:
    """Show the two lengths of each sewn pair, and the angles that sewing demands, before and after."""
    before, pattern = explained.before, explained.pattern
    pieces = {piece.name: piece for piece in pattern.pieces}
    heads = [say(f"true.head_{head}") for head in ("seam", "one", "other", "gap")]
    told = {one.name: one for one in before.seams} if before else {}
    with _table(say("true.walk_in", unit=say(f"record.unit_{unit}")), heads):
        for one in pattern.seams:
            _seam_rows(one, told.get(one.name), pieces, unit)
    for key, now, was in (
        ("square", pattern.square_corners, before.square_corners if before else ()),
        ("smooth", pattern.smooth_joins, before.smooth_joins if before else ()),
    ):
        if now:
            _angles(key, now, {angle.name: angle.degrees for angle in was})


def _seam_rows(
    one: SeamLengths, was: SeamLengths | None, pieces: Mapping[str, PatternPiece], unit: str
) -> None:
    marks = " ".join(dict.fromkeys((one.left, one.right)))
    ends = [_of(end.split(".")[1], pieces[end.split(".")[0]]) for end in (one.left, one.right)]
    about = say("true.sewn_to", one=ends[0], other=ends[1][:1].lower() + ends[1][1:])
    if one.ease_mm:
        about += say("true.with_ease", ease=format_length(one.ease_mm, unit))
    row = node("tr", "ls-group", data_row=f"seam {one.name}", data_marks=marks)
    with row, node("th", scope="colgroup", colspan="4"):
        text(one.name[:1].upper() + one.name[1:], "span")
        text(about, "span", "ls-soft ls-small ls-block")
    for words, lengths in ((say("true.before"), was), (say("true.after"), one)):
        if lengths is None:
            continue
        with node("tr", data_row=f"seam {one.name}", data_marks=marks):
            text(words, "th", "ls-inner", scope="row")
            fine = FINE.get(unit, 1)
            text(_figure(lengths.left_mm, unit, fine), "td", "ls-num")
            text(_figure(lengths.right_mm, unit, fine), "td", "ls-num")
            text(_signed(lengths.difference_mm, unit, fine), "td", "ls-num")


def _angles(key: str, now: Iterable[Angle], was: Mapping[str, float]) -> None:
    heads = [say(f"true.head_{head}") for head in (key, "before", "after")]
    with _table(say(f"true.{key}"), heads):
        for one in now:
            with node("tr"):
                text(plain(one.name)[:1].upper() + plain(one.name)[1:], "th", scope="row")
                text(f"{was[one.name]:.1f}°" if one.name in was else "–", "td", "ls-num")
                text(f"{one.degrees:.2f}°", "td", "ls-num")


def moves(explained: Explained, unit: str, most: int) -> None:
    """Show what truing moved most."""
    pieces = {piece.name: piece for piece in explained.pattern.pieces}
    told = [move for move in explained.moves if abs(move.mm) >= MOVED][:most]
    if not told:
        text(say("true.no_moves"))
        return
    with node("ul", "ls-plain"):
        for move in told:
            where = f"{move.piece}.{move.edge}"
            words = f"{_of(move.edge, pieces[move.piece])}: {moved_words(move.mm, move.near, unit)}"
            text(words, "li", data_row=f"move {where}", data_marks=where)

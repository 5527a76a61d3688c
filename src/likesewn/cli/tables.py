"""The tables that ``check`` prints: measures, seams, angles, what truing moved, what to measure next."""

import sys
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from rich.console import Console
from rich.table import Table

from likesewn.units import format_length, format_with_sigma

if TYPE_CHECKING:
    from likesewn.garment import Angle, SeamLengths
    from likesewn.truing import Explained, Move

__all__ = ["print_walk"]

EXACT_MM = 1e-6
"""A standard error below this is rounding."""

MOVED_MM = 0.5
"""Moves below this are not listed: no chalk line is drawn more finely."""


def print_walk(explained: "Explained", unit: str, *, everything: bool) -> None:
    """Print what walking a trued garment tells, in the person's unit; every edge and corner if asked for."""
    console = Console(width=None if sys.stdout.isatty() else 100)
    tables = [*_tables(explained, unit), *(_more_tables(explained, unit) if everything else ())]
    for title, headings, rows in tables:
        table = Table(title=title, title_justify="left", title_style="bold", box=None, pad_edge=False)
        for i, heading in enumerate(headings):
            table.add_column(heading, justify="right" if i else "left")
        for row in rows:
            table.add_row(*row)
        if table.row_count:
            console.print(table)
            console.print()


_Table = tuple[str, Sequence[str], Iterable[Sequence[str]]]


def _tables(explained: "Explained", unit: str) -> Iterator[_Table]:
    yield "Measures (± one standard error)", ("Measure", "Recorded", "Pattern"), _measures(explained, unit)
    heads = ("Seam", "One edge", "The other", "Ease", "Off before truing", "Off after")
    yield "Sewn pairs", heads, _seams(explained, unit)
    heads = ("Corner or join", "Before truing", "After", "Wanted")
    yield "Square corners and smooth joins, in degrees", heads, _angles(explained)
    heads = ("Seam line", "Moved most", "Where")
    yield "What truing moved", heads, _moves(explained.moves, unit)
    heads = ("Measure", "Seam lines known to, now", "Then")
    yield "What to measure next", heads, _next(explained, unit)


def _more_tables(explained: "Explained", unit: str) -> Iterator[_Table]:
    edges = [(_words(e.name), format_with_sigma(e.length_mm, e.sigma_mm, unit)) for e in explained.edges]
    yield "Edges (± one standard error)", ("Edge", "Length"), edges
    corners = [
        (
            f"{c.piece} {_words(c.corner)}",
            *(_place(*pair, unit) for pair in zip(c.at, c.sigma_mm, strict=True)),
        )
        for c in explained.corners
    ]
    heads = ("Corner", "From the fold or grain line", "Down")
    yield "Corners (± one standard error)", heads, corners


def _place(mm: float, sigma_mm: float, unit: str) -> str:
    """Return a coordinate; one that is so by construction has no error."""
    if sigma_mm < EXACT_MM:
        return format_length(mm, unit)
    return format_with_sigma(mm, sigma_mm, unit)


def _words(name: str) -> str:
    return name.replace("_", " ").replace(":", " ").replace(".", " ")


def _measures(explained: "Explained", unit: str) -> Iterator[Sequence[str]]:
    for m in explained.pattern.measures:
        asked = "" if m.asked_mm is None else format_length(m.asked_mm, unit)
        yield m.title, asked, format_with_sigma(m.value_mm, m.sigma_mm, unit)


def _small(mm: float, unit: str) -> str:
    """Return a small length: metric people read it in mm."""
    return format_length(mm, "in", denominator=16) if unit == "in" else format_length(mm, "mm", decimals=1)


def _seams(explained: "Explained", unit: str) -> Iterator[Sequence[str]]:
    sure = {edge.name: edge.sigma_mm for edge in explained.edges}
    seams: Sequence[SeamLengths] = explained.pattern.seams
    before = explained.before.seams if explained.before else [None] * len(seams)
    for s, b in zip(seams, before, strict=True):
        yield (
            s.name,
            format_with_sigma(s.left_mm, sure[s.left], unit),
            format_with_sigma(s.right_mm, sure[s.right], unit),
            _small(s.ease_mm, unit),
            _small(b.difference_mm, unit) if b else "",
            _small(s.difference_mm, unit),
        )


def _angles(explained: "Explained") -> Iterator[Sequence[str]]:
    after: list[Angle] = [*explained.pattern.square_corners, *explained.pattern.smooth_joins]
    walked = explained.before
    before = [*walked.square_corners, *walked.smooth_joins] if walked else [None] * len(after)
    for a, b in zip(after, before, strict=True):
        yield _words(a.name), f"{b.degrees:.1f}" if b else "", f"{a.degrees:.2f}", f"{a.wanted:.0f}"


def _moves(moves: "Iterable[Move]", unit: str) -> Iterator[Sequence[str]]:
    for m in moves:
        if abs(m.mm) >= MOVED_MM:
            way = "out" if m.mm > 0 else "in"
            where = f"near the {_words(m.near)}" if m.near else "in the middle"
            yield f"{m.piece} {_words(m.edge)}", f"{_small(abs(m.mm), unit)} {way}", where


def _next(explained: "Explained", unit: str) -> Iterator[Sequence[str]]:
    for n in explained.next_measures:
        title = n.title + (", again" if n.again else "")
        if n.level:
            title += f", and the {explained.pattern.kind.measures[n.level].title.lower()} where you took it"
        yield title, f"± {_small(n.before_mm, unit)}", f"± {_small(n.after_mm, unit)}"

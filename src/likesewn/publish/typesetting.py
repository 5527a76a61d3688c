"""A line of lettering as glyphs: which typeface sets each letter, in which order, and where.

Text is ordered by the Unicode bidirectional algorithm (UAX 9, as python-bidi has it) and shaped word by word
by HarfBuzz, so that Arabic joins and Devanagari stacks. Lengths are ems: shares of the lettering's size.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, pairwise

import uharfbuzz as hb
from bidi import algorithm as bidi
from bidi.mirror import MIRRORED

from likesewn.garment import Finding, Weight
from likesewn.publish import lettering
from likesewn.publish.typefaces import Typeface, all_faces, face_for

__all__ = ["Glyph", "Line", "Run", "set_line", "unprintable"]

_NO_LEVEL = frozenset({0x200C, 0x200D})
"""What the bidirectional algorithm removes (rule X9) of that which lettering keeps."""

_NEAR = 1e-6
_MANY = 20.0
"""Width of lettering, ems, that a finding quotes."""


@dataclass(frozen=True, slots=True)
class Glyph:
    """One glyph.

    Attributes:
        number: Its number in the typeface.
        text: The letters that it stands for, to copy and search by; empty where a neighbour has them.
    """

    number: int
    text: str


@dataclass(frozen=True, slots=True)
class Run:
    """Glyphs of one typeface that follow one another by their own advances.

    Attributes:
        typeface: The typeface.
        glyphs: The glyphs, from left to right.
        x: Where the first one starts, ems from the start of the line.
        y: Its height above the baseline, ems.
    """

    typeface: Typeface
    glyphs: tuple[Glyph, ...]
    x: float
    y: float


@dataclass(frozen=True, slots=True)
class Line:
    """A line of lettering, ready to draw.

    Attributes:
        runs: Its runs, from left to right.
        width: Its width, ems.
    """

    runs: tuple[Run, ...]
    width: float


class _Known:
    """The letters that some typeface has; installed ones are asked only for what the carried ones lack."""

    def __init__(self, *, bold: bool) -> None:
        self._bold = bold

    def __contains__(self, letter: object) -> bool:
        return any(letter in face.covers for face in all_faces(bold=self._bold))


def unprintable(texts: Iterable[str]) -> tuple[Finding, ...]:
    """Return a finding where texts hold letters that no typeface has, so that PDF pages show question marks.

    Args:
        texts: What is printed.
    """
    letters = {c for text in texts for c in lettering.sound(text) if not c.isascii()}
    known = _Known(bold=False)
    lacking = "".join(c for c in sorted(letters) if lettering.UNKNOWN in lettering.printable(c, known))
    if not lacking:
        return ()
    return (
        Finding(
            "no-typeface",
            Weight.LOOK,
            "lettering",
            f"No typeface on this computer has {lettering.shorten(lacking, 1.0, _MANY)}: the PDF pages print"
            " a question mark for each such letter. The SVG and HTML files are right.",
            todo="Install a typeface that has them (Noto is free and has nearly all), or write the name in"
            " other letters.",
        ),
    )


@lru_cache(maxsize=4096)
def set_line(text: str, *, bold: bool = False) -> Line:
    """Return a text as it is set on one line.

    Args:
        text: The text, in reading order; a letter that no typeface has becomes a question mark.
        bold: Whether to set it bold.
    """
    plain = lettering.printable(text, _Known(bold=bold))
    placed: list[tuple[Typeface, Glyph, float, float, float]] = []
    pen = 0.0
    for word, level in _in_order(plain):
        for typeface, part in _by_face(word, bold=bold, backwards=bool(level % 2)):
            for glyph, advance, right, up in _shaped(typeface, part, backwards=bool(level % 2)):
                placed.append((typeface, glyph, pen + right, up, advance))
                pen += advance
    return Line(tuple(_runs(placed)), pen)


def _runs(placed: list[tuple[Typeface, Glyph, float, float, float]]) -> Iterator[Run]:
    start, end, height = 0.0, 0.0, 0.0
    typeface: Typeface | None = None
    glyphs: list[Glyph] = []
    for face, glyph, x, y, _ in placed:
        if typeface is not None and (face is not typeface or abs(x - end) > _NEAR or abs(y - height) > _NEAR):
            yield Run(typeface, tuple(glyphs), start, height)
            typeface = None
        if typeface is None:
            typeface, glyphs, start, end, height = face, [], x, x, y
        glyphs.append(glyph)
        end += face.font.get_glyph_h_advance(glyph.number) / face.units
    if typeface is not None:
        yield Run(typeface, tuple(glyphs), start, height)


def _in_order(text: str) -> Iterator[tuple[str, int]]:
    """Yield words and the spaces between them from left to right, each with its level (UAX 9, rule L2)."""
    parts: list[tuple[str, int]] = []
    for (level, _), group in groupby(
        zip(text, _levels(text), strict=True), key=lambda one: (one[1], one[0].isspace())
    ):
        parts.append(("".join(char for char, _ in group), level))
    for lowest in range(max((level for _, level in parts), default=0), 0, -1):
        turned: list[tuple[str, int]] = []
        for high, group in groupby(parts, key=lambda part: part[1] >= lowest):
            turned += list(group)[:: -1 if high else 1]
        parts = turned
    yield from parts


def _levels(text: str) -> list[int]:
    """Return the embedding level of each character; what has none of its own takes its neighbour's."""
    if text.isascii():
        return [0] * len(text)
    base = bidi.get_base_level(text)
    storage = {**bidi.get_empty_storage(), "base_level": base, "base_dir": "LR"[base]}
    bidi.get_embedding_levels(text, storage)
    bidi.explicit_embed_and_overrides(storage)
    for resolve in (bidi.resolve_weak_types, bidi.resolve_neutral_types, bidi.resolve_implicit_levels):
        resolve(storage, False)  # noqa: FBT003 - no printing of steps
    resolved = iter([char["level"] for char in storage["chars"]])
    levels: list[int] = []
    for char in text:
        levels.append((levels or [base])[-1] if ord(char) in _NO_LEVEL else next(resolved))
    return levels


def _by_face(word: str, *, bold: bool, backwards: bool) -> Iterator[tuple[Typeface, str]]:
    """Yield a word's parts by typeface from left to right; one that has all of it is better than two."""
    whole = face_for(frozenset(map(ord, word)) - lettering.UNSEEN, bold=bold)
    if whole is not None:
        yield whole, word
        return
    parts: list[tuple[Typeface, str]] = []
    for char in word:
        if parts and (ord(char) in lettering.UNSEEN or ord(char) in parts[-1][0].covers):
            parts[-1] = parts[-1][0], parts[-1][1] + char
            continue
        face = face_for(frozenset({ord(char)}) - lettering.UNSEEN, bold=bold)
        if face is not None:
            parts.append((face, char))
    yield from reversed(parts) if backwards else parts


def _shaped(typeface: Typeface, text: str, *, backwards: bool) -> Iterator[tuple[Glyph, float, float, float]]:
    """Yield each glyph from left to right with its advance and how far it is moved right and up."""
    buffer = hb.Buffer()
    buffer.cluster_level = hb.BufferClusterLevel.MONOTONE_CHARACTERS
    buffer.add_str(text)
    buffer.guess_segment_properties()
    buffer.direction = "rtl" if backwards else "ltr"
    # Labels are given room by a table of advances, which knows no kerning.
    hb.shape(typeface.font, buffer, {"kern": False})
    infos, positions = buffer.glyph_infos, buffer.glyph_positions
    said = _letters_of(typeface, text, [(info.codepoint, info.cluster) for info in infos])
    for info, position, letters in zip(infos, positions, said, strict=True):
        yield (
            Glyph(info.codepoint, letters),
            position.x_advance / typeface.units,
            position.x_offset / typeface.units,
            position.y_offset / typeface.units,
        )


def _letters_of(typeface: Typeface, text: str, shaped: list[tuple[int, int]]) -> list[str]:
    """Return the letters that each glyph stands for.

    Glyphs and letters belong together in clusters. A glyph that is a letter's own shape, or its mirrored one,
    stands for that letter; the first of the others stands for all letters that are left.

    Args:
        typeface: The typeface.
        text: The letters.
        shaped: Number of each glyph and where its cluster starts in the text.
    """
    own = typeface.font.get_nominal_glyph
    starts = sorted({start for _, start in shaped})
    left = {start: text[start:end] for start, end in pairwise([*starts, len(text)])}
    said = [""] * len(shaped)
    others: list[int] = []
    for i, (number, start) in enumerate(shaped):
        as_shown = {c: c for c in left[start]} | {MIRRORED[c]: c for c in left[start] if c in MIRRORED}
        shown = next((c for c in as_shown if own(ord(c)) == number), None)
        if shown is None:
            others.append(i)
            continue
        said[i] = shown
        left[start] = left[start].replace(as_shown[shown], "", 1)
    for i in others:
        start = shaped[i][1]
        said[i], left[start] = left[start], ""
    return said

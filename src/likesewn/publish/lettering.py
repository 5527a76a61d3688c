"""How wide lettering is, and what a font without a letter prints in its place.

One table of widths serves every format, so that a label which fits in one fits in all. The widths are
those of Bitstream Vera Sans, which the PDF pages carry inside them; it is a wide face, so the plain
sans-serif of a browser needs no more room.
"""

import unicodedata
from collections.abc import Container, Sequence

__all__ = ["ASCENT", "DESCENT", "UNKNOWN", "UNSEEN", "fold", "printable", "shorten", "sound", "width"]

ASCENT = 0.76
"""Height above the baseline as a share of the size."""

DESCENT = 0.24
"""Depth below the baseline as a share of the size."""

UNKNOWN = "?"
"""Stands where the font has no letter: a visible gap is better than a silent one."""

UNSEEN = frozenset({0x200C, 0x200D, 0x200E, 0x200F})
"""Zero-width non-joiner and joiner, and the marks of either direction: they have no shapes of their own, but
tell how their neighbours are shaped and ordered."""

_WIDE = 1.0
_OTHER = 0.75

# Advance widths of the characters 32 to 126, thousandths of the size.
_PLAIN = (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636,
    636, 636, 636, 636, 636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632,
    575, 775, 752, 295, 295, 656, 557, 863, 748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685,
    611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635, 615, 352, 635, 634, 278, 278, 579,
    278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636, 337, 636, 838,
)  # fmt: skip
_BOLD = (
    348, 456, 521, 838, 696, 1002, 872, 306, 457, 457, 523, 838, 380, 415, 380, 365, 696, 696, 696,
    696, 696, 696, 696, 696, 696, 696, 400, 400, 838, 838, 838, 580, 1000, 774, 762, 734, 830, 683,
    683, 821, 837, 372, 372, 775, 637, 995, 837, 850, 733, 850, 770, 720, 682, 812, 774, 1103, 771,
    724, 725, 457, 365, 457, 838, 500, 500, 675, 716, 593, 716, 678, 435, 716, 712, 343, 343, 665,
    343, 1042, 712, 687, 716, 716, 493, 595, 478, 712, 652, 924, 645, 652, 582, 712, 365, 712, 838,
)  # fmt: skip


def _advance(char: str, table: Sequence[int]) -> float:
    code = ord(char)
    if 32 <= code <= 126:
        return table[code - 32] / 1000.0
    if unicodedata.category(char) in {"Mn", "Me", "Cf", "Cc"}:
        return 0.0
    return _WIDE if unicodedata.east_asian_width(char) in {"W", "F"} else _OTHER


def width(text: str, size: float, *, bold: bool = False) -> float:
    """Return the width of ``text`` set at ``size`` mm, in mm; letters beyond ASCII are estimated."""
    table = _BOLD if bold else _PLAIN
    return size * sum(_advance(char, table) for char in text)


def shorten(text: str, size: float, room: float, *, bold: bool = False) -> str:
    """Return ``text`` on one line, cut short with an ellipsis where it is wider than ``room`` mm."""
    line = " ".join(text.split())
    if width(line, size, bold=bold) <= room:
        return line
    while line and width(line + "…", size, bold=bold) > room:
        line = line[:-1].rstrip()
    return line + "…"


def fold(text: str, size: float, room: float, *, bold: bool = False) -> tuple[str, ...]:
    """Return ``text`` broken between words into lines no wider than ``room`` mm.

    A word that is wider than the room stands alone, cut short.
    """
    lines: list[str] = []
    for word in text.split():
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width(longer, size, bold=bold) <= room:
            lines[-1] = longer
        else:
            lines.append(shorten(word, size, room, bold=bold))
    return tuple(lines)


def sound(text: str) -> str:
    """Return ``text`` without what no font shows and no file holds: control characters, halves of letters."""
    kept = (c for c in unicodedata.normalize("NFC", text) if unicodedata.category(c) not in {"Cc", "Cs"})
    return "".join(kept)


def printable(text: str, known: Container[int]) -> str:
    """Return ``text`` with what a font lacks replaced, for formats that carry their own font.

    An accented letter falls back to its plain letter; marks that only join or modify others vanish, except
    those that tell how the letters beside them are shaped and ordered; anything else becomes ``UNKNOWN``.

    Args:
        text: What to write.
        known: Code points that the font has.
    """
    out: list[str] = []
    for char in unicodedata.normalize("NFC", text):
        if ord(char) in UNSEEN or (char.isprintable() and ord(char) in known):
            out.append(char)
            continue
        if char.isspace():
            out.append(" ")
            continue
        parts = unicodedata.normalize("NFKD", char)
        plain = [p for p in parts if unicodedata.category(p) not in {"Mn", "Me", "Cf", "Cc"}]
        out.extend(p if ord(p) in known else UNKNOWN for p in plain)
    return "".join(out)

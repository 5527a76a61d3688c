"""The typefaces of the PDF pages: two that come with the program, then those installed on the computer.

Bitstream Vera Sans, from reportlab, sets what is Latin. FiraGO, from pymupdf-fonts under the SIL Open Font
Licence, has Cyrillic, Greek, Georgian, Hebrew, Arabic, Devanagari, Thai and more of Latin. For all other
letters the installed fonts are asked, where there are any: no font that a program could carry has every
script. A font whose maker forbids embedding (OpenType ``OS/2``, ``fsType``) is passed over.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import pymupdf_fonts
import uharfbuzz as hb
from find_system_fonts_filename import FindSystemFontsFilenameException, get_system_fonts_filename

__all__ = ["Typeface", "all_faces", "face_for"]

_PLAIN_WEIGHT, _BOLD_WEIGHT = 400, 700
_RESTRICTED, _EDITABLE_OR_PRINT, _NO_SUBSET, _BITMAPS = 0x2, 0xC, 0x100, 0x200
_STAND_INS = ("LastResort", "AdobeBlank", "Tofu")
"""Fonts that claim every letter and show none."""


@dataclass(frozen=True, eq=False)
class Typeface:
    """A typeface of one weight.

    Attributes:
        name: Its PostScript name.
        face: Its tables.
        font: The same, scaled to its own units, for shaping and advances.
        covers: Code points that it has.
        weight: Where the face varies in weight, the weight to set it in.
    """

    name: str
    face: hb.Face
    font: hb.Font
    covers: frozenset[int]
    weight: int | None = None

    @property
    def units(self) -> int:
        """Units of its tables to one em."""
        return self.face.upem


def face_for(letters: frozenset[int], *, bold: bool) -> Typeface | None:
    """Return the first typeface that has all of some code points, or None.

    Args:
        letters: The code points.
        bold: Whether the lettering is bold; an installed face of another weight serves where none is.
    """
    return next((face for face in all_faces(bold=bold) if letters <= face.covers), None)


def all_faces(*, bold: bool) -> Iterator[Typeface]:
    """Yield every typeface in the order in which they are preferred; installed ones are read when reached."""
    for number in range(2):
        yield _carried(number, bold=bold)
    yield from _installed(bold=bold)


@cache
def _carried(number: int, *, bold: bool) -> Typeface:
    if number == 0:
        data = (files("reportlab") / "fonts" / ("VeraBd.ttf" if bold else "Vera.ttf")).read_bytes()
    else:
        data = pymupdf_fonts.myfont("figbo" if bold else "figo")
    return _typeface(hb.Face(hb.Blob(data)))


def _typeface(face: hb.Face, weight: int | None = None) -> Typeface:
    font = hb.Font(face)
    font.scale = (face.upem, face.upem)
    if weight is not None:
        font.set_variations({"wght": float(weight)})
    return Typeface(_name(face), face, font, frozenset(face.unicodes), weight)


def _name(face: hb.Face) -> str:
    said = face.get_name(hb.OTNameIdPredefined.POSTSCRIPT_NAME) or ""
    return "".join(c for c in said if c.isascii() and (c.isalnum() or c == "-")) or "Font"


@cache
def _installed(*, bold: bool) -> tuple[Typeface, ...]:
    """Upright faces first, then those nearest to the weight, then those without serifs."""
    wanted = _BOLD_WEIGHT if bold else _PLAIN_WEIGHT
    found: list[tuple[tuple[object, ...], hb.Face, int | None]] = []
    for path, index, face in _faces_on_the_computer():
        varies = "wght" in {axis.tag for axis in face.axis_infos}
        weight, slanted = _style(face)
        off = 0 if varies else abs(weight - wanted)
        name = _name(face)
        order = (slanted, off, "Sans" not in name, "Mono" in name, path, index)
        found.append((order, face, wanted if varies else None))
    found.sort(key=lambda one: one[0])
    return tuple(_typeface(face, weight) for _, face, weight in found)


@cache
def _faces_on_the_computer() -> tuple[tuple[str, int, hb.Face], ...]:
    try:
        paths = sorted(get_system_fonts_filename())
    except (FindSystemFontsFilenameException, OSError):
        return ()  # a computer without fonts, or without a way to ask for them
    found: list[tuple[str, int, hb.Face]] = []
    for path in paths:
        try:
            blob = hb.Blob.from_file_path(path)
        except hb.HarfBuzzError:
            continue  # gone, or not ours to read
        faces = (hb.Face(blob, index) for index in range(hb.Face(blob).count))
        found += [(path, index, face) for index, face in enumerate(faces) if _can_be_embedded(face)]
    return tuple(found)


def _can_be_embedded(face: hb.Face) -> bool:
    tables = set(face.table_tags)
    if not tables & {"glyf", "CFF ", "CFF2"} or _name(face).startswith(_STAND_INS):
        return False
    may = _field(face, 8)
    forbidden = may & _RESTRICTED and not may & _EDITABLE_OR_PRINT
    return not (forbidden or may & (_NO_SUBSET | _BITMAPS))


def _style(face: hb.Face) -> tuple[int, bool]:
    """Return the weight (``usWeightClass``) and whether the face is slanted (``fsSelection``)."""
    return _field(face, 4) or _PLAIN_WEIGHT, bool(_field(face, 62) & 0x201)


def _field(face: hb.Face, at: int) -> int:
    """Return a field of the ``OS/2`` table; 0 where there is none."""
    return int.from_bytes(face.reference_table("OS/2").data[at : at + 2], "big")

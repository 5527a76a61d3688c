"""Typefaces carried inside a PDF: the glyphs that are used, and the letters that they stand for.

A typeface goes in as a composite font whose codes are its own glyph numbers (ISO 32000-1, 9.7), cut down
by HarfBuzz to the glyphs of the document, so that shaped text needs no letter of its own for each glyph. To
reportlab it is one of the fonts that are completed when a document is finished, as its own ``TTFont`` is.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import cache
from itertools import count
from types import MappingProxyType
from weakref import WeakKeyDictionary

import uharfbuzz as hb
from reportlab.pdfbase import pdfdoc, pdfmetrics
from reportlab.pdfgen.canvas import Canvas

from likesewn.publish.typefaces import Typeface
from likesewn.publish.typesetting import Glyph

__all__ = ["Embedded", "embedded"]

_BASE = 0x10000
"""Glyphs are handed to reportlab as characters from here on, none of which it treats specially."""

_SYMBOLIC = 4
_TO_UNICODE = """/CIDInit /ProcSet findresource begin
12 dict begin
begincmap
/CIDSystemInfo << /Registry (Adobe) /Ordering (UCS) /Supplement 0 >> def
/CMapName /Adobe-Identity-UCS def
/CMapType 2 def
1 begincodespacerange
<0000> <FFFF>
endcodespacerange
{}
endcmap
CMapName currentdict /CMap defineresource pop
end
end"""
_MOST = 100
"""Entries that a block of a character map may hold."""

_DROPPED = (b"GSUB", b"GPOS", b"GDEF", b"kern", b"morx", b"STAT", b"DSIG", b"name", b"OS/2", b"cmap", b"post")

_numbers = count(1)


class Embedded:
    """A typeface as reportlab asks for it; what a document uses of it is kept by document."""

    _multiByte = 1  # noqa: N815 - reportlab's names, here and below
    _dynamicFont = 1  # noqa: N815
    shapable = False

    def __init__(self, typeface: Typeface, number: int) -> None:
        """Wrap a typeface; ``number`` tells its name from those of its namesakes."""
        self.typeface = typeface
        self.fontName = f"likesewn-{number}-{typeface.name}"
        self.face = _FaceName(self.fontName)
        self.encoding = _FaceName("Identity-H")
        self._used: WeakKeyDictionary[pdfdoc.PDFDocument, dict[int, str]] = WeakKeyDictionary()

    def write(self, canvas: Canvas, at: tuple[float, float], size: float, glyphs: Sequence[Glyph]) -> None:
        """Write glyphs on a page, side by side from ``at``; lengths in points."""
        doc = canvas._doc  # noqa: SLF001 # pyright: ignore[reportAttributeAccessIssue] - what fonts are kept by
        used = self._used.setdefault(doc, {})
        for glyph in glyphs:
            used[glyph.number] = used.get(glyph.number) or glyph.text
        canvas.setFont(self.fontName, size)
        canvas.drawString(*at, "".join(chr(_BASE + glyph.number) for glyph in glyphs))

    def stringWidth(self, text: str, size: float, encoding: str = "utf8") -> float:  # noqa: N802, ARG002
        """Return the width of glyphs, in the unit of ``size``."""
        advance = self.typeface.font.get_glyph_h_advance
        return size * sum(advance(ord(char) - _BASE) for char in text) / self.typeface.units

    def splitString(  # noqa: N802
        self,
        text: str,
        doc: pdfdoc.PDFDocument,  # noqa: ARG002
        encoding: str = "utf-8",  # noqa: ARG002
    ) -> list[tuple[int, bytes]]:
        """Return the codes of glyphs: two bytes each, all in one part."""
        return [(0, b"".join((ord(char) - _BASE).to_bytes(2, "big") for char in text))]

    def getSubsetInternalName(self, subset: int, doc: pdfdoc.PDFDocument) -> str:  # noqa: ARG002, N802
        """Return the name by which a page of the document calls the font."""
        if self.fontName not in doc.fontMapping:
            doc.fontMapping[self.fontName] = f"/F{len(doc.fontMapping) + 1}"
            doc.delayedFonts.append(self)
        return doc.fontMapping[self.fontName]

    def addObjects(self, doc: pdfdoc.PDFDocument) -> None:  # noqa: N802
        """Add the font to a document that is being finished."""
        used = dict(sorted(self._used.pop(doc, {}).items()))
        name = doc.fontMapping[self.fontName][1:]
        base = pdfdoc.PDFName(f"LIKESW+{self.typeface.name}")
        whole = pdfdoc.PDFDictionary(
            {
                "Type": pdfdoc.PDFName("Font"),
                "Subtype": pdfdoc.PDFName("Type0"),
                "BaseFont": base,
                "Encoding": pdfdoc.PDFName("Identity-H"),
                "DescendantFonts": pdfdoc.PDFArray([self._descendant(doc, name, base, used)]),
                "ToUnicode": _stream(doc, f"letters:{name}", _to_unicode(used).encode("ascii")),
            }
        )
        doc.Reference(whole, name)
        fonts = doc.idToObject["BasicFonts"].dict  # pyright: ignore[reportAttributeAccessIssue] - a dictionary
        fonts[name] = pdfdoc.PDFObjectReference(name)

    def _descendant(
        self, doc: pdfdoc.PDFDocument, name: str, base: str, used: dict[int, str]
    ) -> pdfdoc.PDFObject:
        font, per_mille = self.typeface.font, 1000.0 / self.typeface.units
        cut_down = _subset(self.typeface, used)
        outlines = "CFF " if "CFF " in cut_down.table_tags else ""
        data = cut_down.reference_table(outlines).data if outlines else cut_down.blob.data
        stream = {"Subtype": pdfdoc.PDFName("CIDFontType0C")} if outlines else {"Length1": len(data)}
        extents = font.get_font_extents("ltr")
        high, low = (round(v * per_mille) for v in (extents.ascender, extents.descender))
        descriptor = pdfdoc.PDFDictionary(
            {
                "Type": pdfdoc.PDFName("FontDescriptor"),
                "FontName": base,
                "Flags": _SYMBOLIC,
                "FontBBox": pdfdoc.PDFArray([-1000, low, 2000, high]),
                "ItalicAngle": 0,
                "Ascent": high,
                "Descent": low,
                "CapHeight": high,
                "StemV": 80,
                "FontFile3" if outlines else "FontFile2": _stream(doc, f"file:{name}", bytes(data), stream),
            }
        )
        widths: list[object] = []
        for number in used:
            widths += [number, pdfdoc.PDFArray([round(font.get_glyph_h_advance(number) * per_mille, 3)])]
        system = {"Registry": pdfdoc.PDFString("Adobe"), "Ordering": pdfdoc.PDFString("Identity")}
        descendant = {
            "Type": pdfdoc.PDFName("Font"),
            "Subtype": pdfdoc.PDFName("CIDFontType0" if outlines else "CIDFontType2"),
            "BaseFont": base,
            "CIDSystemInfo": pdfdoc.PDFDictionary({**system, "Supplement": 0}),
            "FontDescriptor": doc.Reference(descriptor, f"descriptor:{name}"),
            "W": pdfdoc.PDFArray(widths),
        }
        if not outlines:
            descendant["CIDToGIDMap"] = pdfdoc.PDFName("Identity")
        return doc.Reference(pdfdoc.PDFDictionary(descendant), f"descendant:{name}")


class _FaceName:
    """What reportlab compares fonts by."""

    def __init__(self, name: str) -> None:
        self.name = name


@cache
def embedded(typeface: Typeface) -> Embedded:
    """Return a typeface as reportlab knows it, under the ``fontName`` that it is registered by."""
    font = Embedded(typeface, next(_numbers))
    pdfmetrics.registerFont(font)
    return font


def _subset(typeface: Typeface, used: Iterable[int]) -> hb.Face:
    """Return a typeface with the outlines of some glyphs only, under the same numbers, at one weight."""
    wanted = hb.SubsetInput()
    wanted.glyph_set.update({0, *used})
    wanted.flags = (
        hb.SubsetFlags.RETAIN_GIDS
        | hb.SubsetFlags.NO_LAYOUT_CLOSURE
        | hb.SubsetFlags.CFF_IDENTITY_CHARSET
        | hb.SubsetFlags.DOWNGRADE_CFF2
    )
    # Layout is done and letters have codes of their own: viewers need neither these tables nor names.
    wanted.drop_table_tag_set.update(int.from_bytes(tag, "big") for tag in _DROPPED)
    if typeface.face.axis_infos:
        wanted.pin_all_axes_to_default(typeface.face)
    if typeface.weight is not None:
        wanted.pin_axis_location(typeface.face, "wght", float(typeface.weight))
    return hb.subset(typeface.face, wanted)


def _to_unicode(used: dict[int, str]) -> str:
    lines = [f"<{number:04X}> <{text.encode('utf-16-be').hex()}>" for number, text in used.items() if text]
    blocks = [lines[at : at + _MOST] for at in range(0, len(lines), _MOST)]
    return _TO_UNICODE.format(
        "\n".join(f"{len(block)} beginbfchar\n" + "\n".join(block) + "\nendbfchar" for block in blocks)
    )


def _stream(
    doc: pdfdoc.PDFDocument, name: str, content: bytes, more: Mapping[str, object] = MappingProxyType({})
) -> pdfdoc.PDFObject:
    stream = pdfdoc.PDFStream(pdfdoc.PDFDictionary(dict(more)), content)
    stream.filters = [pdfdoc.PDFZCompress]
    return doc.Reference(stream, name)

"""Lettering in every script: right letters, right order, right shapes."""

import unicodedata
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pypdfium2
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.job import Job, run
from likesewn.publish import lettering, typefaces
from likesewn.publish.drawing import Label, walk
from likesewn.publish.pdf import PdfPages
from likesewn.publish.pieces import pattern_drawing
from likesewn.publish.sheets import sheet_marks, spread
from likesewn.publish.tiles import tiling
from likesewn.publish.typesetting import Line, set_line, unprintable
from publish.sample_cut import TODAY, one_piece
from tops import TOP, basis, record

CARRIED = {
    "latin": "Throwing top",
    "more of latin": "Łódź, Tiếng Việt, Sőphie",
    "cyrillic": "Рубашка гончара",
    "greek": "Μπροστινό μέρος",
    "georgian": "ქართული პერანგი",
    "hebrew": "כותנת פסים",
    "arabic": "عباية نسائية",
    "devanagari": "सामने का भाग",
    "thai": "เสื้อด้านหน้า",
}


@pytest.fixture
def no_installed_fonts(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A computer on which no font is installed."""
    set_line.cache_clear()
    monkeypatch.setattr(typefaces, "_installed", lambda *, bold: ())  # noqa: ARG005
    yield
    set_line.cache_clear()


def numbers(line: Line) -> list[int]:
    return [glyph.number for run in line.runs for glyph in run.glyphs]


def letters(line: Line) -> str:
    return "".join(glyph.text for run in line.runs for glyph in run.glyphs)


def page(*labels: str, bold: bool = False) -> bytes:
    pages = PdfPages("Top", "")
    items = [Label(text, (10.0, 20.0 + 12.0 * i), 8.0, bold=bold) for i, text in enumerate(labels)]
    pages.page((210.0, 297.0), 5.0, (0.0, 0.0, 200.0, 287.0), items, "only")
    return pages.finish()


def ink(data: bytes) -> np.ndarray:
    document = pypdfium2.PdfDocument(data)
    picture = np.asarray(document[0].render(scale=2.0, grayscale=True).to_pil())
    document.close()
    return picture < 128


@pytest.mark.usefixtures("no_installed_fonts")
@pytest.mark.parametrize("bold", [False, True])
@pytest.mark.parametrize("script", CARRIED)
def test_the_fonts_that_come_with_the_program_set_these_scripts(script: str, bold: bool) -> None:  # noqa: FBT001
    text = CARRIED[script]
    line = set_line(text, bold=bold)
    assert all(numbers(line))  # glyph 0 is the box that stands for a missing letter
    assert sorted(letters(line)) == sorted(unicodedata.normalize("NFC", text))
    assert unprintable([text]) == ()
    assert 0.0 < line.width <= lettering.width(text, 1.0, bold=bold) * 1.02


@pytest.mark.parametrize("script", ["latin", "more of latin", "cyrillic", "greek", "georgian"])
def test_the_page_can_be_searched_by_what_it_says(script: str) -> None:
    document = pypdfium2.PdfDocument(page(CARRIED[script]))
    assert CARRIED[script] in unicodedata.normalize("NFC", document[0].get_textpage().get_text_range())
    document.close()


def test_every_font_is_carried_in_the_file() -> None:
    data = page(*CARRIED.values())
    document = pypdfium2.PdfDocument(data)
    fonts = {obj.get_font() for obj in document[0].get_objects(filter=[1])}
    assert fonts
    for font in fonts:
        assert font.is_embedded
    document.close()
    assert len(data) < 120_000
    assert data == page(*CARRIED.values())


def test_right_to_left_runs_backwards_with_numbers_and_latin_forwards() -> None:
    assert letters(set_line("כותנת 12 Top פסים")) == "םיספ Top 12 תנתוכ"
    assert letters(set_line("Top כותנת פסים 12")) == "Top 12 םיספ תנתוכ"
    turned = letters(set_line("כותנת (Top)"))
    assert turned == "(Top) תנתוכ"


def test_a_date_after_an_arabic_name_stays_in_order() -> None:
    layout = spread(pattern_drawing(one_piece("عباية", "Strip"), TODAY), tiling("a4"))
    marks = sheet_marks(layout, next(iter(layout.sheets)), "عباية", TODAY.isoformat())
    (small,) = [item for item in walk(marks) if isinstance(item, Label) and "عباية" in item.text]
    assert TODAY.isoformat() in letters(set_line(small.text))


def test_arabic_letters_join() -> None:
    apart = [number for char in "عباية" for number in numbers(set_line(char))]
    joined = numbers(set_line("عباية"))
    assert len(joined) == len(apart)
    assert set(joined[1:]) & set(apart) != set(joined[1:])
    # a non-joiner keeps them apart
    assert numbers(set_line("ع\u200cب")) != numbers(set_line("عب"))


def test_devanagari_moves_the_short_i_before_its_consonant_and_joins_conjuncts() -> None:
    plain, with_i = set_line("क"), set_line("कि")
    assert numbers(with_i)[-1] == numbers(plain)[0]
    assert len(numbers(with_i)) == 2
    assert len(numbers(set_line("क्ष"))) < len("क्ष")


@pytest.mark.parametrize("script", CARRIED)
def test_what_is_printed_looks_as_harfbuzz_draws_it(script: str) -> None:
    """The page's ink lies in the box of the outlines that the shaper itself gives."""
    text = CARRIED[script]
    line = set_line(text)
    size = 8.0
    boxes = []
    for part in line.runs:
        pen = part.x
        for glyph in part.glyphs:
            e = part.typeface.font.get_glyph_extents(glyph.number)
            units = part.typeface.units
            if e.width:
                left, top = pen + e.x_bearing / units, part.y + e.y_bearing / units
                boxes.append((left, top, left + e.width / units, top + e.height / units))
            pen += part.typeface.font.get_glyph_h_advance(glyph.number) / units
    box = np.array(boxes)
    shown = min(1.0, lettering.width(text, 1.0) / line.width)
    wanted = np.array([box[:, 0].min(), -box[:, 1].max(), box[:, 2].max(), -box[:, 3].min()]) * size * shown
    rows, columns = np.nonzero(ink(page(text)))
    per_mm = 2.0 * 72.0 / 25.4
    found = np.array([columns.min(), rows.min(), columns.max() + 1, rows.max() + 1]) / per_mm
    # the window's corner lies 5 mm into the paper, the label at (10, 20) of it
    assert found == pytest.approx(wanted + np.array([15.0, 25.0, 15.0, 25.0]), abs=0.35)


@pytest.mark.usefixtures("no_installed_fonts")
def test_letters_that_no_font_has_are_said_and_show_as_question_marks() -> None:
    line = set_line("袖口 Top")
    assert letters(line) == "?? Top"
    (found,) = unprintable(["袖口 Top", "Рубашка"])
    assert "袖" in found.message
    assert "口" in found.message
    assert "Р" not in found.message.split(":")[0]
    assert found.todo


def test_an_installed_font_sets_what_the_carried_ones_lack(monkeypatch: pytest.MonkeyPatch) -> None:
    """FiraGO stands in for an installed font: with Vera alone carried, Cyrillic comes from it."""
    carried, installed = typefaces._carried(0, bold=False), typefaces._carried(1, bold=False)
    monkeypatch.setattr(typefaces, "all_faces", lambda *, bold: iter([carried]))  # noqa: ARG005
    assert typefaces.face_for(frozenset(map(ord, "Рубашка")), bold=False) is None
    monkeypatch.undo()
    typefaces._installed.cache_clear()
    monkeypatch.setattr(typefaces, "_carried", lambda number, *, bold: carried)  # noqa: ARG005
    monkeypatch.setattr(typefaces, "_faces_on_the_computer", lambda: (("a.ttf", 0, installed.face),))
    try:
        found = typefaces.face_for(frozenset(map(ord, "Рубашка")), bold=False)
        assert found is not None
        assert found.face is installed.face
    finally:
        typefaces._installed.cache_clear()


def test_fonts_that_may_not_be_embedded_or_show_nothing_are_passed_over(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    face = typefaces._carried(1, bold=False).face
    assert typefaces._can_be_embedded(face)
    fields = {8: 0x2}
    real = typefaces._field
    monkeypatch.setattr(typefaces, "_field", lambda f, at: fields.get(at, real(f, at)))
    assert not typefaces._can_be_embedded(face)
    fields[8] = 0x2 | 0x8  # the least restrictive licence holds
    assert typefaces._can_be_embedded(face)
    fields[8] = 0x100
    assert not typefaces._can_be_embedded(face)
    fields[8] = 0
    monkeypatch.setattr(typefaces, "_name", lambda f: "LastResort")  # noqa: ARG005
    assert not typefaces._can_be_embedded(face)


def test_a_file_that_is_no_font_is_passed_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    junk, empty, gone = tmp_path / "junk.ttf", tmp_path / "empty.otf", tmp_path / "gone.ttc"
    junk.write_bytes(b"\x00\x01\x00\x00" + bytes(range(256)) * 4)
    empty.write_bytes(b"")
    monkeypatch.setattr(
        typefaces, "get_system_fonts_filename", lambda: {str(junk), str(empty), str(gone)}, raising=True
    )
    typefaces._faces_on_the_computer.cache_clear()
    try:
        assert typefaces._faces_on_the_computer() == ()
    finally:
        typefaces._faces_on_the_computer.cache_clear()


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.text(max_size=30), st.booleans())
def test_any_text_can_be_set(text: str, bold: bool) -> None:  # noqa: FBT001
    line = set_line(text, bold=bold)
    assert line.width >= 0.0
    assert np.isfinite(line.width)
    shown = "".join(letters(line).split())
    wanted = "".join(lettering.printable(text, typefaces_all(bold=bold)).split())
    assert len(shown) <= 3 * len(wanted)


def typefaces_all(*, bold: bool) -> set[int]:
    return set().union(*(face.covers for face in typefaces.all_faces(bold=bold)))


def test_an_empty_label_shows_nothing() -> None:
    assert set_line("").runs == ()
    assert not ink(page("", " ")).any()


@pytest.mark.usefixtures("no_installed_fonts")
@pytest.mark.parametrize(("name", "said"), [("Throwing top", False), ("Рубашка", False), ("袖口", True)])
def test_the_job_says_which_letters_cannot_be_printed(name: str, said: bool) -> None:  # noqa: FBT001
    said_so = replace(record(**basis()), name=name)
    done = run(said_so, TOP, today=TODAY, clock=lambda: 0.0)
    assert isinstance(done, Job)
    assert any(finding.code == "no-typeface" for finding in done.findings) == said

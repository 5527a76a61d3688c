import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from likesewn.publish import lettering

LETTERS = "".join(chr(c) for c in range(32, 127))


@pytest.mark.parametrize(("bold", "file"), [(False, "Vera.ttf"), (True, "VeraBd.ttf")])
def test_widths_are_those_of_the_font_in_the_pages(bold: bool, file: str) -> None:  # noqa: FBT001
    name = f"test-{file}"
    pdfmetrics.registerFont(TTFont(name, file))
    for letter in LETTERS:
        wanted = pdfmetrics.stringWidth(letter, name, 10.0)
        assert lettering.width(letter, 10.0, bold=bold) == pytest.approx(wanted, abs=0.006)


def test_marks_that_only_modify_have_no_width() -> None:
    assert lettering.width("e\u0301\u200d", 10.0) == lettering.width("e", 10.0)
    assert lettering.width("袖", 10.0) == 10.0


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.text(max_size=80), st.floats(8.0, 200.0))
def test_folded_lines_keep_within_the_room(text: str, room: float) -> None:
    for line in lettering.fold(text, 5.0, room):
        assert lettering.width(line, 5.0) <= room


def test_folding_loses_no_words_where_they_fit() -> None:
    text = "Cut two from the main cloth on the fold"
    assert " ".join(lettering.fold(text, 5.0, 60.0)) == text
    assert len(lettering.fold(text, 5.0, 60.0)) > 1


def test_shortening_keeps_the_beginning() -> None:
    short = lettering.shorten("Throwing top for the pottery", 5.0, 40.0)
    assert short.endswith("…")
    assert "Throwing top for the pottery".startswith(short[:-1].rstrip())
    assert lettering.shorten("Top", 5.0, 40.0) == "Top"


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("Ines", "Ines"),
        ("Zoë", "Zoë"),
        ("Ṩőphie", "Sophie"),
        ("e\u0301", "é"),
        ("袖", "?"),
        ("a\u200d\ufe0fb", "a\u200db"),
        ("👩\u200d🎨", "?\u200d?"),
        ("\ud800", "?"),
        ("a\tb\x00", "a b"),
        ("ﬁ", "fi"),
    ],
)
def test_what_a_font_lacks_is_shown_in_plain_letters_or_a_question_mark(text: str, printed: str) -> None:
    known = {*map(ord, LETTERS), ord("ë"), ord("é")}
    assert lettering.printable(text, known) == printed

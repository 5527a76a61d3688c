"""Keys of the garment file in fields: what is shown for a value, and what is written for what was typed."""

import pytest

from likesewn.garment import kind_names
from likesewn.garment.keys import Form, Key, file_tables
from likesewn.web.pages.keyed import TYPED, choice_words, cloth_label, parts_of, shown, typed

LENGTH = Key("width", Form.LENGTH, "", least=1.0, most=9000.0, usual="150 cm")
SHARE = Key("stretch", Form.SHARE, "", most=3.0)
PRICE = Key("price", Form.NUMBER, "", most=1e6)
TEXT = Key("name", Form.TEXT, "", usual="Garment")
NAP = Key("nap", Form.FLAG, "", usual="false")
ON = Key("symmetric", Form.FLAG, "", usual="true")
FOLDING = Key("folding", Form.CHOICE, "", ("open", "folded"), usual="folded")


@pytest.mark.parametrize(
    ("key", "value", "words"),
    [
        (LENGTH, None, ""),
        (LENGTH, 150, "150 cm"),
        (LENGTH, 123.4567891, "123.4567891 cm"),  # no digit is lost on the way
        (LENGTH, 0.00001, "0.00001 cm"),
        (LENGTH, "1.5 yd", "1.5 yd"),
        (SHARE, 0.5, "50 %"),
        (SHARE, "50 %", "50 %"),
        (PRICE, 12.5, "12.5"),
        (TEXT, "Studio top", "Studio top"),
        (FOLDING, None, "folded"),
        (FOLDING, "open", "open"),
        (NAP, None, False),
        (NAP, True, True),
        (ON, None, True),
        (ON, "yes", True),  # a fault of the file: shown as what holds without it
    ],
)
def test_what_the_file_says_is_shown(key, value, words):
    assert shown(key, value, "cm") == words


@pytest.mark.parametrize(
    ("key", "value", "written"),
    [
        (LENGTH, "", None),
        (LENGTH, "  150 ", 150),
        (LENGTH, "150.5", 150.5),
        (LENGTH, "60 in", "60 in"),
        (LENGTH, "wide", "wide"),  # refused where it is read, in the words of the garment file
        (SHARE, "50 %", "50 %"),
        (SHARE, "0.5", 0.5),
        (TEXT, " 12 ", "12"),
        (FOLDING, "open", "open"),
        (NAP, True, True),
        (NAP, False, None),  # what holds anyhow need not stand in the file
        (ON, False, False),
        (ON, True, None),
    ],
)
def test_what_is_typed_is_written(key, value, written):
    found = typed(key, value)
    assert found == written
    assert type(found) is type(written)


def test_every_key_of_a_cloth_that_one_field_can_hold_is_called_something():
    table = next(table for table in file_tables(None, kind_names()) if table.name == "cloth")
    labels = [cloth_label(key) for key in table.keys if key.form in TYPED]
    assert len(set(labels)) == len(labels) > 8


def test_choices_and_dotted_keys():
    assert choice_words("in") == "inches"
    assert choice_words("folded twice") == "folded twice"
    assert parts_of('cloth."Blue linen".width') == ["cloth", "Blue linen", "width"]

"""The published JSON Schema: in step with the table of keys, and of one mind with the reader."""

import tomllib
from importlib import resources

import pytest
from jsonschema import Draft202012Validator

from likesewn.errors import InputError
from likesewn.garment import garment_schema, kind_names, load_kind, new_garment, read_garment, update_garment
from likesewn.garment.schema import schema_text

GOOD = """\
format = 1
[garment]
kind = "set-in-sleeve-top"
unit = "cm"
neck_finish = "band"
[tape]
body_length = 66
chest_width = "52 +- 0.3"
sleeve_length = "23 1/4 in"
[[points]]
piece = "front"
edge = "armhole"
at = [[18.9, 5.1], [17.6, "10 cm"], [18.8, 17.2]]
[allowances]
seam = 1
"front.hem" = "½ in"
[allowances.back]
hem = 3
[ease]
front_armhole = "-3 mm"
[fabric]
stretch_across = "50 %"
[cloth]
width = 150
[cloth.contrast]
width = 140
"""


@pytest.fixture(scope="module")
def validator():
    return Draft202012Validator(garment_schema())


def test_the_published_schema_is_in_step():
    published = (
        resources.files("likesewn.garment").joinpath("garment.schema.json").read_text(encoding="utf-8")
    )
    # to write it again: print(likesewn.garment.schema.schema_text(), end="") into that file
    assert published == schema_text()


def test_the_schema_is_one(validator):
    validator.check_schema(garment_schema())


def test_the_good_file_is_good_to_both(validator):
    assert read_garment(GOOD).points
    assert validator.is_valid(tomllib.loads(GOOD))


@pytest.mark.parametrize("name", kind_names())
def test_a_new_file_becomes_valid_when_it_is_filled_in(name, validator):
    kind = load_kind(name)
    text = new_garment(kind)
    assert not validator.is_valid(tomllib.loads(text))
    needed = {f"tape.{m.key}": f"{m.least} mm" for m in kind.measures.values() if m.needed}
    assert validator.is_valid(tomllib.loads(update_garment(text, needed)))


def test_measures_of_each_piece_are_good_to_both(validator):
    each = GOOD.replace("chest_width =", "front_chest_width = 52\nback_chest_width =")
    assert read_garment(each).tape["back_chest_width"].mm == 520
    assert validator.is_valid(tomllib.loads(each))


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("format = 1", "format = 2"),
        ("format = 1", ""),
        ("set-in-sleeve-top", "cape"),
        ('kind = "set-in-sleeve-top"\n', ""),
        ('"cm"', '"furlong"'),
        ('neck_finish = "band"', 'neck_finish = "glue"'),
        ('neck_finish = "band"', 'nek_finish = "band"'),
        ("body_length = 66", ""),
        ("body_length = 66", 'body_length = ""'),
        ("body_length = 66", "body_length = -66"),
        ("body_length = 66", "body_length = true"),
        ("body_length = 66", 'body_length = "long"'),
        ("body_length = 66", "body_length = 66\nhem_widht = 54"),
        ("chest_width", "front_chest_width"),
        ("body_length = 66", "body_length = 66\nback_body_length = 67"),
        ('"armhole"', '"cap"'),
        ('piece = "front"\n', ""),
        (', [17.6, "10 cm"]', ""),
        ('[17.6, "10 cm"]', "[17.6]"),
        ('edge = "armhole"', 'edge = "armhole"\nlay = "mat"'),
        ("seam = 1", "seem = 1"),
        ("[allowances.back]\nhem", "[allowances.back]\ncap"),
        ("front_armhole", "fornt_armhole"),
        ('"50 %"', "50"),
        ("width = 150", 'folding = "rolled"'),
        ("[cloth.contrast]\nwidth", "[cloth.contrast]\nwide"),
        ("[fabric]", "[fabrik]"),
    ],
)
def test_what_the_schema_refuses_the_reader_refuses(old, new, validator):
    assert old in GOOD
    text = GOOD.replace(old, new, 1)
    assert not validator.is_valid(tomllib.loads(text))
    with pytest.raises(InputError):
        read_garment(text)

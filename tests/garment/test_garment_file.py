import json
import tomllib
from importlib import resources

import jsonschema
import numpy as np
import pytest

from likesewn.examples import example_names, example_text
from likesewn.garment import (
    garment_schema,
    load_kind,
    new_garment,
    read_garment,
    update_garment,
    write_garment,
)
from likesewn.garment.schema import schema_text

FULL = """\
format = 1

[garment]
name = "Glazing shirt"
kind = "set-in-sleeve-top"
unit = "in"
neck_recorded_at = "finished edge"
neck_finish = "binding"
neck_finish_width = "1.5 cm"

[tape]                         # a remark that stays
body_length = "26 1/2"
chest_width = "20 1/2 in +- 1/8 in"
sleeve_length = 23.5
front_armhole_curve = "24 cm"

[[points]]
piece = "front"
edge = "armhole"
frame = "piece"
at = [[7.5, 2], [7, 4], [7.5, "17 cm"]]
sigma = "1.5 mm"

[[points]]
piece = "sleeve"
edge = "cap"
frame = "free"
lay = "mat"
at = [[1, 1], [3, 2], [5, 4]]

[allowances]
seam = "1 cm"
hem = "2.5 cm"
side = "1.5 cm"

[ease]
"front armhole" = "4 mm"

[fabric]
construction = "knit"
stretch_across = "50 %"

[cloth]
width = 60
folding = "open"
nap = true

[cloth.neckband]
width = "20 in"

[wearer]
name = "Ode"
head = 22
"""


def test_everything_is_read_in_millimetres():
    record = read_garment(FULL)
    assert record.tape["body_length"].mm == pytest.approx(26.5 * 25.4)
    assert record.tape["chest_width"].mm == pytest.approx(20.5 * 25.4)
    assert record.tape["chest_width"].sigma_mm == pytest.approx(25.4 / 8)
    assert record.tape["front_armhole_curve"].mm == pytest.approx(240)
    front, sleeve = record.points
    assert front.lay == ""
    assert sleeve.lay
    assert np.allclose(front.at[0], [7.5 * 25.4, 2 * 25.4])
    assert front.at[2, 1] == pytest.approx(170)
    assert front.sigma_mm == pytest.approx(1.5)
    assert record.allowances == pytest.approx({"seam": 10, "hem": 25, "side": 15})
    assert record.ease == pytest.approx({"front armhole": 4})
    assert record.fabric.stretch_across == pytest.approx(0.5)
    assert record.cloths["main"].width_mm == pytest.approx(60 * 25.4)
    assert record.cloths["main"].nap
    assert record.cloths["neckband"].width_mm == pytest.approx(508)
    assert record.wearer.head_mm == pytest.approx(22 * 25.4)
    assert record.finish["neck"] == {"recorded_at": "finished edge", "finish": "binding"}
    assert record.finish_lengths["neck"]["old_width"] == pytest.approx(15)
    assert record.lines["tape.body_length"] == 12


@pytest.mark.parametrize("name", example_names())
def test_examples_are_good(name):
    assert read_garment(example_text(name), name).tape


@pytest.mark.parametrize("unit", ["mm", "cm", "in"])
def test_a_new_file_filled_in_is_good(unit):
    kind = load_kind("set-in-sleeve-top")
    text = new_garment(kind, unit, "Wheel top")
    values = {"body_length": "66 cm", "chest_width": "52 cm", "sleeve_length": "59 cm"}
    filled = update_garment(text, {f"tape.{key}": value for key, value in values.items()})
    record = read_garment(filled)
    assert record.name == "Wheel top"
    assert record.unit == unit
    assert record.tape["chest_width"].mm == pytest.approx(520)
    for measure in kind.measures.values():
        assert measure.how.split(",")[0].split(":")[0][:30] in " ".join(text.replace("#", " ").split())


def test_changes_keep_remarks():
    changed = update_garment(FULL, {"tape.body_length": "27", "garment.name": "Raku shirt"})
    assert "# a remark that stays" in changed
    record = read_garment(changed)
    assert record.name == "Raku shirt"
    assert record.tape["body_length"].mm == pytest.approx(27 * 25.4)


def test_a_written_record_reads_back():
    record = read_garment(FULL)
    again = read_garment(write_garment(record))
    assert {k: f.mm for k, f in again.tape.items()} == pytest.approx(
        {k: f.mm for k, f in record.tape.items()}, abs=1e-6
    )
    assert again.finish == record.finish
    assert again.allowances == pytest.approx(dict(record.allowances))
    for one, two in zip(record.points, again.points, strict=True):
        assert np.allclose(one.at, two.at, atol=1e-6)


def test_the_published_schema_is_in_step():
    """`make docs` writes it anew."""
    file = resources.files("likesewn.garment").joinpath("garment.schema.json")
    assert file.read_text(encoding="utf-8") == schema_text()


def test_the_schema_judges_as_the_reader_does():
    schema = garment_schema()
    jsonschema.Draft202012Validator.check_schema(schema)
    validator = jsonschema.Draft202012Validator(json.loads(json.dumps(schema)))
    good = tomllib.loads(FULL)
    validator.validate(good)
    for name in example_names():
        validator.validate(tomllib.loads(example_text(name)))
    for spoil in (
        {"format": 2},
        {"tape": {**good["tape"], "chest_widht": 3}},
        {"cloth": {"folding": "foldd"}},
        {"garment": {**good["garment"], "kind": "cape"}},
    ):
        assert list(validator.iter_errors({**good, **spoil})), spoil

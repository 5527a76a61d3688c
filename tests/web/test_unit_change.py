"""Another unit leaves every length of a garment file as it is."""

from dataclasses import asdict

import numpy as np
import pytest

from likesewn.examples import example_text
from likesewn.garment import load_kind, read_garment, update_garment
from likesewn.web.unit_change import unit_changes

KIND = load_kind("set-in-sleeve-top")
MORE = """
[ease]
"front armhole" = 0.4
side = "2 mm"

[allowances.front]
hem = 3

[cloth.lining]
width = 140
flaws = [[10, 20, 2.5]]
outline = [[0, 0], [100, 0], ["990 mm", 120], [0, 120]]
holes = [[[10, 10], [12, 10], [12, 12]]]

[[points]]
piece = "front"
edge = "neckline"
at = [[0, 10.05], [6.1, 7], ["8.2", 4]]
sigma = 0.1

[band]
cut_width = 6
"""


def lengths(record):
    """Everything in a record that is a length, flat."""
    found = {}

    def walk(value, path):
        if isinstance(value, dict):
            for key, below in value.items():
                walk(below, f"{path}.{key}")
        elif isinstance(value, list | tuple | np.ndarray):
            for i, below in enumerate(value):
                walk(below, f"{path}[{i}]")
        elif isinstance(value, float | int) and not isinstance(value, bool) and ".lines." not in path:
            found[path] = float(value)

    walk(asdict(record), "")
    return found


@pytest.mark.parametrize("unit", ["mm", "in"])
def test_every_length_stays(unit):
    text = example_text("throwing-top") + MORE
    text = text.replace('side = "2 mm"', '"side" = "2 mm"')
    before = read_garment(text)
    after = read_garment(update_garment(text, unit_changes(text, KIND, unit)))
    assert after.unit == unit
    assert lengths(after) == pytest.approx(lengths(before), abs=1e-5)
    # figures that were typed keep their digits, and so are exactly as long
    assert {k: f.mm for k, f in after.tape.items()} == {k: f.mm for k, f in before.tape.items()}
    assert after.tape["chest_width"].text == "53 cm +- 0.3"
    assert after.allowances == before.allowances
    assert after.ease == before.ease


def test_the_same_unit_changes_nothing():
    text = example_text("throwing-top")
    assert unit_changes(text, KIND, "cm") == {"garment.unit": "cm"}


def test_there_and_back_again_is_as_it_was():
    text = example_text("throwing-top")
    there = update_garment(text, unit_changes(text, KIND, "in"))
    back = update_garment(there, unit_changes(there, KIND, "cm"))
    assert lengths(read_garment(back)) == lengths(read_garment(text))

"""Sheet sizes by name."""

import pytest

from likesewn.units import PAPER, UnitError, paper


def test_finds_a_sheet_however_it_is_typed():
    assert paper(" A4 ") is PAPER["a4"]


def test_all_sheets_stand_upright():
    assert all(sheet.width_mm < sheet.height_mm for sheet in PAPER.values())


def test_refuses_an_unknown_sheet_and_names_the_nearest():
    with pytest.raises(UnitError) as caught:
        paper("leter")
    assert caught.value.nearest == "letter"
    assert "a4" in caught.value.allowed

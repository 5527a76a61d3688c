"""Figures between a field and the garment file."""

import pytest

from likesewn.garment import load_kind
from likesewn.units import parse_length
from likesewn.web.figures import (
    Shown,
    bare,
    figure_value,
    file_value,
    file_values,
    plain_value,
    shown_figure,
    text_of,
)

CHEST = load_kind("set-in-sleeve-top").measures["chest_width"]


@pytest.mark.parametrize(
    ("typed", "value"),
    [
        ("49", 49),
        ("49.5", 49.5),
        (" 49.5 ", 49.5),
        ("-3", -3),
        ("007", "007"),
        ("49,5", "49,5"),
        ("49 cm", "49 cm"),
        ("", None),
        ("  ", None),
        ("1" * 400, "1" * 400),
        ("1e5", "1e5"),
        ("nan", "nan"),
    ],
)
def test_numbers_are_written_as_numbers_and_all_else_as_it_is(typed, value):
    assert plain_value(typed) == value
    assert type(plain_value(typed)) is type(value)


@pytest.mark.parametrize("unit", ["mm", "cm", "in"])
@pytest.mark.parametrize("typed", ["49", "490 mm", "19 1/4 in", "1' 7\"", "49,5", "½ yd"])
def test_an_unsure_figure_is_twice_as_uncertain_and_shows_as_it_was_typed(typed, unit):
    value = figure_value(typed, "unsure", CHEST, unit)
    length = parse_length(value, unit)
    assert length.mm == parse_length(typed, unit).mm
    assert length.sigma_mm == pytest.approx(2.0 * CHEST.sigma, abs=0.15)
    assert shown_figure(text_of(value), CHEST, unit) == Shown(typed, "unsure")
    assert figure_value(bare(text_of(value)), "sure", CHEST, unit) == plain_value(typed)


def test_an_uncertainty_of_its_own_is_kept_and_shown():
    assert figure_value("53 +- 0.3", "sure", CHEST, "cm") == "53 +- 0.3"
    assert figure_value("53±0.3", "unsure", CHEST, "cm") == "53±0.3"
    assert shown_figure("53 +- 0.3", CHEST, "cm") == Shown("53 +- 0.3", "own", "0.3")
    assert figure_value("53 +- 0.3", "own", CHEST, "cm") == "53 +- 0.3"


def test_what_is_no_length_is_handed_on_as_it_was_typed():
    assert figure_value("49 cmm", "unsure", CHEST, "cm") == "49 cmm"
    assert figure_value("49 +- +- 2", "unsure", CHEST, "cm") == "49 +- +- 2"
    assert shown_figure("49 +- lots", CHEST, "cm") == Shown("49 +- lots", "own", "lots")


def test_nothing_takes_a_figure_away_however_sure():
    assert figure_value("", "unsure", CHEST, "cm") is None
    assert figure_value("", "sure", CHEST, "cm") is None


def test_values_of_a_file_are_read_even_where_the_file_is_wrong():
    values = file_values('[tape]\na = 67\nb = "5 furlongs"\nc = 0.00001\nd = true\n')
    shown = {name: text_of(file_value(values, "tape", name)) for name in "abcde"}
    assert shown == {"a": "67", "b": "5 furlongs", "c": "0.00001", "d": "", "e": ""}
    assert file_values("this is [ not TOML") == {}
    assert file_value({"tape": 3}, "tape", "a") is None

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.garment.kinds import load_kind
from likesewn.lay import buy_length, buy_text, length_rule


@pytest.mark.parametrize(
    ("lay_mm", "unit", "shrinkage", "bought_mm", "text"),
    [
        (0, "cm", 0, 0, "0.0 m"),
        (1, "cm", 0, 100, "0.1 m"),
        (1340, "cm", 0, 1400, "1.4 m"),
        (1340.1, "cm", 0, 1500, "1.5 m"),
        (1360, "mm", 0, 1500, "1.5 m"),
        (1360, "in", 0, 13 * 114.3, "1 5/8 yd"),
        (1540, "in", 0, 14 * 114.3, "1 3/4 yd"),
        (854.4, "yd", 0, 914.4, "1 yd"),
        (50, "in", 0, 114.3, "1/8 yd"),
        # 1000 mm of washed cloth need 1000 / 0.95 = 1052.632 mm, not 1050.
        (1000, "cm", 0.05, 1200, "1.2 m"),
        (988, "cm", 0.05, 1100, "1.1 m"),
        (988.1, "cm", 0.05, 1200, "1.2 m"),
    ],
)
def test_lengths_are_rounded_up_as_shops_sell(lay_mm, unit, shrinkage, bought_mm, text):
    bought = buy_length(lay_mm, unit, shrinkage)
    assert bought == pytest.approx(bought_mm)
    assert buy_text(bought, unit) == text


@settings(max_examples=100, deadline=None, derandomize=True)
@given(st.floats(0.1, 1e5), st.sampled_from(["cm", "in"]), st.floats(0, 0.3))
def test_what_is_bought_is_enough_and_not_a_step_too_much(lay_mm, unit, shrinkage):
    step = 114.3 if unit == "in" else 100
    bought = buy_length(lay_mm, unit, shrinkage)
    left = bought * (1 - shrinkage) - 60 * (1 - shrinkage) - lay_mm
    assert -1e-6 <= left < step
    assert bought / step == pytest.approx(round(bought / step))


@pytest.mark.parametrize(
    ("lay_mm", "shrinkage"), [(-1, 0), (math.nan, 0), (math.inf, 0), (100, 1), (100, -0.1), (100, math.nan)]
)
def test_lengths_that_cannot_be_are_refused(lay_mm, shrinkage):
    with pytest.raises(ValueError, match="not"):
        buy_length(lay_mm, "cm", shrinkage)


def test_the_rule_adds_up_the_measures_that_the_kind_names():
    kind = load_kind("set-in-sleeve-top")
    assert length_rule(kind, {"body_length": 660, "sleeve_length": 590, "chest_width": 520}) == 1250
    assert length_rule(kind, {"body_length": 660}) is None

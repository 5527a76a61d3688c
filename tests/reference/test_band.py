"""Bands against published ratios, common practice and body measures."""

import pytest

from likesewn.cut.bands import BAND_CUT_WIDTH, BAND_CUT_WIDTH_IN, trade_ratio
from likesewn.cut.body import COMMON
from likesewn.units import MM_PER_INCH


# A home-sewing association's example for ribbing: a neckline of 16 in takes a band of 12 in.
def test_sixteen_inches_take_twelve():
    assert trade_ratio(0.5) * 16.0 * MM_PER_INCH == pytest.approx(12.0 * MM_PER_INCH)


# The same association's range for ribbing: two thirds to three quarters; other makers 70 to 80 % (from
# memory), so the ratio of a stretchy knit must lie within both.
@pytest.mark.parametrize("stretch", [0.5, 0.6, 0.75, 1.0])
def test_stretchy_knits_lie_in_the_published_range(stretch):
    assert 2.0 / 3.0 <= trade_ratio(stretch) <= 0.75


# Read in a published guide: at 25 % stretch a band is shortened by 5 to 10 %.
def test_a_quarter_of_stretch_shortens_by_five_to_ten_percent():
    assert 0.90 <= trade_ratio(0.25) <= 0.95


# Low-stretch knits 90 to 95 % (from memory).
@pytest.mark.parametrize("stretch", [0.0, 0.1, 0.2])
def test_firm_knits_are_hardly_shortened(stretch):
    assert 0.90 <= trade_ratio(stretch) <= 0.95


# Common practice, no source: a jersey neckband is cut 5 cm, 2 in, wide before folding.
def test_bands_are_cut_two_inches_wide():
    assert (BAND_CUT_WIDTH, BAND_CUT_WIDTH_IN) == (50.0, 50.8)


# ANSUR II (2012; Gordon et al. 2014, NATICK/TR-15/007), head circumference: 95th percentile 601 mm (men),
# 597 mm (women), greatest 635 mm. An assumed head is near the middle, and no measured one is larger.
def test_assumed_adult_head_is_near_the_middle_of_a_survey():
    assert 540.0 <= COMMON["head", False] <= 597.0
    assert COMMON["head", True] < COMMON["head", False]

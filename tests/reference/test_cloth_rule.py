"""Cloth for a top against the trade's rule.

Common practice, no source: a long-sleeved top on wide cloth takes its length plus the length of its sleeve,
about 1 1/2 yd for a grown person. The sizes are invented round figures from a toddler's to a very large
person's.
"""

import pytest

from likesewn.garment import Cloth, Figure
from likesewn.garment.kinds import load_kind
from likesewn.lay import buy_length, estimate

TOP = load_kind("set-in-sleeve-top")
WIDE = 1500 - 40  # 150 cm as labelled, selvages off

# name: body length, chest width, sleeve length, mm
SIZES = {
    "toddler": (380, 300, 310),
    "child": (500, 370, 440),
    "small": (600, 460, 560),
    "medium": (660, 520, 590),
    "large": (700, 570, 620),
    "very large": (740, 660, 640),
}


def asked(name):
    keys = ("body_length", "chest_width", "sleeve_length")
    return {key: Figure(float(mm)) for key, mm in zip(keys, SIZES[name], strict=True)}


def least(answer, label_mm):
    return next(row for row in answer.widths if row.label_mm == pytest.approx(label_mm))


@pytest.mark.parametrize("name", SIZES)
def test_the_least_lay_on_wide_cloth_keeps_to_the_rule(name):
    answer = estimate(TOP, asked(name), Cloth(WIDE, "selvages to the middle"))
    body, _, sleeve = SIZES[name]
    rule = body + sleeve
    shortest = least(answer, 1500).length_mm
    # A small top uses the width better than the rule knows; a large one needs its allowances on top of it.
    assert 0.5 * rule <= shortest <= 1.15 * rule


@pytest.mark.parametrize("name", ["small", "medium", "large"])
def test_a_grown_persons_top_takes_about_one_and_a_half_yards(name):
    answer = estimate(TOP, asked(name), Cloth(60 * 25.4 - 40, "folded"), unit="in")
    assert 1.25 * 914.4 <= least(answer, 60 * 25.4).buy_mm <= 1.75 * 914.4


def test_what_the_rule_says_is_enough_to_cut_from():
    # With the bodies side by side between two folds and the sleeves below them, the rule is the lay itself,
    # but for seam and hem allowances (10 + 25 mm at the body, 10 + 25 mm at the sleeve).
    answer = estimate(TOP, asked("medium"), Cloth(WIDE, "selvages to the middle"))
    assert answer.plan.length_mm <= 660 + 590 + 70 + 4
    assert buy_length(answer.plan.length_mm, "cm") <= 1400

import re

import pytest

from likesewn.errors import InputError
from likesewn.garment import Cloth, Figure
from likesewn.garment.kinds import load_kind
from likesewn.lay import buy_length, estimate
from likesewn.lay.shop import SELVAGES

TOP = load_kind("set-in-sleeve-top")
# The pottery studio's throwing top, from three measures.
TAPE = {
    "body_length": Figure(660, text="66 cm"),
    "chest_width": Figure(520, text="52 cm"),
    "sleeve_length": Figure(590, text="59 cm"),
}


@pytest.fixture(scope="module")
def answer():
    return estimate(TOP, TAPE, Cloth(1500, "folded"))


def test_the_answer_names_what_to_buy_the_lay_and_the_rule(answer):
    assert answer.buy_mm == buy_length(answer.plan.length_mm, "cm")
    assert answer.rule_mm == pytest.approx(1250, abs=0.5)
    metres, yards = re.match(
        r"Buy ([\d.]+) m \(([\d/ ]+) yd\) of cloth 150.0 cm wide.", answer.message
    ).groups()
    assert float(metres) * 1000 == pytest.approx(answer.buy_mm)
    whole = sum(eval_fraction(part) for part in yards.split())
    assert 0 <= whole * 914.4 - answer.buy_mm < 914.4 / 8
    assert "rule of thumb for wide cloth says 125.0 cm" in answer.message


def eval_fraction(text):
    over, _, under = text.partition("/")
    return int(over) / int(under or 1)


def test_two_body_lengths_are_needed_where_both_bodies_lie_on_one_fold(answer):
    # Front and back with their hems and seams, one after the other along the fold.
    assert 2 * 660 < answer.plan.length_mm < 2 * (660 + 10 + 25) + 20


def test_the_lay_behind_the_answer_holds(answer):
    assert not answer.plan.stopped
    assert {placed.piece for placed in answer.plan.placed} >= {piece.name for piece in TOP.pieces}
    assert answer.plan.bound_mm < answer.plan.length_mm


def test_what_stood_in_for_missing_measures_is_told(answer):
    assert answer.assumptions
    assert not {assumption.key for assumption in answer.assumptions} & set(TAPE)


def test_common_widths_are_listed_and_wider_cloth_never_needs_more(answer):
    assert [row.label_mm for row in answer.widths] == [1150, 1400, 1500, 1600]
    assert all(row.usable_mm == row.label_mm - SELVAGES for row in answer.widths)
    bought = [row.buy_mm for row in answer.widths]
    assert bought == sorted(bought, reverse=True)
    assert answer.widths[0].length_mm > answer.widths[-1].length_mm


def test_people_who_measure_in_inches_buy_by_the_yard():
    inches = estimate(TOP, TAPE, Cloth(60 * 25.4, "folded"), unit="in")
    assert re.match(r"Buy [\d/ ]+ yd \([\d.]+ m\) of cloth 60 in wide\.", inches.message)
    assert [row.label_mm / 25.4 for row in inches.widths] == [45, 54, 60]
    assert inches.buy_mm / 114.3 == pytest.approx(round(inches.buy_mm / 114.3))


def test_cloth_that_shrinks_is_bought_longer(answer):
    shrinks = estimate(TOP, TAPE, Cloth(1500, "folded"), shrinkage=0.08)
    assert "what the wash takes" in shrinks.message
    assert "what the wash takes" not in answer.message
    assert shrinks.plan.length_mm == answer.plan.length_mm
    assert shrinks.buy_mm == buy_length(answer.plan.length_mm, "cm", 0.08) > answer.buy_mm


def test_shrinkage_that_cannot_be_is_refused_before_anything_is_drawn():
    for share in (-0.1, 1.0, float("nan")):
        with pytest.raises(InputError, match="shrinkage"):
            estimate(TOP, TAPE, Cloth(), shrinkage=share)


def test_narrow_cloth_says_what_would_take_the_pieces():
    narrow = estimate(TOP, TAPE, Cloth(400, "open"))
    assert narrow.buy_mm == 0
    assert "does not fit" in narrow.message
    assert "at least" in narrow.message


def test_every_missing_measure_is_named_with_how_to_take_it():
    with pytest.raises(InputError) as refused:
        estimate(TOP, {"chest_width": TAPE["chest_width"]}, Cloth())
    assert [problem.key for problem in refused.value.problems] == ["body_length"]
    assert "straight down to the finished hem" in str(refused.value)


def test_a_measure_for_each_piece_does_as_well_as_one_for_both():
    apart = {key: figure for key, figure in TAPE.items() if key != "body_length"}
    one = estimate(TOP, {**apart, "front_body_length": Figure(660), "back_body_length": Figure(660)}, Cloth())
    assert one.buy_mm > 0
    with pytest.raises(InputError):
        estimate(TOP, {**apart, "front_body_length": Figure(660)}, Cloth())


def test_all_faults_are_told_at_once():
    tape = {**TAPE, "body_lenght": Figure(600), "chest_width": Figure(5200, text="520 cm")}
    with pytest.raises(InputError) as refused:
        estimate(TOP, tape, Cloth(), shrinkage=1.5)
    by_key = {problem.key: problem for problem in refused.value.problems}
    assert set(by_key) == {"body_lenght", "chest_width", "shrinkage"}
    assert by_key["body_lenght"].nearest == "body_length"
    assert by_key["chest_width"].found == "520 cm"
    assert by_key["chest_width"].allowed == "10.0 cm to 130.0 cm"


@pytest.mark.parametrize("mm", [float("nan"), float("inf"), -660.0])
def test_figures_that_are_no_lengths_are_refused(mm):
    with pytest.raises(InputError):
        estimate(TOP, {**TAPE, "body_length": Figure(mm)}, Cloth())


def test_measures_that_cannot_belong_together_are_refused_with_what_was_given():
    with pytest.raises(InputError) as refused:
        estimate(TOP, {**TAPE, "armhole_drop": Figure(1200)}, Cloth())
    assert all("no cloth can be worked out" in problem.message for problem in refused.value.problems)
    assert all("armhole_drop 120.0 cm" in problem.found for problem in refused.value.problems)


def test_measures_that_draw_no_sound_piece_are_refused_with_the_reason():
    with pytest.raises(InputError, match=r"no cloth can be worked out from these measures: .*crosses itself"):
        estimate(TOP, {**TAPE, "front_neck_drop": Figure(700)}, Cloth())

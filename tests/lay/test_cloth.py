"""Cloth with flaws, remnants, stripes and grain: plans that keep to it, and words for what cannot be."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Point, Polygon

from lay.hand_pieces import body, cut_list, rectangle, sleeve, top, uneven
from lay.test_lay import cut_lists
from likesewn.cut import cut
from likesewn.errors import InputError, Problem
from likesewn.garment import Cloth, Figure, Record, Weight, load_kind
from likesewn.garment.matching import match_points
from likesewn.lay import FOLDINGS, Choices, Effort, alike_pairs, lay, leans_of, verify, which_cloths
from likesewn.truing import true

TOP = load_kind("set-in-sleeve-top")
POINTS = match_points(TOP)


@pytest.fixture(scope="module")
def cuts():
    tape = {"body_length": 660, "chest_width": 520, "sleeve_length": 590}
    record = Record("Top", TOP.name, tape={key: Figure(float(mm)) for key, mm in tape.items()})
    return cut(true(record, TOP), record)


def planned(cuts, cloth, **given):
    (plan,) = lay(cuts, {"main": cloth}, Choices(**given), compare=False)
    return plan


def stops(plan):
    return [finding.code for finding in plan.findings if finding.weight is Weight.STOP]


remnants = st.builds(
    lambda radii, across: tuple(
        (400 + 400 * r * np.cos(a), across / 2 + across / 2 * r * np.sin(a))
        for r, a in zip(radii, np.linspace(0, 2 * np.pi, len(radii), endpoint=False), strict=True)
    ),
    st.lists(st.floats(0.5, 1.0), min_size=4, max_size=9),
    st.floats(300, 900),
)


@settings(max_examples=30, deadline=None, derandomize=True)
@given(
    cut_lists(),
    st.one_of(st.just(()), remnants),
    st.sampled_from([f for f in FOLDINGS if f != "crosswise"]),
    st.lists(st.tuples(st.floats(0, 800), st.floats(0, 900), st.floats(5, 80)), max_size=3),
    st.booleans(),
)
def test_any_remnant_is_laid_soundly_or_refused_with_a_reason(pieces, outline, folding, flaws, nap):
    cloth = Cloth(900, folding, nap, outline=outline, flaws=tuple(flaws))
    plan = planned(pieces, cloth, effort=Effort(steps=15))
    assert verify(plan, pieces) == ()
    if not plan.placed:
        reasons = [f for f in plan.findings if f.weight is Weight.STOP]
        assert reasons
        assert all(f.message and f.todo for f in reasons)


@pytest.mark.parametrize("folding", [f for f in FOLDINGS if f != "crosswise"])
def test_no_copy_lies_on_a_flaw_once_the_cloth_is_laid_flat(folding):
    flaws = ((300.0, 900.0, 40.0), (700.0, 300.0, 60.0), (200.0, 100.0, 30.0))
    clean = planned(top(), Cloth(1500, folding))
    plan = planned(top(), replace(clean.cloth, flaws=flaws))
    assert verify(plan, top()) == ()
    # The plan for clean cloth would run into at least one of them, or they would prove nothing.
    spoilt = replace(clean, cloth=plan.cloth)
    assert "lay-flaw" in {finding.code for finding in verify(spoilt, top())}


def test_a_stripe_across_the_cloth_is_left_clear():
    plan = planned(top(), Cloth(1500, "folded", flaws_across=((600, 640),)))
    for placed in plan.placed:
        left, right = placed.outline[:, 0].min(), placed.outline[:, 0].max()
        assert right <= 600 + 1e-6 or left >= 640 - 1e-6


def test_a_stripe_along_the_cloth_is_left_clear_in_both_layers():
    # 1050..1060 across is 300..310 from the fold in the lower layer.
    plan = planned(top(), Cloth(1500, "folded", flaws_along=((1050, 1060),)))
    assert verify(plan, top()) == ()
    for placed in (p for p in plan.placed if p.layers == 2):
        low, high = placed.outline[:, 1].min(), placed.outline[:, 1].max()
        assert high <= 300 + 1e-6 or low >= 310 - 1e-6


def test_a_piece_that_flaws_leave_no_place_for_is_named():
    plan = planned(top(), Cloth(1500, "folded", flaws_along=((1000, 1010),)))
    assert [(f.code, f.where) for f in plan.findings if f.weight is Weight.STOP] == [
        ("no-place", "Front"),
        ("no-place", "Back"),
    ]


@pytest.mark.parametrize(
    "cloth",
    [
        Cloth(folding="open", outline=((0, 0), (700, 0), (700, 700), (0, 700))),
        Cloth(700, "open", length_mm=700),
    ],
    ids=["remnant", "whole width"],
)
def test_cloth_with_a_hole_is_used_round_it(cloth):
    hole = ((300, 300), (400, 300), (400, 400), (300, 400))
    pieces = cut_list(*(rectangle(f"patch{i}", 290, 290) for i in range(4)))
    plan = planned(pieces, replace(cloth, holes=(hole,)))
    assert verify(plan, pieces) == ()
    assert len(plan.placed) == 4
    moved = replace(plan.placed[0], outline=plan.placed[0].outline - plan.placed[0].outline.min(axis=0) + 200)
    assert "lay-flaw" in {f.code for f in verify(replace(plan, placed=(moved, *plan.placed[1:])), pieces)}


def test_an_outline_may_stand_anywhere():
    triangle = ((5000, 2000), (6500, 2000), (5000, 3500))
    pieces = cut_list(rectangle("patch", 400, 400))
    plan = planned(pieces, Cloth(folding="open", outline=triangle))
    assert verify(plan, pieces) == ()
    assert (plan.cloth.width_mm, plan.cloth.length_mm) == (1500, 1500)


def test_cloth_in_hand_that_is_too_short_says_what_it_would_take():
    plan = planned(top(), Cloth(1500, "folded", length_mm=1000))
    (stop,) = [f for f in plan.findings if f.weight is Weight.STOP]
    assert stop.code == "too-short"
    assert stop.limit == 1000
    assert planned(top(), Cloth(1500, "folded", length_mm=stop.amount + 1)).placed


@pytest.mark.parametrize("folding", FOLDINGS)
def test_stripes_meet_where_they_are_asked_to(cuts, folding):
    cloth = Cloth(1500, folding, repeat_along_mm=80, match=("side at underarm", "front notch"))
    plan = planned(cuts, cloth, points=POINTS, pairs=alike_pairs(cuts))
    assert verify(plan, cuts, points=POINTS) == ()
    (cost,) = [f for f in plan.findings if f.code == "matching-cost"]
    assert cost.amount >= 0
    moved = [replace(p, outline=p.outline + np.array([7.0 * (p.piece == "front"), 0])) for p in plan.placed]
    missed = verify(replace(plan, placed=tuple(moved)), cuts, points=POINTS)
    assert "lay-match" in {finding.code for finding in missed}


def test_a_piece_s_middle_lies_on_a_stripe(cuts):
    cloth = Cloth(1500, "open", repeat_across_mm=120, stripe_mm=30)
    plan = planned(cuts, cloth)
    for placed in (p for p in plan.placed if p.piece in {"front", "back", "sleeve"}):
        middle = (placed.outline[:, 1].min() + placed.outline[:, 1].max()) / 2
        assert (middle - 30) % 120 == pytest.approx(0, abs=1e-6) or (middle - 30) % 120 == pytest.approx(120)
    assert verify(plan, cuts) == ()


def test_points_that_contradict_one_another_are_named(cuts):
    names = ("side at underarm", "front armhole at underarm", "front armhole at shoulder tip")
    plan = planned(cuts, Cloth(1500, repeat_along_mm=90, match=names), points=POINTS)
    (unmet,) = [f for f in plan.findings if f.code == "unmatched"]
    assert "front armhole at shoulder tip" in unmet.message
    assert verify(plan, cuts, points=POINTS) == ()


def test_a_piece_that_may_lie_across_the_grain_uses_it():
    pieces = cut_list(rectangle("band", 600, 50))
    straight = planned(pieces, Cloth(520, "open"))
    assert stops(straight) == ["too-wide"]
    leans = leans_of({"band": "across"})
    plan = planned(pieces, Cloth(520, "open"), leans=leans)
    assert verify(plan, pieces, leans=leans) == ()
    assert {p.turned % 180 for p in plan.placed} == {90}
    assert "lay-grain" in {f.code for f in verify(plan, pieces)}


def test_a_little_off_the_grain_is_kept_to_its_tolerance():
    leans = leans_of({"p": 4.0, "q": "bias"})
    assert leans == {"p": (-4.0, -2.0, 2.0, 4.0), "q": (45.0, -45.0)}
    pieces = cut_list(uneven("p"), uneven("q", copies=2))
    plan = planned(pieces, Cloth(700, "open"), leans=leans)
    assert verify(plan, pieces, leans=leans) == ()
    for placed in plan.placed:
        allowed = (0, *leans[placed.piece])
        assert min(abs((placed.turned - lean + 90) % 180 - 90) for lean in allowed) < 1e-9


def test_the_same_seed_and_steps_give_the_same_plan():
    for folding in FOLDINGS:
        one, other = (planned(top(), Cloth(1400, folding), effort=Effort(steps=80, seed=3)) for _ in range(2))
        assert one.length_mm == other.length_mm
        for a, b in zip(one.placed, other.placed, strict=True):
            assert np.array_equal(a.outline, b.outline)


def test_every_length_told_is_shorter_and_the_last_is_the_plan_s():
    told = []
    plan = planned(top(), Cloth(1500, "open"), effort=Effort(steps=300, improved=told.append))
    assert all(later < earlier for earlier, later in pairwise(told))
    assert min(told) <= plan.length_mm <= min(told) + 10


def test_a_search_that_is_broken_off_keeps_its_best_plan():
    told = []

    def improved(length):
        told.append(length)
        if len(told) == 2:
            raise KeyboardInterrupt

    plan = planned(sixteen(), Cloth(900, "open"), effort=Effort(steps=400, improved=improved))
    assert len(told) >= 2
    assert plan.placed
    assert verify(plan, sixteen()) == ()


def sixteen():
    return cut_list(*(uneven(f"p{i}", scale=0.3 + 0.05 * i, copies=2) for i in range(6)))


def test_time_that_is_over_ends_the_search():
    ticks = iter(range(100000))
    effort = Effort(steps=10**9, seconds=50.0, clock=lambda: float(next(ticks)))
    plan = planned(top(), Cloth(1500, "folded"), effort=effort)
    assert plan.steps <= 60
    assert verify(plan, top()) == ()


BAD = {
    "crossed": (Cloth(outline=((0, 0), (900, 900), (900, 0), (0, 900))), "outline", "crosses itself"),
    "two corners": (Cloth(outline=((0, 0), (900, 900))), "outline", "too few corners"),
    "a line": (Cloth(outline=((0, 0), (900, 0), (400, 0))), "outline", "area"),
    "hole crossed": (
        Cloth(outline=((0, 0), (900, 0), (900, 900), (0, 900)), holes=(((1, 1), (9, 9), (9, 1), (1, 9)),)),
        "holes[1]",
        "crosses itself",
    ),
    "all flaw": (Cloth(1500, flaws=((500, 750, 5000),), length_mm=1000), "flaws", "nothing of the cloth"),
    "spoilt all along": (Cloth(1500, flaws_along=((0, 1500),)), "flaws", "nothing of the cloth"),
    "wide repeat": (Cloth(1500, repeat_across_mm=1600), "repeat_across", "larger than the cloth"),
    "long repeat": (Cloth(1500, repeat_along_mm=900, length_mm=800), "repeat_along", "larger than the cloth"),
    "no length": (Cloth(1500, length_mm=0), "length", "cannot be right"),
    "deep fold": (Cloth(1500, "part fold", fold_depth_mm=800), "fold_depth", "deeper than half"),
    "crosswise flaws": (
        Cloth(1500, "crosswise", flaws=((1, 1, 1),)),
        "length",
        "depends on the cloth's length",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_cloth_that_is_described_amiss_is_refused(name):
    cloth, key, words = BAD[name]
    with pytest.raises(InputError) as refused:
        lay(top(), {"main": cloth})
    assert [problem.key for problem in refused.value.problems] == [f"cloth.main.{key}"]
    assert words in str(refused.value)
    assert refused.value.problems[0].allowed


def test_two_cloths_have_a_plan_each_with_its_own_folding():
    pieces = cut_list(body("front", 270, 700, 90), sleeve(), rectangle("band", 460, 50, cloth="contrast"))
    cloths = {"main": Cloth(1500, "selvages to the middle"), "contrast": Cloth(500, "open", shrinkage=0.1)}
    main, contrast = lay(pieces, cloths, compare=False)
    assert (main.folding, contrast.folding) == ("selvages to the middle", "open")
    assert verify(main, pieces) == verify(contrast, pieces) == ()
    assert contrast.buy_mm == 200  # 50 mm of washed cloth, 10 % shrinkage, two ends of 30 mm


def test_a_flaw_is_as_round_as_it_is_said_to_be():
    pieces = cut_list(rectangle("panel", 300, 300))
    plan = planned(pieces, Cloth(400, "open", flaws=((100, 200, 99),)))
    assert Polygon(plan.placed[0].outline).distance(Point(100, 200)) >= 99 - 1e-6


def test_what_is_wrong_with_a_cloth_has_its_file_and_line():
    lines = {"cloth": 3, "cloth.width": 4, "cloth.scrap": 9, "cloth.scrap.holes": 11}
    choices = Choices(file="top.toml", lines=lines)
    told = [
        choices.placed(Problem("wrong", key=key))
        for key in ("cloth.main.width", "cloth.main.length", "cloth.scrap.holes[2]", "cloth.other.width")
    ]
    assert [(p.file, p.line, p.key) for p in told] == [
        ("top.toml", 4, "cloth.width"),
        ("top.toml", 3, "cloth.length"),
        ("top.toml", 11, "cloth.scrap.holes[2]"),
        ("", 0, "cloth.other.width"),
    ]
    for ask in (lay, which_cloths):
        with pytest.raises(InputError) as refused:
            ask(top(), {"main": Cloth(-1.0)}, choices)
        assert str(refused.value).startswith("top.toml, line 4, cloth.width: ")


def test_steps_search_open_cloth_by_nesting_and_always_find_the_same():
    wide = Cloth(900, "open")
    quick = planned(sixteen(), wide, effort=Effort(steps=160))
    one, other = (planned(sixteen(), wide, effort=Effort(steps=400, seed=2)) for _ in range(2))
    assert one.steps == 400
    assert one.length_mm == other.length_mm <= quick.length_mm + 1e-6
    assert all(np.array_equal(a.outline, b.outline) for a, b in zip(one.placed, other.placed, strict=True))

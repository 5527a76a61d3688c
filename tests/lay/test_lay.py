from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon
from shapely.affinity import rotate

from lay.hand_pieces import ACROSS, DOWN, body, cut_list, piece, rectangle, sleeve, top, uneven
from likesewn.errors import InputError
from likesewn.garment import Cloth, Weight
from likesewn.lay import FOLDINGS, SAFETY_GAP, Choices, lay, verify

PLANNED = ("open", "folded", "selvages to the middle")
lengths = st.floats(15, 450).map(lambda mm: round(mm, 2))


@st.composite
def star(draw, name):
    """Draw a star-shaped polygon: any outline that sees its own middle."""
    count = draw(st.integers(3, 9))
    radii = np.array(draw(st.lists(st.floats(20, 250), min_size=count, max_size=count)))
    angles = np.linspace(0, 2 * np.pi, count, endpoint=False) + draw(st.floats(0, 1))
    points = np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])
    lean = draw(st.sampled_from([DOWN, ACROSS, ((0, 0), (30, 40)), ((10, 80), (0, 0))]))
    return piece(name, points.tolist(), copies=draw(st.integers(1, 3)), grain=lean)


@st.composite
def oblong(draw, name):
    grain = draw(st.sampled_from([DOWN, ACROSS]))
    return rectangle(name, draw(lengths), draw(lengths), copies=draw(st.integers(1, 4)), grain=grain)


@st.composite
def half(draw, name):
    """Draw the half of a piece on the fold, bounded by a zigzag away from the fold."""
    count = draw(st.integers(1, 6))
    across = draw(st.lists(lengths, min_size=count, max_size=count))
    down = draw(lengths)
    points = [(0.0, 0.0), *((x, down * (i + 1) / (count + 1)) for i, x in enumerate(across)), (0.0, down)]
    return piece(name, points, copies=draw(st.integers(1, 3)), on_fold=True)


@st.composite
def cut_lists(draw):
    count = draw(st.integers(1, 6))
    return cut_list(*(draw(draw(st.sampled_from([star, oblong, half]))(f"p{i}")) for i in range(count)))


cloths = st.builds(
    Cloth,
    width_mm=st.floats(200, 1800).map(lambda mm: round(mm, 1)),
    folding=st.sampled_from(FOLDINGS),
    nap=st.booleans(),
)


def across_grain(its):
    """Return the width of a whole piece across its grain, by turning it upright."""
    outline = Polygon(its.outline())
    way = its.grain.end - its.grain.start
    upright = rotate(outline, 90 - np.degrees(np.arctan2(way[1], way[0])), origin=(0, 0))
    width = upright.bounds[2] - upright.bounds[0]
    return width * 2 if its.on_fold else width


@settings(max_examples=80, deadline=None, derandomize=True)
@given(cut_lists(), cloths)
def test_every_plan_can_be_cut_or_says_what_does_not_fit(cuts, cloth):
    (plan,) = lay(cuts, {"main": cloth}, compare=False)
    assert verify(plan, cuts) == ()
    too_wide = [its.title for its in cuts.pieces if across_grain(its) > cloth.width_mm + 1e-6]
    stops = [finding.where for finding in plan.findings if finding.weight is Weight.STOP]
    assert set(too_wide) <= set(stops)
    if cloth.folding == "open":
        assert stops == too_wide
    if stops:
        assert (plan.placed, plan.length_mm, plan.buy_mm) == ((), 0.0, 0.0)
    else:
        assert plan.length_mm >= plan.bound_mm - 1e-6
        assert 0 < plan.used_fraction <= 1 + 1e-9


@settings(max_examples=40, deadline=None, derandomize=True)
@given(cut_lists(), cloths)
def test_cut_lines_keep_their_distance(cuts, cloth):
    (plan,) = lay(cuts, {"main": cloth}, compare=False)
    outlines = [Polygon(placed.outline) for placed in plan.placed]
    for a, b in combinations(outlines, 2):
        assert a.distance(b) >= SAFETY_GAP - 1e-6


@settings(max_examples=40, deadline=None, derandomize=True)
@given(cut_lists(), cloths)
def test_cloth_with_nap_keeps_all_pieces_one_way_up(cuts, cloth):
    (plan,) = lay(cuts, {"main": replace(cloth, nap=True)}, compare=False)
    assert {placed.turned for placed in plan.placed} <= {0}


def test_turning_pieces_is_of_use_only_without_nap():
    # Two wedges make an oblong when one of them is turned.
    wedge = piece("wedge", [(0, 0), (40, 0), (300, 600), (0, 600)])
    cuts = cut_list(wedge, replace(wedge, name="other"))
    (free,) = lay(cuts, {"main": Cloth(380, "open")}, compare=False)
    (nap,) = lay(cuts, {"main": Cloth(380, "open", nap=True)}, compare=False)
    assert {placed.turned for placed in free.placed} == {0, 180}
    assert free.length_mm < 700
    assert nap.length_mm > 1000


def test_pieces_are_not_turned_for_nothing():
    (plan,) = lay(top(), {"main": Cloth(1500, "folded")}, compare=False)
    assert {placed.turned for placed in plan.placed} == {0}


@pytest.mark.parametrize("folding", PLANNED)
@pytest.mark.parametrize("width", [1100, 1400, 1500, 1800])
def test_a_top_is_cut_from_common_cloth(width, folding):
    cuts = top()
    (plan,) = lay(cuts, {"main": Cloth(width, folding)}, compare=False)
    assert not plan.stopped
    assert verify(plan, cuts) == ()
    # Bodies one after the other, sleeves beside or after them, and the band in a row of its own.
    assert plan.length_mm <= 2 * 695 + 630 + 50 + 10


def test_bodies_lie_side_by_side_when_the_selvages_meet_in_the_middle():
    (plan,) = lay(top(), {"main": Cloth(1500, "selvages to the middle")}, compare=False)
    bodies = [placed for placed in plan.placed if placed.piece in {"front", "back"}]
    assert sorted(placed.outline[:, 1].min() == pytest.approx(0) for placed in bodies) == [False, True]
    assert sorted(placed.outline[:, 1].max() == pytest.approx(750) for placed in bodies) == [False, True]
    assert plan.length_mm < 695 + 630 + 10


def test_one_row_where_all_fits_side_by_side():
    (plan,) = lay(top(), {"main": Cloth(1900, "open")}, compare=False)
    assert plan.length_mm == pytest.approx(695, abs=2)


def test_a_pair_is_one_outline_on_folded_cloth_and_two_on_open_cloth():
    cuts = cut_list(uneven("pocket", copies=2))
    (folded,) = lay(cuts, {"main": Cloth(900, "folded")}, compare=False)
    (laid_open,) = lay(cuts, {"main": Cloth(900, "open")}, compare=False)
    assert [(placed.copies, placed.layers) for placed in folded.placed] == [(2, 2)]
    assert sorted(placed.mirrored for placed in laid_open.placed) == [False, True]
    assert [placed.copy for placed in laid_open.placed] == [1, 2]


def test_a_lone_piece_is_cut_through_one_layer_and_the_plan_says_so():
    cuts = cut_list(uneven("patch"))
    (plan,) = lay(cuts, {"main": Cloth(900, "folded")}, compare=False)
    assert [(placed.layers, placed.mirrored) for placed in plan.placed] == [(1, False)]
    assert "one-layer" in {finding.code for finding in plan.findings}


def test_a_band_longer_than_the_folded_cloth_is_wide_lies_halved_on_the_fold():
    cuts = cut_list(rectangle("band", 600, 50))
    (plan,) = lay(cuts, {"main": Cloth(1000, "folded")}, compare=False)
    (band,) = plan.placed
    assert band.on_fold
    assert np.ptp(band.outline, axis=0) == pytest.approx([50, 300])
    assert plan.length_mm == pytest.approx(50)


def test_a_lopsided_piece_wider_than_the_folded_cloth_stops_with_what_would_take_it():
    cuts = cut_list(uneven("yoke", scale=2))
    (plan,) = lay(cuts, {"main": Cloth(900, "folded")}, compare=False)
    (stop,) = [finding for finding in plan.findings if finding.weight is Weight.STOP]
    assert plan.stopped
    assert stop.where == "Yoke"
    assert stop.message == (
        "Yoke is 60.0 cm wide in all, and does not fit cloth 90.0 cm wide folded lengthwise,"
        " which would have to be 120.0 cm wide."
    )
    assert stop.todo == "The same cloth laid open would take it."


def test_a_piece_too_wide_for_any_folding_says_how_wide_the_cloth_must_be():
    (plan,) = lay(cut_list(body("front", 300, 700, 90)), {"main": Cloth(500, "open")}, compare=False)
    (stop,) = [finding for finding in plan.findings if finding.weight is Weight.STOP]
    assert stop.todo == "It needs cloth at least 60.0 cm wide laid open, or 60.0 cm wide folded lengthwise."


def test_a_piece_as_wide_as_the_cloth_fits_exactly():
    cuts = cut_list(rectangle("panel", 701.3, 400))
    (plan,) = lay(cuts, {"main": Cloth(701.3, "open")}, compare=False)
    assert verify(plan, cuts) == ()
    assert plan.length_mm == pytest.approx(400)
    assert plan.used_fraction == pytest.approx(1)


def test_pieces_are_laid_on_the_cloth_that_they_are_cut_from():
    cuts = cut_list(sleeve(), rectangle("band", 400, 50, cloth="contrast"))
    main, contrast = lay(cuts, {"main": Cloth(), "contrast": Cloth(1400, "open")}, compare=False)
    assert [placed.piece for placed in main.placed] == ["sleeve"]
    assert [placed.piece for placed in contrast.placed] == ["band"]
    assert contrast.cloth_name == "contrast"
    assert verify(main, cuts) == verify(contrast, cuts) == ()


def test_a_cloth_that_nobody_described_is_assumed_and_said():
    (plan,) = lay(cut_list(sleeve()), {}, compare=False)
    assert plan.cloth == Cloth()
    assert "cloth-assumed" in {finding.code for finding in plan.findings}


def test_four_layers_give_front_and_back_in_one_cut():
    cuts = top()
    (apart,) = lay(cuts, {"main": Cloth(1500, "folded twice")}, compare=False)
    (both,) = lay(
        cuts, {"main": Cloth(1500, "folded twice")}, Choices(pairs=[("front", "back")]), compare=False
    )
    assert verify(apart, cuts) == verify(both, cuts) == ()
    joint = {placed.piece: placed for placed in both.placed if placed.along_with}
    assert set(joint) == {"front", "back"}
    assert (joint["front"].top, joint["back"].top) == (1, 3)
    assert joint["front"].layers == joint["back"].layers == 2
    assert Polygon(joint["front"].outline).intersects(Polygon(joint["back"].outline))
    assert both.length_mm < apart.length_mm - 600
    assert "cut-together" in {finding.code for finding in both.findings}


def test_four_layers_give_both_sleeves_in_one_cut():
    (plan,) = lay(cut_list(sleeve()), {"main": Cloth(1500, "folded twice")}, compare=False)
    assert [(placed.on_fold, placed.layers, placed.copies) for placed in plan.placed] == [(True, 4, 2)]


def test_crosswise_cloth_takes_twice_the_length_that_it_lies_in():
    cuts = cut_list(rectangle("panel", 1300, 400, copies=2))
    (plan,) = lay(cuts, {"main": Cloth(1500, "crosswise")}, compare=False)
    assert verify(plan, cuts) == ()
    assert (plan.lies_mm, plan.length_mm) == (pytest.approx(400), pytest.approx(800))
    assert [placed.layers for placed in plan.placed] == [2]


def test_crosswise_cloth_with_nap_is_refused():
    (plan,) = lay(top(), {"main": Cloth(1500, "crosswise", nap=True)}, compare=False)
    assert [f.code for f in plan.findings if f.weight is Weight.STOP] == ["crosswise-nap"]


def test_a_part_fold_is_as_deep_as_the_widest_half_and_leaves_the_rest_single():
    cuts = cut_list(body("front", 270, 700, 90), rectangle("panel", 500, 600))
    (plan,) = lay(cuts, {"main": Cloth(1100, "part fold")}, compare=False)
    assert verify(plan, cuts) == ()
    assert plan.fold_depth_mm == pytest.approx(270)
    assert plan.width_mm == pytest.approx(830)
    panel = next(placed for placed in plan.placed if placed.piece == "panel")
    assert panel.outline[:, 1].min() >= 270
    assert plan.length_mm == pytest.approx(700, abs=1)


def test_a_part_fold_is_as_deep_as_it_is_told():
    (plan,) = lay(top(), {"main": Cloth(1500, "part fold", fold_depth_mm=400)}, compare=False)
    assert plan.fold_depth_mm == 400
    assert verify(plan, top()) == ()


def test_another_folding_that_saves_cloth_is_named_and_keeps_its_promise():
    (folded,) = lay(top(), {"main": Cloth(1500, "folded")})
    (note,) = [finding for finding in folded.findings if finding.code == "folding-saves"]
    other = next(name for name in FOLDINGS if f'"{name}"' in note.todo)
    (plan,) = lay(top(), {"main": Cloth(1500, other)})
    assert plan.buy_mm <= folded.buy_mm - note.amount
    assert "folding-saves" not in {finding.code for finding in plan.findings}


def test_the_same_question_has_the_same_answer():
    first, second = (lay(top(), {"main": Cloth(1400)})[0] for _ in range(2))
    assert first.findings == second.findings
    for a, b in zip(first.placed, second.placed, strict=True):
        assert np.array_equal(a.outline, b.outline)


def test_many_pieces_are_laid_within_the_steps_allowed():
    cuts = cut_list(*(uneven(f"p{i}", scale=0.2 + 0.02 * i, copies=2) for i in range(40)))
    (plan,) = lay(cuts, {"main": Cloth(1500, "open")}, compare=False)
    assert verify(plan, cuts) == ()
    assert plan.used_fraction > 0.5


@pytest.mark.parametrize(
    "cloth", [Cloth(0), Cloth(-1500), Cloth(float("nan")), Cloth(float("inf")), Cloth(1500, "in half")]
)
def test_cloth_that_cannot_be_is_refused(cloth):
    with pytest.raises(InputError) as refused:
        lay(top(), {"main": cloth})
    (problem,) = refused.value.problems
    assert problem.key.startswith("cloth.main.")
    assert problem.allowed


def test_the_rule_is_kept_on_wide_cloth_alone():
    wide, narrow = (
        lay(top(), {"main": Cloth(width)}, rule_mm=1250, compare=False)[0] for width in (1400, 1399)
    )
    assert (wide.rule_mm, narrow.rule_mm) == (1250, None)

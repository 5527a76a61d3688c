from dataclasses import replace

import numpy as np
import pytest

from lay.hand_pieces import body, cut_list, rectangle, top, uneven
from likesewn.garment import Cloth, Weight
from likesewn.lay import lay, verify

CUTS = top()


@pytest.fixture(scope="module")
def plan():
    return lay(CUTS, {"main": Cloth(1500, "folded")}, compare=False)[0]


def codes(plan, cuts=CUTS):
    findings = verify(plan, cuts)
    assert all(finding.weight is Weight.STOP for finding in findings)
    return {finding.code for finding in findings}


def change(plan, name, **fields):
    """Return the plan with the first outline of a piece changed."""
    at = next(i for i, placed in enumerate(plan.placed) if placed.piece == name)
    placed = (*plan.placed[:at], replace(plan.placed[at], **fields), *plan.placed[at + 1 :])
    return replace(plan, placed=placed)


def outline(plan, name):
    return next(placed.outline for placed in plan.placed if placed.piece == name)


def test_the_plan_itself_is_sound(plan):
    assert codes(plan) == set()


def test_a_piece_moved_over_another_is_found(plan):
    there = outline(plan, "front").mean(axis=0) - outline(plan, "sleeve").mean(axis=0)
    assert "lay-overlap" in codes(change(plan, "sleeve", outline=outline(plan, "sleeve") + there))


def test_a_piece_wholly_inside_another_is_found():
    cuts = cut_list(rectangle("panel", 300, 300), rectangle("patch", 50, 50))
    (plan,) = lay(cuts, {"main": Cloth(500, "open")}, compare=False)
    inside = outline(plan, "panel").mean(axis=0) + np.array([[0, 0], [50, 0], [50, 50], [0, 50]])
    assert codes(change(plan, "patch", outline=inside), cuts) == {"lay-overlap"}


def test_a_missing_copy_is_found(plan):
    assert codes(replace(plan, placed=plan.placed[1:])) == {"lay-copies", "lay-fold"}


def test_one_copy_too_many_is_found(plan):
    moved = replace(plan.placed[-1], outline=plan.placed[-1].outline + np.array([plan.length_mm + 5, 0]))
    longer = replace(plan, placed=(*plan.placed, moved))
    assert {"lay-copies", "lay-outside"} <= codes(longer)


def test_a_half_off_the_fold_is_found(plan):
    assert "lay-fold" in codes(change(plan, "front", outline=outline(plan, "front") + np.array([0, 1.0])))


def test_a_half_laid_with_its_other_side_to_the_fold_is_found(plan):
    half = outline(plan, "front")
    flipped = np.column_stack([half[:, 0], half[:, 1].max() - half[:, 1]])
    assert "lay-shape" in codes(change(plan, "front", outline=flipped))


def test_a_piece_turned_by_a_right_angle_is_found(plan):
    for piece in ("sleeve", "neckband"):
        here = outline(plan, piece)
        quarter = here[:, ::-1] * np.array([1, -1])
        quarter = quarter - quarter.min(axis=0) + np.array([5000, 0])
        assert "lay-grain" in codes(change(plan, piece, outline=quarter))
        assert "lay-grain" in codes(change(plan, piece, turned=90))


def test_a_piece_a_little_off_the_grain_is_found(plan):
    here = outline(plan, "sleeve")
    lean = np.radians(0.5)
    turned = here @ np.array([[np.cos(lean), -np.sin(lean)], [np.sin(lean), np.cos(lean)]])
    assert "lay-shape" in codes(change(plan, "sleeve", outline=turned))


def test_the_wrong_way_up_is_found(plan):
    for placed in plan.placed:
        if placed.piece != "neckband":  # an oblong looks the same either way up
            assert "lay-shape" in codes(change(plan, placed.piece, turned=180 - placed.turned))


def test_a_shrunken_piece_is_found(plan):
    assert "lay-shape" in codes(change(plan, "sleeve", outline=outline(plan, "sleeve") * 0.999))


def test_an_outline_that_crosses_itself_is_found(plan):
    here = outline(plan, "neckband")
    assert "lay-shape" in codes(change(plan, "neckband", outline=here[[0, 2, 1, 3]]))


def test_a_piece_beyond_the_cloth_is_found(plan):
    assert "lay-outside" in codes(replace(plan, length_mm=plan.length_mm - 1))
    width = outline(plan, "sleeve")[:, 1].max()
    assert "lay-outside" in codes(
        change(plan, "sleeve", outline=outline(plan, "sleeve") + np.array([0, 751 - width]))
    )


def test_a_piece_of_another_cloth_is_found(plan):
    assert codes(change(plan, "neckband", piece="collar")) == {"lay-stranger", "lay-copies"}


def test_layers_that_are_not_there_are_found(plan):
    assert {"lay-layers", "lay-copies"} <= codes(change(plan, "sleeve", layers=4))
    assert {"lay-cloth"} == codes(replace(plan, layers=1))
    assert {"lay-cloth"} == codes(replace(plan, width_mm=1500))


def test_copies_that_share_a_number_are_found(plan):
    assert codes(change(plan, "front", copy=2)) == {"lay-copies"}


def test_two_lefts_are_found():
    cuts = cut_list(uneven("pocket", copies=2))
    (plan,) = lay(cuts, {"main": Cloth(900, "open")}, compare=False)
    up, down = sorted(plan.placed, key=lambda placed: placed.mirrored)
    twice = replace(up, copy=2, outline=up.outline + np.array([1000, 0]))
    assert codes(replace(plan, placed=(up, twice), length_mm=2000, buy_mm=2100), cuts) >= {"lay-pairs"}
    assert codes(replace(plan, placed=(replace(down, copy=1), replace(up, copy=2))), cuts) == set()


def test_a_lone_piece_face_down_is_found():
    cuts = cut_list(uneven("patch"))
    (plan,) = lay(cuts, {"main": Cloth(900, "open")}, compare=False)
    here = plan.placed[0].outline
    down = np.column_stack([here[:, 0], here[:, 1].max() - here[:, 1]])
    assert codes(change(plan, "patch", outline=down, mirrored=True), cuts) == {"lay-pairs"}


def test_a_lopsided_piece_halved_on_the_fold_is_found():
    cuts = cut_list(uneven("patch"))
    (plan,) = lay(cuts, {"main": Cloth(900, "folded")}, compare=False)
    assert "lay-shape" in codes(change(plan, "patch", on_fold=True, layers=2), cuts) | codes(
        change(plan, "patch", on_fold=True, layers=2, outline=plan.placed[0].outline * [1, 0.5]), cuts
    )


def test_a_pair_across_the_meeting_selvages_is_found():
    cuts = cut_list(rectangle("panel", 100, 300, copies=2))
    (plan,) = lay(cuts, {"main": Cloth(800, "selvages to the middle")}, compare=False)
    pair = next(placed for placed in plan.placed if not placed.on_fold)
    assert codes(plan, cuts) == set()
    across = pair.outline + np.array([0, 150 - pair.outline[:, 1].min()])
    assert codes(replace(plan, placed=(replace(pair, outline=across),)), cuts) == {"lay-outside"}


def test_pieces_both_ways_up_on_nap_are_found(plan):
    brushed = replace(plan, cloth=Cloth(1500, "folded", nap=True))
    here = outline(plan, "neckband")
    turned = 180 - next(p.turned for p in plan.placed if p.piece == "front")
    assert "lay-nap" in codes(change(brushed, "neckband", outline=here, turned=turned))


@pytest.mark.parametrize("field", ["bound_mm", "used_fraction", "buy_mm"])
def test_figures_that_do_not_follow_are_found(plan, field):
    assert codes(replace(plan, **{field: getattr(plan, field) * 0.5})) == {"lay-figures"}


def test_a_plan_that_stops_says_so_itself():
    cuts = cut_list(body("front", 400, 700, 90))
    (plan,) = lay(cuts, {"main": Cloth(500, "folded")}, compare=False)
    assert plan.stopped
    assert verify(plan, cuts) == ()

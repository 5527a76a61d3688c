import re
from dataclasses import replace

import pytest

from likesewn.garment import Cloth, Fabric, Finding, Weight
from likesewn.lay import buy_text
from likesewn.sewing import Table
from likesewn.units import format_length
from sewing.examples import APART, finished, garment, lay_plans, opened, usual


def row(table: Table, first: str) -> tuple[str, ...]:
    (found,) = (cells for cells in table.rows if cells[0] == first)
    return found[1:]


def words(made: object) -> str:
    """All that the plan says, as one text."""
    return repr(made)


def test_the_plan_says_whose_it_is() -> None:
    plan = usual().plan()
    assert plan.title == "Throwing top"
    assert plan.summary == "Pull-on top with set-in sleeves, size M, for Ines"


def test_cloth_is_bought_by_the_lay_plans() -> None:
    made = usual()
    (laid,) = lay_plans(made)
    plan = made.plan((laid,))
    assert plan.shopping[0].what == "Cloth"
    assert plan.shopping[0].which.startswith(f"{buy_text(laid.buy_mm, 'cm')} of cloth 150 cm wide, folded")
    assert format_length(laid.length_mm, "cm") in plan.shopping[0].which
    assert not any(item.what == "Cloth" for item in made.plan().shopping)


def test_a_lay_that_does_not_fit_is_not_bought() -> None:
    made = garment(cloths={"main": Cloth(width_mm=300.0)})
    (laid,) = lay_plans(made)
    assert laid.stopped
    assert made.plan((laid,)).shopping == made.plan().shopping


def test_the_needle_suits_the_cloth() -> None:
    (needle,) = (i.which for i in usual().plan().shopping if i.what == "Needle")
    assert "Ball point" in needle
    assert "75/11 or 80/12" in needle
    woven = garment(fabric=Fabric("woven", 0.1)).plan()
    assert not any("Ball point" in i.which for i in woven.shopping)


@pytest.mark.parametrize(
    ("machine", "cloth", "seam_classes"),
    [
        ("overlock", "knit", "514 or 504"),
        ("zigzag", "knit", "304"),
        ("overlock", "woven", "301"),
        ("zigzag", "woven", "301"),
    ],
)
def test_stitches_suit_machine_and_cloth(machine: str, cloth: str, seam_classes: str) -> None:
    plan = garment(machine=machine, fabric=Fabric(cloth, 0.3)).plan()
    stitch, _ = row(plan.stitches, "Seams")
    assert stitch.endswith(f"ISO 4915 class {seam_classes}")
    assert "common practice" in plan.stitches.note
    assert "scrap" in plan.stitches.note


def test_a_knit_hem_is_a_narrow_zigzag() -> None:
    """Common practice, no source: about 1 mm wide and 2 mm long."""
    stitch, setting = row(usual().plan().stitches, "Hems")
    assert "304" in stitch
    assert "1 mm wide and 2 mm long" in setting


def test_the_cloth_is_washed_before_anything_else() -> None:
    for made in (usual(), garment(fabric=Fabric("woven", 0.1))):
        assert made.plan().before[0].startswith("Wash and dry the cloth")


def test_only_a_knit_is_warned_of_stretching() -> None:
    assert "Do not stretch" in words(usual().plan().before)
    assert "Do not stretch" not in words(garment(fabric=Fabric("woven", 0.1)).plan().before)


def test_sharp_things_and_copies_for_sale_are_mentioned_once() -> None:
    for made in (usual(), garment(for_child=True)):
        plan = made.plan()
        titles = [c.title for c in plan.cautions]
        assert titles.count("Sharp and hot things") == 1
        assert titles.count("Copies for sale") == 1
        text = words(plan)
        assert text.count("design rights") == 1
        for danger in ("Rotary cutters", "pins", "needles", "irons"):
            assert danger in plan.cautions[0].text


CHILD_RULES = ("EN 14682", "ASTM F1816", "16 CFR 1120", "EN 14878", "16 CFR 1615 and 1616")


def test_clothes_for_children_name_the_rules_and_claim_nothing() -> None:
    text = words(garment(for_child=True).plan().cautions)
    for rule in CHILD_RULES:
        assert rule in text
    assert text.count("Look up") == 2
    assert "not been checked against any of them" in text
    assert "local rules come first" in text
    for claim in ("compl", "conform", "safe", "certif"):
        assert claim not in text.lower()


def test_other_clothes_do_not_name_them() -> None:
    text = words(usual().plan())
    for rule in CHILD_RULES:
        assert rule not in text


def test_pieces_say_how_often_they_are_cut() -> None:
    table = usual().plan().pieces
    assert row(table, "Front")[0] == "1 on the fold"
    assert row(table, "Sleeve")[0] == "2 on the fold"
    assert row(table, "Neck band") == ("1", "1.0 cm all round")
    assert row(table, "Front")[1] == "neckline: none\nshoulder, armhole and side: 1.0 cm\nhem: 2.5 cm"
    assert row(opened().plan().pieces, "Sleeve") == (
        "2, as a mirrored pair",
        "cap and underarm: 1.0 cm\ncuff: 2.5 cm",
    )


def test_halves_with_different_allowances_are_told_apart() -> None:
    made = garment(tape=APART, allowances={"sleeve.cap_front": 7.5})
    cells = row(made.plan().pieces, "Sleeve")[1]
    assert "front cap: 7.5 mm" in cells
    assert "back cap" in cells


def test_a_piece_from_another_cloth_says_so() -> None:
    made = usual()
    pieces = tuple(replace(p, cloth="rib") if p.name == "neckband" else p for p in made.cut_list.pieces)
    plan = made._replace(cut_list=replace(made.cut_list, pieces=pieces)).plan()
    assert row(plan.pieces, "Neck band")[0] == "1\nfrom rib"


def test_several_pairs_are_counted() -> None:
    made = opened()
    pieces = tuple(replace(p, copies=4) if p.name == "sleeve" else p for p in made.cut_list.pieces)
    plan = made._replace(cut_list=replace(made.cut_list, pieces=pieces)).plan()
    assert row(plan.pieces, "Sleeve")[0] == "4, as 2 mirrored pairs"


@pytest.mark.parametrize("name", ["Front notch", "Back notch"])
def test_notches_that_meet_are_counted_from_the_same_end(name: str) -> None:
    look, places = row(opened().plan().points, name)
    body, sleeve = places.split("\n")
    assert look == ("single" if name == "Front notch" else "double")
    assert body.split(": ")[1].split(" from ")[0] == sleeve.split(": ")[1].split(" from ")[0]
    assert body.endswith("from the shoulder tip")
    assert sleeve.endswith("from the cap top")


def test_notch_places_are_those_of_the_cut_list() -> None:
    made = opened()
    (back,) = (n for n in made.cut_list.piece("back").notches if n.name == "back notch")
    _, places = row(made.plan().points, "Back notch")
    assert f"Back, armhole: {format_length(back.along_mm, 'cm')} from the shoulder tip" in places


def test_a_notch_that_stands_for_two_is_listed_under_both() -> None:
    table = usual().plan().points
    assert "Sleeve, cap" in row(table, "Front notch")[1]
    assert "Sleeve, cap" in row(table, "Back notch")[1]
    assert row(table, "Back notch")[0] == "double on the back, single on the sleeve"


def test_centre_top_and_quarter_marks_are_listed() -> None:
    made = usual()
    table = made.plan().points
    assert row(table, "Front neck centre")[1] == "Front, neckline: at the neck centre"
    assert row(table, "Sleeve top")[1] == "Sleeve, cap: at the cap top"
    (band,) = made.cut_list.bands
    quarter = format_length(band.edge_mm / 4, "cm")
    assert f"Front, neckline: {quarter} from the neck centre" in row(table, "Quarter mark")[1]
    assert format_length(band.ring_mm / 4, "cm") in row(table, "Quarter mark")[1]


def test_seams_show_both_edges_and_their_ease() -> None:
    made = garment(ease={"front armhole": 8.0, "back armhole": 8.0})
    edges, ease = row(made.plan().seams, "Front armhole")
    body = made.cut_list.piece("front").seam[2].path.length
    sleeve = made.cut_list.piece("sleeve").seam[0].path.length
    assert sleeve - body == pytest.approx(8.0, abs=0.01)
    assert edges == f"front armhole: {format_length(body, 'cm')}\nsleeve cap: {format_length(sleeve, 'cm')}"
    assert ease == "8 mm"
    assert row(made.plan().seams, "Side")[1] == "none"


def test_a_seam_whose_edges_are_one_on_a_folded_piece_is_listed_once() -> None:
    folded, _ = row(usual().plan().seams, "Sleeve")
    assert re.fullmatch(r"sleeve underarm: \d+\.\d cm", folded)
    apart, _ = row(opened().plan().seams, "Sleeve")
    assert len(apart.split("\n")) == 2


def test_band_figures_are_those_of_the_cut_list() -> None:
    made = usual()
    (band,) = made.cut_list.bands
    table = made.plan().bands
    assert table.columns == ("Figure", "Neck band")
    for name, mm in (
        ("Opening, all round", band.edge_mm),
        ("Cut length", band.cut_length_mm),
        ("Cut width", band.cut_width_mm),
        ("Joined to a ring", band.ring_mm),
        ("Side marks lie from the seams by", band.quarter_ahead_mm),
    ):
        assert row(table, name) == (format_length(mm, "cm"),)


def test_without_a_band_there_are_no_band_figures() -> None:
    plan = finished("facing").plan()
    assert plan.bands.rows == ()
    assert plan.bands.note == ""


def test_measures_stand_beside_what_was_recorded() -> None:
    table = usual().plan().measures
    assert row(table, "Chest width") == ("52.0 cm", "52.0 cm")
    assert row(table, "Neck width")[1] == "assumed"
    assert row(table, "Shoulder length")[1] == "–"


def test_findings_worth_a_look_are_passed_on() -> None:
    made = usual()
    findings = (
        Finding("a", Weight.LOOK, "hem", "The hem may roll.", todo="Make it deeper."),
        Finding("b", Weight.NOTE, "hem", "All is well."),
    )
    plan = made._replace(cut_list=replace(made.cut_list, findings=findings)).plan()
    assert "The hem may roll. Make it deeper." in plan.notes
    assert not any("All is well" in note for note in plan.notes)
    assert plan.notes[0] == made.cut_list.finishes[0].message

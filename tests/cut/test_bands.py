"""Bands and bindings: what decides their length, and what is said about it."""

from dataclasses import replace

import numpy as np
import pytest

from likesewn.cut import Band, cut
from likesewn.cut.bands import binding_ratio, strip_widths, trade_ratio
from likesewn.garment import Fabric, Finding, Pattern, PatternPiece, Record, Wearer, Weight
from likesewn.garment.kinds import load_kind
from likesewn.geometry import Path, flatten, offset
from samples import sample_pattern

KIND = load_kind("set-in-sleeve-top")
NECK = KIND.finishes[0]
TOP = Record("Throwing top", KIND.name, fabric=Fabric("knit", 0.5), wearer=Wearer(head_mm=480.0))


def band_of(record: Record, pattern: Pattern | None = None) -> tuple[Band, tuple[Finding, ...]]:
    cut_list = cut(pattern or sample_pattern(), record)
    return cut_list.bands[0], cut_list.findings


def codes(findings: tuple[Finding, ...]) -> dict[str, Finding]:
    return {f.code: f for f in findings}


def chosen(**lengths: float) -> Record:
    return replace(TOP, finish_lengths={"neck": lengths})


def test_stretchy_rib_is_cut_at_three_quarters():
    band, findings = band_of(replace(TOP, fabric=Fabric("knit", 0.8)))
    assert band.ratio == pytest.approx(0.75)
    assert band.cut_length_mm == pytest.approx(0.75 * band.edge_mm)
    assert band.ring_mm == pytest.approx(band.cut_length_mm - 20.0)
    assert (band.cut_width_mm, band.finished_width_mm, band.allowance_mm) == (50.0, 15.0, 10.0)
    assert band.ratio < band.bound_ratio
    assert findings == ()


def test_strain_is_measured_at_the_stitched_line():
    """Against the sewn line drawn for itself: the neckline's parallel, its own allowance inside."""
    pattern = sample_pattern()
    band, _ = band_of(replace(TOP, fabric=Fabric("knit", 0.8)), pattern)
    stitched = 2.0 * sum(
        offset(pattern.piece(p).edge("neckline").path, -10.0).length for p in ("front", "back")
    )
    assert band.strain == pytest.approx(stitched / band.ring_mm - 1.0, rel=1e-3)


def test_band_is_longer_where_the_fabric_cannot_stretch_so_far():
    band, findings = band_of(TOP)
    assert band.trade_ratio == 0.75
    assert band.strain == pytest.approx(0.5)
    longer = codes(findings)["band-longer"]
    assert longer.weight is Weight.NOTE
    assert "stretch further than this fabric can" in longer.message
    assert longer.amount == pytest.approx(band.ratio)


def test_firm_fabric_asks_for_a_look():
    band, findings = band_of(replace(TOP, fabric=Fabric("knit", 0.05)))
    assert band.strain <= 0.05 + 1e-9
    assert codes(findings)["band-longer"].weight is Weight.LOOK
    assert codes(findings)["band-stands-away"].weight is Weight.LOOK
    assert band.ratio > band.bound_ratio


def test_band_is_longer_where_the_head_asks_for_it():
    band, findings = band_of(replace(TOP, fabric=Fabric("knit", 0.6), wearer=Wearer(head_mm=600.0)))
    assert band.ring_mm * 1.6 == pytest.approx(600.0)
    assert "not pass over the body" in codes(findings)["band-longer"].message
    assert "opening-too-small" not in codes(findings)


def test_head_that_cannot_pass_stops_the_work_when_it_was_measured():
    record = replace(TOP, fabric=Fabric("knit", 0.1), wearer=Wearer(head_mm=600.0))
    finding = codes(band_of(record)[1])["opening-too-small"]
    assert finding.weight is Weight.STOP
    assert (finding.limit, finding.unit) == (600.0, "mm")
    assert "60.0 cm" in finding.message
    assert finding.todo == "Make the opening larger, or use a stretchier fabric."
    assumed = codes(band_of(replace(record, wearer=Wearer()))[1])["opening-too-small"]
    assert assumed.weight is Weight.LOOK
    assert "assumed" in assumed.message
    assert assumed.todo.startswith("First measure round the wearer's head")


def test_a_longer_band_is_advised_only_where_the_sewist_chose_a_short_one():
    # the neck passes this head, but not with a band so short
    record = replace(chosen(band_ratio=0.7), fabric=Fabric("knit", 0.6), wearer=Wearer(head_mm=600.0))
    assert codes(band_of(record)[1])["opening-too-small"].todo.startswith("Cut the band longer")


def test_band_that_helps_the_head_only_a_little_says_so():
    _, findings = band_of(replace(TOP, fabric=Fabric("knit", 0.3), wearer=Wearer(head_mm=900.0)))
    assert "pass over the body even less" in codes(findings)["band-longer"].message
    assert "opening-too-small" in codes(findings)


def test_assumed_head_is_a_childs_for_a_child():
    limits = [
        codes(band_of(replace(TOP, wearer=Wearer(), for_child=child))[1])["girth-assumed"].limit
        for child in (False, True)
    ]
    assert limits == [570.0, 540.0]


def test_the_sewists_own_ratio_is_kept_and_compared():
    band, findings = band_of(chosen(band_ratio=0.66))
    assert band.ratio == 0.66
    assert codes(findings)["band-strain"].weight is Weight.LOOK
    band, findings = band_of(chosen(band_ratio=1.0))
    assert band.ratio == 1.0
    assert codes(findings)["band-stands-away"].weight is Weight.LOOK
    band, findings = band_of(chosen(band_ratio=0.85))
    assert (band.ratio, findings) == (0.85, ())


def test_the_sewists_own_width_sets_the_finished_width_and_the_bound():
    narrow, _ = band_of(chosen(band_cut_width=40.0))
    wide, _ = band_of(chosen(band_cut_width=100.0))
    assert (narrow.finished_width_mm, wide.finished_width_mm) == (10.0, 40.0)
    assert wide.bound_ratio < narrow.bound_ratio


def test_band_too_narrow_to_show_stops_the_work():
    cut_list = cut(sample_pattern(), chosen(band_cut_width=22.0))
    assert codes(cut_list.findings)["band-too-narrow"].weight is Weight.STOP
    assert [p.name for p in cut_list.pieces] == ["front", "back", "sleeve"]


def test_band_without_length_stops_the_work():
    _, findings = band_of(chosen(band_ratio=20.0 / band_of(TOP)[0].edge_mm))
    assert codes(findings)["band-too-short"].weight is Weight.STOP


def test_unknown_stretch_is_assumed_and_told():
    band, findings = band_of(replace(TOP, fabric=Fabric("knit")))
    assert band.trade_ratio == 0.75
    assert codes(findings)["stretch-assumed"].amount == 0.5


def test_woven_strip_is_cut_on_the_bias():
    cut_list = cut(sample_pattern(), replace(TOP, fabric=Fabric("woven")))
    assert codes(cut_list.findings)["bias-strip"].weight is Weight.NOTE
    assert any("bias" in line for line in cut_list.piece("neckband").labels)


def test_inch_garments_take_a_band_of_two_inches():
    assert strip_widths(KIND, NECK, replace(TOP, unit="in")).cut_mm == pytest.approx(50.8)


def test_binding_is_folded_in_four_and_stretched_less():
    record = replace(TOP, finish={"neck": {"finish": "binding", "recorded_at": "finished edge"}})
    band, _ = band_of(record)
    assert (band.cut_width_mm, band.finished_width_mm, band.allowance_mm) == (40.0, 10.0, 10.0)
    assert band.title == "Neck binding"
    assert binding_ratio(0.5) == pytest.approx(0.85)
    assert binding_ratio(0.1) == pytest.approx(0.95)
    piece = cut(sample_pattern(), record).piece("neckband")
    assert len(piece.marks) == 3


def test_band_piece_is_the_rectangle_that_the_figures_say():
    cut_list = cut(sample_pattern(), TOP)
    (band,), piece = cut_list.bands, cut_list.piece("neckband")
    low, high = piece.outline().min(axis=0), piece.outline().max(axis=0)
    assert high - low == pytest.approx([band.cut_length_mm, band.cut_width_mm], abs=1e-6)
    assert (piece.copies, piece.on_fold) == (1, False)
    # the grain runs across it, the fold along its middle
    assert piece.grain.start[0] == pytest.approx(piece.grain.end[0])
    (fold,) = piece.marks
    assert fold.start[1] == pytest.approx((low[1] + high[1]) / 2.0)
    assert "The greatest stretch runs along its length" in piece.labels


def test_band_turns_with_the_direction_of_greatest_stretch():
    cut_list = cut(sample_pattern(), replace(TOP, fabric=Fabric("knit", 0.3, 0.6)))
    size = np.ptp(cut_list.piece("neckband").outline(), axis=0)
    assert size == pytest.approx([50.0, cut_list.bands[0].cut_length_mm], abs=1e-6)


@pytest.mark.parametrize("allowance", [0.0, 10.0])
def test_bound_of_a_round_neckline_is_the_circle_one_band_width_inside(allowance):
    """Circle of radius r: the finished edge lies w - a + e inside it (reference: offsets of a circle)."""
    r = 80.0
    pattern = round_neck(r)
    record = replace(TOP, allowances={"neckline": allowance})
    band, _ = band_of(record, pattern)
    assert band.edge_mm == pytest.approx(2.0 * np.pi * r, rel=2e-4)
    inside = band.finished_width_mm - band.allowance_mm + allowance
    ring = band.bound_ratio * band.edge_mm - 2.0 * 10.0
    assert ring == pytest.approx(2.0 * np.pi * (r - inside), rel=2e-4)


def round_neck(r: float) -> Pattern:
    """The sample with its necklines drawn as quarter circles, as if the shoulders were level."""
    pattern = sample_pattern()
    k = 4.0 / 3.0 * (np.sqrt(2.0) - 1.0)
    arc = Path(np.array([[[0.0, r], [k * r, r], [r, k * r], [r, 0.0]]]))

    def rounded(piece: PatternPiece) -> PatternPiece:
        if piece.name == "sleeve":
            return piece
        neck, shoulder, *rest = piece.edges
        fold = replace(rest[-1], path=Path.line(rest[-1].path.start, arc.start))
        edges = (
            replace(neck, path=arc),
            replace(shoulder, path=Path.line(arc.end, shoulder.path.end)),
            *rest[:-1],
            fold,
        )
        return replace(piece, edges=edges)

    return replace(pattern, pieces=tuple(rounded(p) for p in pattern.pieces))


@pytest.mark.parametrize("stretch", np.linspace(0.25, 1.0, 16).tolist())
def test_ratio_falls_as_stretch_grows(stretch):
    assert 0.75 <= trade_ratio(stretch) <= trade_ratio(stretch - 0.01)


def test_outline_is_the_cut_line():
    band = cut(sample_pattern(), TOP).piece("neckband")
    assert len(band.outline()) == 4
    front = cut(sample_pattern(), TOP).piece("front")
    points = front.outline(0.01)
    assert points[0][0] == points[-1][0] == 0.0
    assert points[0] == pytest.approx(flatten(front.cut["neckline"], 0.01)[0])

"""The cut list of the sample garment: allowances, labels, grain, and what stops the work."""

from dataclasses import replace
from datetime import date
from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.cut import CutList, cut
from likesewn.errors import InputError
from likesewn.garment import Cloth, Fabric, Figure, Pattern, Record, Wearer, Weight
from likesewn.garment.kinds import load_kind
from likesewn.geometry import closest, flatten, point_at
from likesewn.truing import true
from samples import sample_pattern

KIND = load_kind("set-in-sleeve-top")
TOP = Record("Throwing top", KIND.name, fabric=Fabric("knit", 0.8), wearer=Wearer(head_mm=480.0))


def of(cut_list: CutList, piece: str) -> dict[str, float]:
    return dict(cut_list.piece(piece).allowances)


def test_usual_allowances():
    cut_list = cut(sample_pattern(), TOP)
    body = {"neckline": 0.0, "shoulder": 10.0, "armhole": 10.0, "side": 10.0, "hem": 25.0}
    assert of(cut_list, "front") == of(cut_list, "back") == body
    assert of(cut_list, "sleeve") == {"cap": 10.0, "underarm": 10.0, "cuff": 25.0}
    assert cut_list.findings == ()


def test_the_record_is_read_from_the_nearest_name_outward():
    asked = {"seam": 12.0, "hem": 30.0, "armhole": 8.0, "front.armhole": 7.0, "sleeve.cuff": 40.0}
    cut_list = cut(sample_pattern(), replace(TOP, allowances=asked))
    assert of(cut_list, "front") == {"neckline": 0, "shoulder": 12, "armhole": 7, "side": 12, "hem": 30}
    assert of(cut_list, "back")["armhole"] == 8.0
    assert of(cut_list, "sleeve") == {"cap": 12.0, "underarm": 12.0, "cuff": 40.0}
    assert of(cut_list, "neckband")["sewn_edge"] == 12.0


@pytest.mark.parametrize(
    ("finish", "mm"), [("band", 0.0), ("binding", 0.0), ("facing", 6.0), ("turned", 10.0)]
)
def test_neckline_follows_its_finish(finish, mm):
    asked = replace(TOP, finish={"neck": {"finish": finish, "recorded_at": "finished edge"}})
    if finish == "band":
        asked = replace(asked, finish_lengths={"neck": {"band_cut_width": 40.0}})  # nothing to move
    cut_list = cut(sample_pattern(), asked)
    assert of(cut_list, "front")["neckline"] == mm
    own = cut(sample_pattern(), replace(TOP, allowances={"neckline": 15.0}))
    assert of(own, "front")["neckline"] == 15.0


@pytest.mark.parametrize("mm", [-1.0, float("nan"), float("inf")])
def test_allowances_that_are_no_lengths_are_refused_with_their_keys(mm):
    with pytest.raises(InputError) as refused:
        cut(
            sample_pattern(), replace(TOP, allowances={"seam": mm, "hem": 20.0}, lines={"allowances.seam": 7})
        )
    (problem,) = refused.value.problems
    assert (problem.key, problem.line, problem.allowed) == ("allowances.seam", 7, "0 or more")


def test_narrow_knit_hem_is_worth_a_look():
    cut_list = cut(sample_pattern(), replace(TOP, allowances={"hem": 15.0}))
    looks = [f for f in cut_list.findings if f.code == "narrow-hem"]
    assert [f.where for f in looks] == ["Front, hem", "Back, hem", "Sleeve, cuff"]
    assert all(f.weight is Weight.LOOK and f.amount == 15.0 and f.limit == 20.0 for f in looks)
    woven = replace(TOP, allowances={"hem": 15.0}, fabric=Fabric("woven", 0.2))
    assert not any(f.code == "narrow-hem" for f in cut(sample_pattern(), woven).findings)


def test_labels_say_what_a_cutter_must_know():
    asked = replace(
        TOP, size="M", wearer=Wearer("Asha", 480.0), cloths={"main": Cloth(), "neckband": Cloth()}
    )
    cut_list = cut(sample_pattern(), asked, today=date(2031, 5, 6))
    assert cut_list.piece("front").labels == (
        "Front",
        "Throwing top",
        "Cut 1 on the fold",
        "Size M",
        "For Asha",
        "Included: seam 1.0 cm, hem 2.5 cm; none at neckline",
        "Snip no deeper than 3 mm (1/8 in) where nothing is included",
        "2031-05-06",
        "1 of 4",
    )
    assert "Cut 2 on the fold" in cut_list.piece("sleeve").labels
    band = cut_list.piece("neckband")
    assert band.cloth == "neckband"
    assert "From the cloth “neckband”" in band.labels
    assert band.labels[-1] == "4 of 4"


def test_labels_speak_the_records_unit_and_name_unlike_edges():
    asked = replace(TOP, unit="in", allowances={"seam": 9.525, "armhole": 6.35})
    labels = cut(sample_pattern(), asked).piece("back").labels
    assert "Included: seam 3/8 in, armhole 1/4 in, hem 1 in; none at neckline" in labels
    nothing = cut(sample_pattern(), replace(TOP, allowances={"seam": 0.0, "hem": 0.0}))
    assert "Nothing is included" in nothing.piece("sleeve").labels


def test_opened_sleeve_is_a_mirrored_pair():
    tape = {"body_length": 660.0, "chest_width": 520.0, "sleeve_length": 590.0}
    tape |= {"front_armhole_curve": 255.0, "back_armhole_curve": 240.0}
    record = replace(TOP, tape={key: Figure(mm) for key, mm in tape.items()})
    pattern = true(record, KIND)
    assert isinstance(pattern, Pattern)
    cut_list = cut(pattern, record)
    sleeve = cut_list.piece("sleeve")
    assert not sleeve.on_fold
    assert "Cut 2: 1 pair, mirrored" in sleeve.labels
    assert all(f.weight is not Weight.STOP for f in cut_list.findings)


SIZES = {
    "newborn": (300.0, 210.0, 90.0),
    "middle": (660.0, 520.0, 590.0),
    "very large": (850.0, 850.0, 650.0),
}


@pytest.fixture(scope="module", params=SIZES)
def unlike_armholes(request) -> Pattern:
    """A trued top whose sleeve opens, since its armholes differ, in sizes from smallest to largest."""
    keys = ("body_length", "chest_width", "sleeve_length")
    tape = {key: Figure(mm) for key, mm in zip(keys, SIZES[request.param], strict=True)}
    alike = true(replace(TOP, tape=tape), KIND)
    assert isinstance(alike, Pattern)
    armhole = alike.piece("front").edge("armhole").path.length
    tape |= {"front_armhole_curve": Figure(1.03 * armhole), "back_armhole_curve": Figure(0.98 * armhole)}
    pattern = true(replace(TOP, tape=tape), KIND)
    assert isinstance(pattern, Pattern)
    assert not pattern.piece("sleeve").on_fold
    return pattern


@pytest.mark.parametrize("recorded_at", ["seam", "finished edge"])
@pytest.mark.parametrize("sewn", ["band", "binding", "facing", "turned"])
def test_trued_tops_of_every_size_can_be_cut(unlike_armholes, sewn, recorded_at):
    record = replace(
        TOP, finish={"neck": {"finish": sewn, "recorded_at": recorded_at}}, wearer=Wearer(), for_child=True
    )
    cut_list = cut(unlike_armholes, record)
    assert [f for f in cut_list.findings if f.weight is Weight.STOP] == []
    for piece in cut_list.pieces:
        cut_out = shapely.Polygon(piece.outline(0.005))
        assert cut_out.is_valid
        for edge in piece.seam:
            if edge.fold:
                continue
            # beyond any corner's reach, each place of the cut line lies its allowance from the seam line
            path, clear = piece.cut[edge.name], 1.6 * max(piece.allowances.values()) + 1.0
            away = closest(edge.path, point_at(path, np.linspace(0.0, path.length, 200)))
            own = (away.along > clear) & (away.along < edge.path.length - clear)
            off = np.abs(away.distance[own] - piece.allowances[edge.name])
            assert off.max(initial=0.0) < 0.02, (piece.name, edge.name)
        for notch in piece.notches:
            for stroke in notch.lines:
                assert closest(piece.cut[notch.edge], stroke.start[None]).distance[0] < 0.02
                assert cut_out.buffer(0.01).contains(shapely.Point(stroke.end))


def test_grain_runs_down_inside_each_piece_beside_its_middle():
    for piece in cut(sample_pattern(), TOP).pieces:
        shape = shapely.Polygon(np.concatenate([flatten(e.path)[:-1] for e in piece.seam]))
        line = shapely.LineString([piece.grain.start, piece.grain.end])
        assert shape.contains(line)
        assert piece.grain.start[0] == piece.grain.end[0]
        low, high = shape.bounds[1], shape.bounds[3]
        assert line.length == pytest.approx(0.6 * (high - low), rel=0.1)


def test_allowance_too_large_for_the_piece_stops_the_work_and_draws_nothing_wrong():
    cut_list = cut(sample_pattern(), replace(TOP, allowances={"neckline": 120.0}))
    stops = [f for f in cut_list.findings if f.code == "allowance-too-large"]
    assert {f.where for f in stops} == {"Front, neckline"}  # the back neck is shallow enough to take it
    assert all(f.weight is Weight.STOP for f in stops)
    assert "cannot take an allowance of 12.0 cm" in stops[0].message
    front = cut_list.piece("front")
    assert set(front.allowances.values()) == {0.0}
    assert front.cut["neckline"].segments == pytest.approx(front.seam[0].path.segments)


EDGES = ("neckline", "shoulder", "armhole", "side", "hem", "cap", "underarm", "cuff")


@settings(max_examples=30, deadline=None, derandomize=True)
@given(st.fixed_dictionaries(dict.fromkeys(EDGES, st.floats(0.0, 40.0))))
def test_every_cut_list_closes_or_says_why_not(allowances):
    cut_list = cut(sample_pattern(), replace(TOP, allowances=allowances))
    for piece in cut_list.pieces:
        paths = list(piece.cut.values())
        assert all(np.array_equal(a.end, b.start) for a, b in pairwise(paths))
        if piece.on_fold:
            assert paths[0].start[0] == 0.0
            assert paths[-1].end[0] == 0.0
        else:
            assert np.array_equal(paths[-1].end, paths[0].start)
        assert shapely.Polygon(piece.outline()).is_valid
    stopped = {f.where.split(",")[0] for f in cut_list.findings if f.weight is Weight.STOP}
    if max(allowances.values()) <= 25.0:
        assert stopped == set()

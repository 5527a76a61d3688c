"""Both halves traced, folds that are off the centre, and garments that are not even."""

from dataclasses import replace

import numpy as np
import pytest

from likesewn.garment import Record, TracedPoints
from likesewn.geometry import closest, point_at
from remeasured import HALF as EDGES
from remeasured import NEEDED, known, laid, traced
from tops import TOP, assert_sewn, tape, trued


def fold(piece: str, shift: float, tilt: float = 0.0, **more) -> TracedPoints:
    """Return a fold traced ``shift`` mm to the right of the centre, and turned."""
    rng = np.random.default_rng(8)
    path = known().piece(piece).edge("fold").path
    at = point_at(path, np.linspace(0.0, path.length, 12)) + rng.normal(0.0, 1.0, (12, 2))
    at[:, 0] += shift + tilt * (at[:, 1] - at[:, 1].mean())
    return TracedPoints(piece, "fold", laid(at), 1.0, "mat", **more)


def true_to(points: list[TracedPoints], **more: float):
    figures = {key: mm for key, mm in NEEDED.items() if key not in more} | more
    return trued(Record("Traced", TOP.name, tape=tape(**figures), points=tuple(points)))


def off(pattern, piece: str, edge: str) -> float:
    path = known().piece(piece).edge(edge).path
    places = point_at(path, np.linspace(0.0, path.length, 200))
    return float(np.sqrt(np.mean(closest(pattern.piece(piece).edge(edge).path, places).distance ** 2)))


def codes(pattern) -> dict[str, object]:
    return {f.code: f for f in pattern.findings}


@pytest.mark.parametrize("lay", ["mat", ""])
def test_both_halves_are_averaged(lay):
    both = true_to(traced("front", "left", lay=lay) + traced("front", "right", lay=lay))
    one = true_to(traced("front", "right", lay=lay) + ([fold("front", 0.0)] if lay else []))
    assert_sewn(both)
    wrong = {"halves-differ", "seam-twisted", "off-centre", "points-off", "fold-not-traced"}
    assert not wrong & set(codes(both))
    misses = [[off(p, "front", edge) for edge in EDGES] for p in (both, one)]
    assert max(misses[0]) <= 0.5
    assert np.mean(misses[0]) < np.mean(misses[1])


def test_left_and_right_told_the_wrong_way_round_is_the_garment_seen_from_inside():
    points = [
        replace(p, side="right" if p.side == "left" else "left")
        for p in traced("front", "left") + traced("front", "right")
    ]
    assert max(off(true_to(points), "front", edge) for edge in EDGES) <= 0.5


@pytest.mark.parametrize("lay", ["mat", ""])
def test_a_lower_shoulder_is_told_and_the_mean_taken(lay):
    points = traced("front", "left", lay=lay, push={"shoulder": -8.0}) + traced("front", "right", lay=lay)
    pattern = true_to(points)
    assert_sewn(pattern)
    finding = codes(pattern)["halves-differ"]
    assert finding.where == "front.shoulder"
    assert "the right one lies" in finding.message
    assert finding.amount == pytest.approx(8.0, abs=2.0)
    if not lay:  # a free lay may shift, and the neck point's level shifts with the shoulder
        assert off(pattern, "front", "shoulder") == pytest.approx(4.0, abs=1.0)


def test_a_twisted_side_seam_is_told_as_one():
    points = []
    for piece in (
        "front",
        "back",
    ):  # each seen right side up: the left of one is worn with the right of the other
        points += traced(piece, "left", lay=piece, push={"side": 5.0})
        points += traced(piece, "right", lay=piece, push={"side": -5.0})
    finding = codes(true_to(points))["seam-twisted"]
    assert finding.where == "side"
    assert "on the left it runs" in finding.message
    assert "towards the back" in finding.message
    # 5 mm between the side seams and all the rest: the piece's place is the mean of both, and takes up some
    assert 2.0 <= finding.amount <= 5.0


@pytest.mark.parametrize("shift", [-9.0, 0.0, 6.0])
def test_a_fold_off_the_centre_is_found_from_both_halves(shift):
    points = traced("front", "left") + traced("front", "right")
    pattern = true_to([*points, fold("front", shift, off_centre_mm=5.0)])
    assert max(off(pattern, "front", edge) for edge in EDGES) <= 0.5
    finding = codes(pattern).get("off-centre")
    if shift:
        assert finding.amount == pytest.approx(abs(shift), abs=0.7)
        assert "fold" in finding.message
    else:
        assert finding is None


def test_a_fold_off_the_centre_is_found_from_one_half_and_the_tape():
    points = [*traced("front", "right"), fold("front", 7.0, off_centre_mm=5.0)]
    pattern = true_to(points, chest_width=520.0, hem_width=530.0, shoulder_width=409.0, neck_width=176.0)
    assert codes(pattern)["off-centre"].amount == pytest.approx(7.0, abs=2.0)
    # taken for the centre, the same fold would leave the piece 7 mm too narrow
    assert max(off(pattern, "front", edge) for edge in ("armhole", "side")) <= 2.0


def test_a_centre_line_off_the_centre_is_found():
    points = traced("front", "left", lay="", shift=4.0) + traced("front", "right", lay="", shift=4.0)
    pattern = true_to(points)
    assert codes(pattern)["off-centre"].amount == pytest.approx(4.0, abs=0.5)
    assert max(off(pattern, "front", edge) for edge in EDGES) <= 0.5


def test_front_and_back_traced_together_agree_where_they_are_alike():
    edges = ("shoulder", "armhole", "side", "hem")
    points = traced("front", "right", lay="", edges=EDGES) + traced("back", "right", lay="", edges=EDGES)
    pattern = true_to(points)
    assert_sewn(pattern)
    for edge in edges:
        assert off(pattern, "front", edge) <= 0.6
        front, back = (pattern.piece(piece).edge(edge).path.segments for piece in ("front", "back"))
        assert np.allclose(front, back)
    assert pattern.piece("sleeve").on_fold


def test_front_and_back_that_differ_are_kept_apart():
    points = traced("front", "right", lay="") + traced("back", "right", lay="", push={"armhole": 6.0})
    pattern = true_to(points)
    assert_sewn(pattern)
    assert off(pattern, "front", "armhole") <= 1.0
    assert off(pattern, "back", "armhole") == pytest.approx(6.0, abs=1.0)
    assert not pattern.piece("sleeve").on_fold


def test_a_point_read_wrongly_is_named():
    points = traced("front", "right", lay="")
    at = points[2].at.copy()
    at[11] += [14.0, 0.0]
    points[2] = replace(points[2], at=at)
    finding = codes(true_to(points))["point-off"]
    assert finding.where == "front.armhole"
    assert "Point 12 " in finding.message
    assert finding.amount == pytest.approx(14.0, abs=4.0)

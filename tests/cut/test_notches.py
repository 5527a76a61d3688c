"""Matching points: pairs meet, quarters are equal, strokes lie where they can be snipped."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest

from likesewn.cut import CutList, Notch, cut
from likesewn.cut.notches import draw
from likesewn.garment import Edge, Figure, Kind, Pattern, PatternPiece, Record
from likesewn.garment.kind import FinishKind, NotchKind, Seam
from likesewn.garment.kinds import load_kind
from likesewn.geometry import Path, closest, point_at, tangent_at
from likesewn.truing import true
from samples import sample_pattern

KIND = load_kind("set-in-sleeve-top")
TAPE = {
    key: Figure(mm) for key, mm in (("body_length", 660.0), ("chest_width", 520.0), ("sleeve_length", 590.0))
}
FOLDED = Record("Throwing top", KIND.name, tape=TAPE)
OPENED = replace(
    FOLDED, tape={**TAPE, "front_armhole_curve": Figure(255.0), "back_armhole_curve": Figure(240.0)}
)


def cut_for(record: Record) -> tuple[Pattern, CutList]:
    pattern = true(record, KIND)
    assert isinstance(pattern, Pattern)
    return pattern, cut(pattern, record)


@pytest.fixture(scope="module")
def folded() -> tuple[Pattern, CutList]:
    return cut_for(FOLDED)


@pytest.fixture(scope="module")
def opened() -> tuple[Pattern, CutList]:
    return cut_for(OPENED)


def named(cut_list: CutList, piece: str, name: str) -> list[Notch]:
    return [n for n in cut_list.piece(piece).notches if name in n.name]


def length(pattern: Pattern, piece: str, edge: str) -> float:
    return pattern.piece(piece).edge(edge).path.length


def test_front_and_back_notch_meet_their_sleeve_notches(opened):
    pattern, cut_list = opened
    for piece, edge, marks in (("front", "cap_front", 1), ("back", "cap_back", 2)):
        (body,) = named(cut_list, piece, f"{piece} notch")
        (sleeve,) = named(cut_list, "sleeve", f"{piece} notch")
        assert (body.marks, sleeve.marks) == (marks, marks)
        assert (body.edge, sleeve.edge) == ("armhole", edge)
        # both counted from where the shoulder seam meets the sleeve's top; the back cap runs towards it
        from_top = sleeve.along_mm
        if edge == "cap_back":
            from_top = length(pattern, "sleeve", edge) - sleeve.along_mm
        assert from_top == pytest.approx(body.along_mm, abs=0.02)


def test_seam_of_one_piece_meets_itself(opened):
    pattern, cut_list = opened
    front, back = named(cut_list, "sleeve", "sleeve seam notch")
    assert (front.edge, back.edge) == ("underarm_front", "underarm_back")
    from_underarm = length(pattern, "sleeve", back.edge) - back.along_mm
    assert front.along_mm == pytest.approx(from_underarm, abs=0.02)


def test_ease_is_spread_evenly():
    pattern, cut_list = cut_for(replace(OPENED, ease={"front armhole": 12.0}))
    (body,) = named(cut_list, "front", "front notch")
    (sleeve,) = named(cut_list, "sleeve", "front notch")
    longer = length(pattern, "sleeve", "cap_front") / length(pattern, "front", "armhole")
    assert longer > 1.03
    assert sleeve.along_mm / body.along_mm == pytest.approx(longer, rel=1e-9)


def test_folded_sleeve_carries_one_notch_for_both(folded):
    _, cut_list = folded
    sleeve = cut_list.piece("sleeve")
    (notch,) = [n for n in sleeve.notches if n.edge == "cap" and n.along_mm > 0.0]
    assert (notch.name, notch.marks) == ("front notch and back notch", 1)
    assert any("one notch serves as front notch and back notch" in line for line in sleeve.labels)


@pytest.mark.parametrize(("which", "edge"), [("folded", "cap"), ("opened", "cap_front")])
def test_sleeve_top_is_a_matching_point(which, edge, request):
    pattern, cut_list = request.getfixturevalue(which)
    (top,) = named(cut_list, "sleeve", "sleeve top")
    assert (top.edge, top.along_mm) == (edge, 0.0)
    (stroke,) = top.lines
    at = pattern.piece("sleeve").corners["cap_top"]
    assert stroke.start == pytest.approx(at - np.array([0.0, 10.0]), abs=0.02)
    assert stroke.end == pytest.approx(at - np.array([0.0, 5.0]), abs=0.02)


@pytest.mark.parametrize("which", ["folded", "opened"])
def test_strokes_run_from_the_cut_line_inward_square_to_the_seam(which, request):
    _, cut_list = request.getfixturevalue(which)
    seen = 0
    for piece in cut_list.pieces:
        seams = {edge.name: edge for edge in piece.seam}
        for notch in piece.notches:
            assert len(notch.lines) == notch.marks
            for stroke in notch.lines:
                seam = seams[notch.edge].path
                assert closest(piece.cut[notch.edge], stroke.start[None]).distance[0] < 0.02
                assert stroke.length == pytest.approx(5.0)
                foot = closest(seam, stroke.start[None]).along[0]
                way = tangent_at(seam, float(foot))
                assert abs(float((stroke.end - stroke.start) @ way)) < 1e-3
                inward = np.array([-way[1], way[0]])
                assert float((stroke.end - stroke.start) @ inward) > 4.99
                seen += 1
    assert seen > 10


def test_double_notch_is_two_strokes_6_mm_apart(opened):
    pattern, cut_list = opened
    (notch,) = named(cut_list, "back", "back notch")
    seam = pattern.piece("back").edge("armhole").path
    places = [closest(seam, line.start[None]).along[0] for line in notch.lines]
    assert places == pytest.approx([notch.along_mm - 3.0, notch.along_mm + 3.0], abs=1e-3)


def test_quarter_marks_divide_the_neckline_in_four(folded):
    pattern, cut_list = folded
    front, back = length(pattern, "front", "neckline"), length(pattern, "back", "neckline")
    (mark,) = named(cut_list, "front", "quarter mark")
    assert named(cut_list, "back", "quarter mark") == []
    quarter = (front + back) / 2.0
    assert mark.along_mm == pytest.approx(quarter, abs=1e-6)
    assert (front - mark.along_mm) + back == pytest.approx(quarter, abs=1e-6)
    (band,) = cut_list.bands
    assert band.edge_mm == pytest.approx(4.0 * quarter, abs=1e-6)
    # the mark falls ahead of the shoulder seam, as the front neck is lower
    assert band.quarter_ahead_mm == pytest.approx((front - back) / 2.0, abs=1e-6)
    assert band.quarters_mm == pytest.approx((0.0, quarter, 2.0 * quarter))


def test_centres_of_the_opening_are_marked_on_the_fold(folded):
    _, cut_list = folded
    for piece in ("front", "back"):
        (mark,) = named(cut_list, piece, f"{piece} neck centre")
        assert mark.along_mm == 0.0
        assert all(line.segments[..., 0] == pytest.approx(0.0, abs=1e-9) for line in mark.lines)


def test_band_is_marked_at_its_quarters_on_both_long_edges(folded):
    _, cut_list = folded
    band = cut_list.piece("neckband")
    for edge in {n.edge for n in band.notches}:
        seam = next(e.path for e in band.seam if e.name == edge)
        marks = [n.along_mm / seam.length for n in band.notches if n.edge == edge]
        assert marks == pytest.approx([0.25, 0.5, 0.75])
    assert len({n.edge for n in band.notches}) == 2


def test_no_notch_is_cut_into_a_corner():
    piece = sample_pattern().piece("front")
    length_mm = piece.edge("side").path.length
    cut_paths = {e.name: e.path for e in piece.edges if not e.fold}
    allowances = dict.fromkeys(cut_paths, 0.0) | {"armhole": 10.0, "hem": 25.0}
    points = [("front", "side", name, at, 1) for name, at in (("top", 12.0), ("foot", length_mm - 27.0))]
    points.append(("front", "side", "middle", 100.0, 1))
    notches, findings = draw(piece, points, cut_paths, allowances, "cm")
    assert [n.name for n in notches] == ["middle"]
    assert sorted(f.amount or 0.0 for f in findings) == pytest.approx([12.0, 27.0])
    assert "1.2 cm from a corner" in findings[0].message


def waist_kind(*, reverse: bool) -> tuple[Kind, Pattern]:
    """A tube of two rectangles with open tops, their side edges drawn the same way or one reversed."""
    pieces = []
    for name in ("one", "two"):
        corners = [(0.0, 0.0), (100.0, 0.0), (100.0, 200.0), (0.0, 200.0)]
        at = {f"c{i}": np.array(c) for i, c in enumerate(corners)}
        edges = tuple(
            Edge(e, e, "", f"c{i}", f"c{(i + 1) % 4}", Path.line(corners[i], corners[(i + 1) % 4]))
            for i, e in enumerate(("waist", "right", "foot", "left"))
        )
        pieces.append(PatternPiece(name, name.title(), 1, on_fold=False, edges=edges, corners=at))
    template = KIND.pieces[0]
    drawn = tuple(
        replace(
            template,
            name=p.name,
            on_fold=False,
            opening=None,
            edges=tuple(replace(template.edges[0], name=e.name, start=e.start, end=e.end) for e in p.edges),
        )
        for p in pieces
    )
    kind = replace(
        KIND,
        pieces=drawn,
        seams=(
            Seam("right", "one.right", "two.left" if reverse else "two.right", reverse=reverse),
            Seam("left", "one.left", "two.right" if reverse else "two.left", reverse=reverse),
        ),
        alike=(),
        notches=(NotchKind("right", 0.25, 1, "hip notch"),),
        finishes=(FinishKind("waist", "Waist", ("one.waist", "two.waist"), "waistband", ("band",)),),
        turned=("foot",),
    )
    return kind, replace(sample_pattern(), kind=kind, pieces=tuple(pieces))


@pytest.mark.parametrize("reverse", [False, True])
def test_seam_that_meets_end_to_start_is_counted_from_the_ends_that_meet(reverse):
    _, pattern = waist_kind(reverse=reverse)
    cut_list = cut(pattern, Record("Tube", "tube"))
    (left,) = named(cut_list, "one", "hip notch")
    (right,) = named(cut_list, "two", "hip notch")
    assert point_at(pattern.piece("one").edge(left.edge).path, left.along_mm)[1] == pytest.approx(50.0)
    # edges of two pieces that are both drawn from their outside run opposite ways along their seam
    assert point_at(pattern.piece("two").edge(right.edge).path, right.along_mm)[1] == pytest.approx(50.0)


def test_opening_off_the_fold_is_walked_once_round():
    _, pattern = waist_kind(reverse=True)
    cut_list = cut(pattern, Record("Tube", "tube"))
    (band,) = cut_list.bands
    assert band.edge_mm == pytest.approx(200.0)
    assert band.quarters_mm == pytest.approx((0.0, 50.0, 100.0, 150.0))
    steps = [b - a for a, b in pairwise(band.quarters_mm)]
    assert steps == pytest.approx([50.0] * 3)

"""Cut lines against shapely's buffers, closed forms, and folding back."""

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.cut.cut_line import CutLine, CutLineError, cut_line
from likesewn.cut.proof import faults
from likesewn.garment import Edge, PatternPiece
from likesewn.geometry import Path, bounds, closest, flatten, point_at
from samples import sample_pattern

CONVEX = ((0.0, 0.0), (120.0, -20.0), (200.0, 60.0), (150.0, 180.0), (10.0, 150.0))
HOLLOW = ((0.0, 0.0), (200.0, 0.0), (200.0, 80.0), (90.0, 80.0), (90.0, 200.0), (0.0, 200.0))


def outline(line: CutLine) -> np.ndarray:
    return np.concatenate([flatten(path, 0.01)[:-1] for path in line.paths.values()])


def polygon(line: CutLine, piece: PatternPiece) -> shapely.Polygon:
    points = outline(line)
    if piece.on_fold:
        points = np.vstack([points, list(line.paths.values())[-1].end])
    return shapely.Polygon(points)


def uniform(piece: PatternPiece, mm: float) -> dict[str, float]:
    return {e.name: mm for e in piece.edges if not e.fold}


@pytest.mark.parametrize("corners", [CONVEX, HOLLOW])
@pytest.mark.parametrize("mm", [0.0, 1e-3, 6.0, 10.0, 25.0, 60.0])
def test_uniform_allowance_is_the_mitred_buffer(make_piece, corners, mm):
    piece = make_piece(corners)
    line = cut_line(piece, uniform(piece, mm))
    wanted = shapely.Polygon(corners).buffer(mm, join_style="mitre", mitre_limit=10.0)
    assert shapely.Polygon(outline(line)).symmetric_difference(wanted).area == pytest.approx(0.0, abs=1e-5)
    assert faults(piece, uniform(piece, mm), line) == []


def test_straight_edges_give_single_exact_lines(make_piece):
    piece = make_piece(HOLLOW)
    for path in cut_line(piece, uniform(piece, 12.0)).paths.values():
        assert path.segments.shape[0] == 1
        assert path.straight.all()


@settings(max_examples=60, deadline=None, derandomize=True)
@given(st.lists(st.floats(0.0, 60.0), min_size=5, max_size=5))
def test_each_straight_edge_lies_at_its_own_allowance(allowances):
    # a rectangle with unlike allowances is a rectangle again
    corners = ((0.0, 0.0), (300.0, 0.0), (300.0, 400.0), (0.0, 400.0))
    edges = tuple(
        Edge(f"e{i}", f"e{i}", "", f"c{i}", f"c{(i + 1) % 4}", Path.line(corners[i], corners[(i + 1) % 4]))
        for i in range(4)
    )
    piece = PatternPiece("p", "P", 1, on_fold=False, edges=edges, corners={})
    top, right, bottom, left = allowances[:4]
    points = outline(cut_line(piece, dict(zip(("e0", "e1", "e2", "e3"), allowances[:4], strict=True))))
    assert points.min(axis=0) == pytest.approx([-left, -top], abs=1e-6)
    assert points.max(axis=0) == pytest.approx([300.0 + right, 400.0 + bottom], abs=1e-6)


def test_paths_follow_one_another_exactly(make_piece):
    piece = make_piece(CONVEX)
    allowances = dict(zip(uniform(piece, 0), (0, 3, 10, 25, 60), strict=True))
    paths = list(cut_line(piece, allowances).paths.values())
    for before, after in pairwise([*paths, paths[0]]):
        assert np.array_equal(before.end, after.start)


def test_sharp_corner_is_squared_off_within_the_limit(make_piece):
    piece = make_piece(((0.0, 0.0), (400.0, 30.0), (0.0, 60.0)))
    line = cut_line(piece, uniform(piece, 10.0))
    points = outline(line)
    # three allowances beyond the tip, and never nearer to the tip than the allowance
    assert points[:, 0].max() == pytest.approx(430.0, abs=1e-6)
    ring = shapely.LinearRing(points)
    assert ring.distance(shapely.Point(400.0, 30.0)) >= 10.0
    assert faults(piece, uniform(piece, 10.0), line) == []


def test_unlike_allowances_on_edges_that_run_straight_on_are_stepped(make_piece):
    piece = make_piece(((0.0, 0.0), (100.0, 0.0), (200.0, 0.0), (200.0, 100.0), (0.0, 100.0)))
    line = cut_line(piece, {"e0": 5.0, "e1": 20.0, "e2": 0.0, "e3": 0.0, "e4": 0.0})
    assert line.paths["e0"].end == pytest.approx([100.0, -5.0])
    assert line.paths["e1"].start == pytest.approx([100.0, -5.0])
    assert point_at(line.paths["e1"], 15.0) == pytest.approx([100.0, -20.0])
    assert faults(piece, {"e0": 5.0, "e1": 20.0, "e2": 0.0, "e3": 0.0, "e4": 0.0}, line) == []


@pytest.mark.parametrize("slope", [-60.0, 0.0, 35.0])
def test_cut_line_ends_on_the_fold(make_piece, slope):
    # a neckline that comes to the fold square, as a V, or as a point
    piece = make_piece(((0.0, 60.0), (80.0, 60.0 + slope), (80.0, 300.0), (0.0, 300.0)), on_fold=True)
    line = cut_line(piece, uniform(piece, 12.0))
    first, last = line.paths["e0"], line.paths["e2"]
    assert first.start[0] == 0.0
    assert last.end[0] == 0.0
    assert first.start[1] == pytest.approx(60.0 - 12.0 * np.hypot(80.0, slope) / 80.0, abs=1e-6)
    assert faults(piece, uniform(piece, 12.0), line) == []


def test_steep_point_at_a_fold_is_squared_off(make_piece):
    piece = make_piece(((0.0, 0.0), (30.0, 200.0), (30.0, 300.0), (0.0, 300.0)), on_fold=True)
    line = cut_line(piece, uniform(piece, 10.0))
    assert line.paths["e0"].start == pytest.approx([0.0, -30.0], abs=1e-6)
    assert faults(piece, uniform(piece, 10.0), line) == []


CURVED_SIDE = Path(np.array([[[150.0, 0.0], [190.0, 80.0], [150.0, 200.0], [120.0, 300.0]]]))


@pytest.mark.parametrize(
    "side",
    [
        Path.line((150.0, 0.0), (120.0, 300.0)),
        Path.line((150.0, 0.0), (190.0, 300.0)),
        CURVED_SIDE,
        Path(np.array([[[150.0, 0.0], [110.0, 80.0], [130.0, 250.0], [175.0, 300.0]]])),
    ],
    ids=["tapering", "flaring", "curved in", "curved out"],
)
@pytest.mark.parametrize("depth", [5.0, 25.0, 60.0])
def test_hem_folded_back_lies_on_the_side_seam_line(make_piece, side, depth):
    foot = tuple(side.end)
    piece = make_piece(((0.0, 0.0), (150.0, 0.0), foot, (0.0, 300.0)), on_fold=True, paths={1: side})
    allowances = {"e0": 10.0, "e1": 12.0, "e2": depth}
    line = cut_line(piece, allowances, {"e2"})
    assert faults(piece, allowances, line) == []
    # where the side's cut line comes to the fold of the hem (y = 300) the hem's begins
    assert line.paths["e2"].start[1] == pytest.approx(300.0, abs=1e-6)
    hem = flatten(line.paths["e2"], 0.001)
    run = hem[hem[:, 1] < 300.0 + depth - 1e-6]
    folded = run * [1.0, -1.0] + [0.0, 600.0]
    assert len(run) >= 1
    off = closest(line.paths["e1"], folded).distance
    assert off.max() < 1e-3
    assert hem[:, 1].max() == pytest.approx(300.0 + depth, abs=1e-6)


def test_hem_before_its_neighbour_is_folded_back_too(make_piece):
    # not on a fold, so that the hem has a neighbour on each side; mirrored pieces must agree
    piece = make_piece(((-150.0, 0.0), (150.0, 0.0), (110.0, 300.0), (-110.0, 300.0)))
    line = cut_line(piece, {"e0": 10.0, "e1": 10.0, "e2": 30.0, "e3": 10.0}, {"e2"})
    points = outline(line)
    mirrored = shapely.Polygon(points * [-1.0, 1.0])
    assert shapely.Polygon(points).symmetric_difference(mirrored).area == pytest.approx(0.0, abs=1e-6)
    run = flatten(line.paths["e2"], 0.01)
    assert run[0][1] == pytest.approx(300.0)
    assert run[-1][1] == pytest.approx(300.0)


def test_two_turned_edges_meet_in_a_mitre(make_piece):
    piece = make_piece(((0.0, 0.0), (100.0, 0.0), (100.0, 100.0), (0.0, 100.0)))
    line = cut_line(piece, {"e0": 0.0, "e1": 20.0, "e2": 30.0, "e3": 0.0}, {"e1", "e2"})
    assert line.paths["e1"].end == pytest.approx([120.0, 130.0])


def test_hollow_tighter_than_its_allowance_is_clean(make_piece):
    dip = Path(np.array([[[0.0, 0.0], [90.0, 0.0], [75.0, 90.0], [100.0, 90.0]],
                         [[100.0, 90.0], [125.0, 90.0], [110.0, 0.0], [200.0, 0.0]]]))  # fmt: skip
    piece = make_piece(((0.0, 0.0), (200.0, 0.0), (200.0, 200.0), (0.0, 200.0)), paths={0: dip})
    for mm in (5.0, 15.0, 40.0):
        line = cut_line(piece, uniform(piece, mm))
        assert faults(piece, uniform(piece, mm), line) == []
        assert shapely.LinearRing(outline(line)).is_simple


SLOT = ((0.0, 0.0), (90.0, 0.0), (90.0, 80.0), (110.0, 80.0), (110.0, 0.0), (200.0, 0.0), (200.0, 200.0),
        (0.0, 200.0))  # fmt: skip


def test_allowance_wider_than_a_slot_fails_the_proof(make_piece):
    piece = make_piece(SLOT)
    line = cut_line(piece, uniform(piece, 30.0))
    assert faults(piece, uniform(piece, 30.0), line) == [("", "the cut line crosses itself", None)]


def test_allowance_that_leaves_nothing_of_an_edge_is_refused(make_piece):
    # 15 mm from either wall leaves nothing of the slot's floor of 20 mm
    piece = make_piece(SLOT)
    with pytest.raises(CutLineError, match="meet before they reach it") as refused:
        cut_line(piece, uniform(piece, 15.0))
    assert refused.value.edge == "e2"


def _allowances() -> st.SearchStrategy[list[float]]:
    one = st.floats(0.0, 60.0) | st.sampled_from([0.0, 6.0, 10.0, 25.0, 60.0])
    return st.lists(one, min_size=5, max_size=5)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(_allowances(), st.sampled_from([0, 1, 2]))
def test_awkward_allowances_keep_their_distance(mm, which):
    """Held against shapely by dense sampling, which knows nothing of how the line was made."""
    piece = sample_pattern().pieces[which]
    names = [e.name for e in piece.edges if not e.fold]
    allowances = dict(zip(names, mm, strict=False))
    turned = {"hem", "cuff"} & set(names)
    try:
        line = cut_line(piece, allowances, turned)
    except CutLineError:
        assert max(mm) > 25.0
        return
    if faults(piece, allowances, line):
        assert max(mm) > 25.0
        return
    ring = polygon(line, piece)
    assert ring.is_valid
    seam = shapely.Polygon(np.concatenate([flatten(e.path, 0.005)[:-1] for e in piece.edges]))
    assert seam.difference(ring.buffer(0.02)).area == pytest.approx(0.0, abs=1e-6)
    for name, path in line.paths.items():
        edge = shapely.LineString(flatten(piece.edge(name).path, 0.002))
        points = shapely.points(point_at(path, np.linspace(0.0, path.length, 200)))
        foot = shapely.line_locate_point(edge, points)
        # a hem's corners are folded back at both ends, and may lie above the hem's own parallel
        clear = 0.5 if name not in turned else 1.5 * allowances[name] + 0.5
        own = (foot > clear) & (foot < edge.length - clear)
        away = np.asarray(shapely.distance(edge, points))[own]
        assert np.abs(away - allowances[name]).max(initial=0.0) < 0.05


def test_usual_allowances_reach_within_a_hundredth():
    piece = sample_pattern().piece("front")
    line = cut_line(piece, {"neckline": 6.0, "shoulder": 10.0, "armhole": 10.0, "side": 10.0, "hem": 25.0})
    for name, mm in (("neckline", 6.0), ("armhole", 10.0)):
        low, high = line.bodies[name]
        points = point_at(line.paths[name], np.linspace(low, high, 300))
        assert np.abs(closest(piece.edge(name).path, points).distance - mm).max() < 0.0101
    assert bounds(line.paths["side"])[2] == pytest.approx(270.0, abs=0.02)

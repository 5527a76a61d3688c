"""The bars of truing: measures met, sewn edges equal, corners square, joins smooth, outlines simple."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import tops
from likesewn.garment import Figure, Pattern, Record, TracedPoints
from likesewn.geometry import closest, point_at
from likesewn.truing import Untrued, move_edges
from likesewn.units import parse_length
from tops import TOP, assert_met, assert_sewn, record, trued

WIDTHS = (190, 210, 250, 300, 340, 380, 420, 460, 500, 520, 540, 580, 620, 660, 700, 740, 780, 820, 860, 900)


def assert_bars(pattern: Pattern) -> None:
    assert_met(pattern)
    assert_sewn(pattern)
    assert not pattern.findings


def basis(chest: float, turn: int) -> dict[str, float]:
    """Return figures that place every corner, of a garment cropped or long, short-sleeved or long."""
    return tops.basis(chest) | {
        "body_length": chest * (0.95, 1.3, 1.6, 2.6)[turn % 4],
        "sleeve_length": chest * (1.1, 0.3, 0.6, 0.15)[turn % 4],
        "hem_width": chest * (1.0, 1.2, 0.9, 1.5)[turn % 4],
    }


@pytest.mark.parametrize(("turn", "chest"), list(enumerate(WIDTHS)))
def test_twenty_consistent_sets_in_both_unit_systems(turn, chest):
    first = trued(record(**basis(chest, turn)))
    # all that the pattern measures is consistent; it is read off and typed in one unit or the other
    unit, per = ("in", 25.4) if turn % 2 else ("cm", 10.0)
    tape = {m.key: f"{m.value_mm / per:.6f} {unit}" for m in first.measures}
    figures = {key: Figure(parse_length(text, "mm").mm) for key, text in tape.items()}
    assert_bars(trued(record(**figures)))


@settings(max_examples=40, derandomize=True, deadline=None)
@given(
    chest=st.floats(190, 900),
    length=st.floats(0.9, 2.8),
    sleeve=st.floats(0.1, 1.2),
    keep=st.sets(st.integers(0, 17)),
    wide=st.floats(0.9, 1.1),
)
def test_random_consistent_sets(chest, length, sleeve, keep, wide):
    figures = basis(chest, 0) | {
        "body_length": max(240, length * chest),
        "sleeve_length": max(40, sleeve * chest),
    }
    figures |= {"shoulder_width": wide * figures["shoulder_width"]}
    first = trued(record(**figures))
    read = {m.key: m.value_mm for m in first.measures}
    kept = {key: mm for i, (key, mm) in enumerate(read.items()) if i in keep or TOP.measures[key].needed}
    assert_bars(trued(record(**kept)))


def test_figures_that_disagree_are_named():
    figures = basis(520, 0)
    read = {m.key: m.value_mm for m in trued(record(**figures)).measures}
    pattern = trued(record(**figures, shoulder_drop=40, shoulder_length=read["shoulder_length"] + 30))
    (finding,) = [f for f in pattern.findings if f.code == "figures-disagree"]
    assert "shoulder_length" in finding.where
    assert "cannot all be right" in finding.message
    assert finding.amount == pytest.approx(30, abs=6)
    assert all(abs(seam.difference_mm) <= 0.01 for seam in pattern.seams)


def test_the_surer_figure_gives_way_less():
    def misses(width: float, length: float) -> tuple[float, float]:
        pattern = trued(
            record(
                **basis(520, 0)
                | {"shoulder_drop": 40}
                | {"shoulder_width": Figure(409, width), "neck_width": Figure(176, 0.01)}
                | {"shoulder_length": Figure(140, length)}
            )
        )
        found = {m.key: m for m in pattern.measures}
        return tuple(
            abs(found[k].value_mm - found[k].asked_mm) for k in ("shoulder_width", "shoulder_length")
        )

    sure_width, unsure_length = misses(1.0, 10.0)
    unsure_width, sure_length = misses(10.0, 1.0)
    assert sure_width < unsure_width
    assert sure_length < unsure_length
    # least squares: the misses stand as the squares of the uncertainties, halved by the measure's two ends
    assert sure_width / unsure_length == pytest.approx(0.5 * (1.0 / 10.0) ** 2, rel=0.3)


@pytest.mark.parametrize("free", [False, True])
def test_traced_points_recover_the_curve(free):
    rng = np.random.default_rng(11)
    known = trued(record(**basis(520, 0)))
    entries = []
    for piece in known.pieces:
        for edge in piece.edges:
            if piece.name == "back" and edge.name != "neckline":
                continue  # alike: traced on the front
            if edge.fold and not free:
                continue
            at = point_at(edge.path, np.linspace(0, edge.path.length, 40)) + rng.normal(0, 1, (40, 2))
            if free and piece.name != "back":
                turn = np.array([[np.cos(1.1), np.sin(1.1)], [-np.sin(1.1), np.cos(1.1)]])
                free_at = at @ turn + [300, -200]
                entries.append(TracedPoints(piece.name, edge.name, free_at, 1.0, "mat", off_centre_mm=0.0))
            elif not edge.fold:
                entries.append(TracedPoints(piece.name, edge.name, at, 1.0))
    tape = {key: Figure(basis(520, 0)[key]) for key in ("body_length", "chest_width", "sleeve_length")}
    found = trued(Record("Traced", TOP.name, tape=tape, points=tuple(entries)))
    for piece in known.pieces:
        for edge in piece.edges:
            if edge.fold:
                continue
            places = point_at(edge.path, np.linspace(0, edge.path.length, 200))
            distance = closest(found.piece(piece.name).edge(edge.name).path, places).distance
            # a free piece's own place and angle are known no better than its points tell
            assert np.sqrt(np.mean(distance**2)) <= (0.6 if free else 0.5), (piece.name, edge.name)


def test_a_free_trace_wants_its_fold():
    known = trued(record(**basis(520, 0)))
    tape = {key: Figure(basis(520, 0)[key]) for key in ("body_length", "chest_width", "sleeve_length")}

    def codes(*names: str) -> set[str]:
        points = []
        for name in names:
            path = known.piece("front").edge(name).path
            at = point_at(path, np.linspace(0, path.length, 12)) + 500
            points.append(TracedPoints("front", name, at, 1.0, "mat"))
        return {f.code for f in trued(Record("x", TOP.name, tape=tape, points=tuple(points))).findings}

    edges = ("neckline", "shoulder", "armhole", "side", "hem")
    assert "fold-not-traced" in codes(*edges)
    assert "fold-not-traced" not in codes(*edges, "fold")


def test_the_sleeve_opens_out_only_where_front_and_back_differ():
    same = trued(record(**basis(520, 0), armhole_curve=258))
    assert same.piece("sleeve").on_fold
    apart = trued(
        record(
            body_length=660,
            chest_width=520,
            sleeve_length=590,
            front_armhole_curve=240,
            back_armhole_curve=262,
        )
    )
    sleeve = apart.piece("sleeve")
    assert not sleeve.on_fold
    names = ["cap_front", "underarm_front", "cuff", "underarm_back", "cap_back"]
    assert [edge.name for edge in sleeve.edges] == names
    assert_bars(apart)
    assert sleeve.edge("cap_front").path.length == pytest.approx(240, abs=0.1)
    assert sleeve.edge("cap_back").path.length == pytest.approx(262, abs=0.1)


@pytest.mark.parametrize("seed", range(6))
def test_an_opened_sleeve_of_which_only_the_cap_was_traced(seed):
    """What nothing observed of each half is decided by the other half, not by chance."""
    figures = basis(520, 0) | {"sleeve_width": 185, "cuff_width": 105}
    known = trued(record(**figures, front_armhole_curve=250, back_armhole_curve=264))
    rng = np.random.default_rng(seed)
    points = []
    traced = {"front": ("armhole", "side"), "back": ("armhole",), "sleeve": ("cap_front", "cap_back")}
    for piece, names in traced.items():
        for name in names:
            path = known.piece(piece).edge(name).path
            at = point_at(path, np.linspace(0, path.length, 40)) + rng.normal(0, 1, (40, 2))
            points.append(TracedPoints(piece, name, at, 1.0))
    found = trued(Record("x", TOP.name, tape=record(**figures).tape, points=tuple(points)))
    assert found.steps < 40
    assert all(abs(s.difference_mm) <= 0.01 for s in found.seams)
    assert all(abs(a.degrees - a.wanted) <= 0.05 for a in (*found.square_corners, *found.smooth_joins))
    sleeve = found.piece("sleeve").corners
    assert abs(sleeve["cuff_side_front"][0] + sleeve["cuff_side_back"][0]) < 15.0


def test_ease_is_taken_up_by_the_cap():
    given_ = Record(
        "x", TOP.name, tape=record(**basis(520, 0)).tape, ease={"front armhole": 8.0, "back armhole": 8.0}
    )
    pattern = trued(given_)
    assert_bars(pattern)
    sleeve, front = pattern.piece("sleeve").edge("cap"), pattern.piece("front").edge("armhole")
    assert sleeve.path.length - front.path.length == pytest.approx(8.0, abs=0.01)


@pytest.mark.parametrize("move", [-15.0, -5.0, 5.0, 15.0])
def test_moved_edges_lie_parallel_and_still_sew(move):
    before = trued(record(**basis(520, 0)))
    after = move_edges(before, {"front.neckline": move, "back.neckline": move})
    assert not isinstance(after, Untrued)
    assert all(abs(s.difference_mm) <= 0.01 for s in after.seams)
    assert all(abs(a.degrees - a.wanted) <= 0.05 for a in (*after.square_corners, *after.smooth_joins))
    # the frame hangs on the neck point, which has slid along the shoulder; the hem has not moved
    for name in ("front", "back"):
        old, new = before.piece(name), after.piece(name)
        shift = new.corners["hem_centre"] - old.corners["hem_centre"]
        drop = (new.corners["neck_centre"] - old.corners["neck_centre"] - shift)[1]
        assert drop == pytest.approx(move, abs=0.5)

"""Areas, boxes, turning and flattening against closed forms."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.geometry import Path, area, bounds, flatten, turning
from shapes import SHAPES, arc, circle, cubic, quarter

coordinates = st.floats(-300.0, 300.0, allow_nan=False)
segments = st.lists(st.tuples(coordinates, coordinates), min_size=4, max_size=4)


def test_a_piece_walked_as_drawn_has_positive_area_and_turns_once():
    piece = Path.polyline([(0, 0), (30, 0), (30, 40), (0, 40), (0, 0)])
    assert area(piece) == 1200.0
    assert turning(piece) == pytest.approx(2 * np.pi, abs=1e-14)
    assert area(piece.reversed()) == -1200.0
    assert turning(piece.reversed()) == pytest.approx(-2 * np.pi, abs=1e-14)


def test_a_circle_turns_once_and_a_figure_of_eight_not_at_all():
    assert turning(circle()) == pytest.approx(2 * np.pi, abs=1e-12)
    # both circles pass (100, 0) in the same direction, one turning the one way and one the other
    eight = Path.join([circle(), circle().moved(np.pi, (200, 0)).reversed()])
    assert turning(eight) == pytest.approx(0.0, abs=1e-12)


@pytest.mark.parametrize("angle", [0.1, 1.0, 3.0, 6.0])
def test_an_open_arc_turns_by_its_angle(angle):
    assert turning(arc(50.0, angle)) == pytest.approx(angle, abs=1e-12)
    assert turning(arc(50.0, angle).mirrored()) == pytest.approx(-angle, abs=1e-12)


def test_a_loop_in_one_cubic_turns_more_than_half_a_turn():
    # it leaves downward at this angle to its chord, goes round from x by y to -x, and comes back up
    below = np.arctan2(80, 130)
    assert turning(SHAPES["loop"]) == pytest.approx(2 * np.pi - 2 * below, abs=1e-12)


def test_straight_back_counts_as_half_a_turn_outwards():
    assert turning(SHAPES["there and back"]) == pytest.approx(np.pi)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(segments, st.floats(-3.0, 3.0), coordinates, coordinates)
def test_moving_changes_neither_area_nor_turning_nor_length(points, angle, x, y):
    path = cubic(*points)
    moved = path.moved(angle, (x, y))
    assert area(moved) == pytest.approx(area(path), rel=1e-9, abs=1e-6)
    assert moved.length == pytest.approx(path.length, rel=1e-9, abs=1e-9)
    ends = np.hypot(*np.diff(path.segments[0], axis=0).T)
    if ends.min() > 1.0 and abs(abs(turning(path)) - np.pi) > 1e-3:
        assert turning(moved) == pytest.approx(turning(path), abs=1e-6)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(segments)
def test_bounds_are_those_of_a_fine_polygon(points):
    path = cubic(*points)
    fine = flatten(path, 1e-5)
    box = bounds(path)
    assert fine.min(axis=0) == pytest.approx(box[:2], abs=2e-5)
    assert fine.max(axis=0) == pytest.approx(box[2:], abs=2e-5)


@pytest.mark.parametrize("tolerance", [10.0, 1.0, 0.1, 0.02, 1e-3, 1e-5])
def test_flattening_a_circle_takes_a_fair_number_of_chords(tolerance):
    # the least number of chords is pi / acos(1 - tolerance / r); the parametric bound takes a little more
    r = 200.0
    least = np.pi / np.arccos(1.0 - tolerance / r)
    polygon = flatten(circle(r), tolerance)
    assert least / np.sqrt(2) - 4 <= len(polygon) - 1 <= 1.6 * least + 4
    x, y = polygon.T
    missing = area(circle(r)) - 0.5 * float(np.sum(x[:-1] * y[1:] - y[:-1] * x[1:]))
    assert 0.0 <= missing <= tolerance * 2 * np.pi * r


def test_a_straight_run_flattens_to_one_chord():
    assert len(flatten(Path.polyline([(0, 0), (1000, 1), (2000, 7)]), 1e-6)) == 3


@pytest.mark.parametrize(
    ("tolerance", "words"), [(0.0, "more than 0"), (-1.0, "more than 0"), (1e-12, "too fine")]
)
def test_senseless_tolerances_are_refused(tolerance, words):
    with pytest.raises(ValueError, match=words):
        flatten(quarter(), tolerance)


def test_area_far_from_the_origin_loses_nothing():
    assert area(circle(1.0).moved(by=(1e6, 1e6))) == pytest.approx(area(circle(1.0)), rel=1e-9)

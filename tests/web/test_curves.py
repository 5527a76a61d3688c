"""Curves through a few points: they keep to what was traced, and move only where a point is moved."""

import numpy as np
import pytest

from likesewn.web.curves import LEAST, curve_points, curve_through, with_point

T = np.linspace(0, 1, 40)
ARC = np.column_stack([300 * np.cos(T * 1.5), 300 * np.sin(T * 1.5)])
S_BEND = np.column_stack([T * 400, 40 * np.sin(T * 2 * np.pi)])
STRAIGHT = np.column_stack([T * 200, T * 500])


def strays(line, curve):
    return np.min(np.hypot(*(line[:, None] - curve[None]).transpose(2, 0, 1)), axis=1).max()


@pytest.mark.parametrize("line", [ARC, S_BEND, STRAIGHT], ids=["arc", "s", "straight"])
def test_a_few_points_hold_a_line(line):
    points = curve_points(line, 1.0)
    assert LEAST <= len(points) <= 9
    assert strays(line, curve_through(points, 400)) < 1.2
    np.testing.assert_array_equal(points[[0, -1]], line[[0, -1]])


def test_a_straight_line_needs_no_more_than_three():
    assert len(curve_points(STRAIGHT, 1.0)) == LEAST
    np.testing.assert_allclose(np.diff(curve_through(curve_points(STRAIGHT, 1.0)), n=2, axis=0), 0, atol=1e-9)


def test_a_curve_runs_through_its_points():
    points = curve_points(S_BEND, 1.0)
    assert strays(points, curve_through(points, 4000)) < 0.2


def test_a_moved_point_moves_the_curve_near_it_alone():
    before = np.column_stack([np.arange(8) * 100.0, np.zeros(8)])
    after = before.copy()
    after[3, 1] = 30.0
    one, other = curve_through(before, 701), curve_through(after, 701)
    # the places along it move a little too, so heights are compared where x is the same
    height = np.interp(one[:, 0], other[:, 0], other[:, 1])
    assert height[300] == pytest.approx(30.0, abs=0.5)
    assert np.abs(height[:99]).max() < 1e-6
    assert np.abs(height[510:]).max() < 1e-6


def test_a_new_point_goes_where_it_lengthens_the_way_least():
    points = [(0.0, 0.0), (100.0, 0.0), (200.0, 0.0)]
    assert with_point(points, (150.0, 5.0)) == ([*points[:2], (150.0, 5.0), points[2]], 2)
    assert with_point(points, (-20.0, 0.0))[1] == 0
    assert with_point(points, (230.0, 1.0))[1] == 3

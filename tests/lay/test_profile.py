import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import Polygon
from shapely.affinity import translate

from likesewn.lay import SAFETY_GAP
from likesewn.lay.profile import COLUMN, Profile, drop, raise_front

RADIUS = 100.0


def circle(radius):
    angles = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    return radius + radius * np.column_stack([np.cos(angles), np.sin(angles)])


def rectangle(length, width):
    return np.array([(0, 0), (length, 0), (length, width), (0, width)], dtype=float)


@pytest.mark.parametrize("apart", [0, 20, 60, 100, 140])
def test_circles_come_nearly_as_close_as_their_gap_allows(apart):
    round_one = Profile.of(circle(RADIUS))
    front = raise_front(np.zeros(250), round_one, 0, 0.0)
    (x,) = drop(front, round_one, np.array([apart // COLUMN], dtype=np.intp))
    # Centres of two circles of radius r that keep a gap g stand 2 r + g apart.
    exact = np.sqrt((2 * RADIUS + SAFETY_GAP) ** 2 - apart**2)
    slope = apart / exact
    assert exact - 0.1 <= x <= exact + 3 * COLUMN * slope + 0.1


def test_oblongs_lie_exactly_one_gap_behind_each_other():
    profile = Profile.of(rectangle(300, 101.3))
    front = raise_front(np.zeros(60), profile, 2, 0.0)
    assert drop(front, profile, np.array([2], dtype=np.intp)) == pytest.approx([300 + SAFETY_GAP])


def test_oblongs_lie_beside_each_other_from_the_next_free_column_on():
    profile = Profile.of(rectangle(300, 100))
    front = raise_front(np.zeros(120), profile, 0, 0.0)
    starts = np.arange(48, 54, dtype=np.intp)
    behind = 300 + SAFETY_GAP
    # 100 mm are 50 columns, and the gap is one more.
    assert drop(front, profile, starts) == pytest.approx([behind, behind, behind, 0, 0, 0])


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    st.lists(st.floats(10, 200), min_size=3, max_size=10),
    st.lists(st.floats(10, 200), min_size=3, max_size=10),
    st.integers(0, 150),
    st.floats(0, 1.99),
)
def test_dropped_outlines_keep_the_gap(first, second, start, phase):
    outlines = []
    for radii in (first, second):
        angles = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
        outline = np.array(radii)[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])
        outlines.append(outline - outline.min(axis=0))
    front = raise_front(np.zeros(500), Profile.of(outlines[0], phase), 60, 0.0)
    (x,) = drop(front, Profile.of(outlines[1]), np.array([start], dtype=np.intp))
    lying = translate(Polygon(outlines[0]), 0, 60 * COLUMN + phase)
    dropped = translate(Polygon(outlines[1]), x, start * COLUMN)
    assert lying.distance(dropped) >= SAFETY_GAP - 1e-9

"""Keep-outs against shapely, and against each other."""

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.affinity import translate

from lay.hand_pieces import top, uneven
from likesewn.lay.keepout import convex_parts, grown, slices, standing_parts, stretches
from likesewn.lay.shapes import shape_of
from likesewn.lay.sides import parts_of, sides_of


@st.composite
def polygons(draw):
    count = draw(st.integers(3, 14))
    radii = np.array(draw(st.lists(st.floats(10, 200), min_size=count, max_size=count)))
    angles = np.linspace(0, 2 * np.pi, count, endpoint=False)
    points = np.column_stack([radii * np.cos(angles), radii * np.sin(angles)])
    # Rounded coordinates make level sides and corners at one height common.
    return np.round(points, draw(st.sampled_from([-1, 0, 6])))


sound = polygons().filter(lambda p: shapely.Polygon(p).is_valid and shapely.Polygon(p).area > 100)


@settings(max_examples=60, deadline=None, derandomize=True)
@given(sound, sound, st.floats(-400, 400), st.floats(-400, 400))
def test_a_move_is_kept_out_when_the_outlines_overlap(a, b, x, y):
    overlap = shapely.Polygon(a).intersection(translate(shapely.Polygon(b), x, y)).area
    apart = shapely.Polygon(a).distance(translate(shapely.Polygon(b), x, y))
    low, high = stretches(standing_parts(a), standing_parts(b), np.array([y]))
    inside = bool(np.any((low[:, 0] < x) & (x < high[:, 0])))
    room, _ = sides_of(parts_of(convex_parts(a)), parts_of(convex_parts(b))).room(np.array([x, y]))
    if overlap > 1.0:
        assert inside
        assert room.min() < 0
    if apart > 0.01:
        assert not inside
        assert room.min() > 0


@settings(max_examples=40, deadline=None, derandomize=True)
@given(sound, sound)
def test_the_keep_out_of_two_outlines_exchanged_is_turned_about(a, b):
    one, other = standing_parts(a), standing_parts(b)
    forth, back = slices(one, other, 2.0, 0.0), slices(other, one, 2.0, 0.0).turned()
    assert (forth.first, forth.low.shape[1]) == (back.first, back.low.shape[1])
    mean = np.isfinite(forth.low).all(axis=0) & (len(forth.low) == len(back.low))
    assert np.abs(forth.low[0] - back.low[0])[mean].max(initial=0.0) < 1e-3


@settings(max_examples=60, deadline=None, derandomize=True)
@given(sound)
def test_convex_parts_make_up_the_polygon(polygon):
    parts = [shapely.Polygon(part) for part in convex_parts(polygon)]
    whole = shapely.Polygon(polygon)
    assert sum(part.area for part in parts) == pytest.approx(whole.area)
    assert shapely.union_all(parts).symmetric_difference(whole).area < 1e-6 * whole.area
    assert all(part.convex_hull.area == pytest.approx(part.area) for part in parts)


@pytest.mark.parametrize("tolerance", [0.05, 0.25, 1.0])
def test_a_grown_outline_covers_the_gap_and_little_more(tolerance):
    for piece in (*top().pieces, uneven("p")):
        outline = shape_of(piece).whole
        around = shapely.Polygon(grown(outline, 1.0, tolerance))
        round_corners = shapely.Polygon(outline).buffer(1.0, quad_segs=32)
        assert round_corners.difference(around).area < 1e-3 * len(outline)
        assert around.difference(shapely.Polygon(outline).buffer(1.5 + tolerance)).area == 0
        assert len(grown(outline, 1.0, 1.0)) <= len(grown(outline, 1.0, 0.05))

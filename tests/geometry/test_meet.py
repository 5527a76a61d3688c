"""Crossings, touches, shared runs and closest points where the right answer is known."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from likesewn.geometry import Path, closest, crossings, cut_out, flatten, point_at, self_crossings, split_at
from likesewn.geometry.roots import roots
from shapes import ARMHOLE, arc, circle, cubic, quarter

shapely = pytest.importorskip("shapely")

coordinates = st.floats(-100.0, 100.0, allow_nan=False)
segments = st.lists(st.tuples(coordinates, coordinates), min_size=4, max_size=4)


def places(found):
    return [(one.along_a, one.along_b) for one in found]


@settings(derandomize=True, deadline=None, max_examples=80)
@given(segments, segments)
def test_every_crossing_lies_on_both_paths(one, other):
    a, b = cubic(*one), cubic(*other)
    for here in crossings(a, b):
        assert point_at(a, here.along_a) == pytest.approx(here.point, abs=1e-6)
        assert point_at(b, here.along_b) == pytest.approx(here.point, abs=2e-6)


@pytest.mark.parametrize("seed", range(60))
def test_crossings_of_cubics_are_those_of_fine_polygons(seed):
    rng = np.random.default_rng(seed)
    a, b = cubic(*rng.uniform(-100, 100, (4, 2))), cubic(*rng.uniform(-100, 100, (4, 2)))
    lines = [shapely.LineString(flatten(path, 1e-4)) for path in (a, b)]
    met = lines[0].intersection(lines[1])
    expected = np.array([] if met.is_empty else [one.coords[0] for one in getattr(met, "geoms", [met])])
    found = np.array([here.point for here in crossings(a, b)])
    assert len(found) == len(expected)
    if len(found):
        gaps = np.hypot(*(found[:, None] - expected[None]).transpose(2, 0, 1))
        assert gaps.min(axis=0).max() < 0.02
        assert gaps.min(axis=1).max() < 0.02


def test_two_cubics_cross_nine_times():
    a = cubic((0, 0), (330, 100), (-230, 100), (100, 0))
    b = cubic((90, 60), (-60, -190), (-10, 330), (85, -15))
    polygons = [shapely.LineString(flatten(p, 1e-5)) for p in (a, b)]
    expected = polygons[0].intersection(polygons[1])
    assert len(crossings(a, b)) == len(expected.geoms)


@pytest.mark.parametrize("turn", [0.0, 0.3, 1.2, 2.9])
def test_a_tangent_touches_once(turn):
    found = crossings(arc(100.0, 2.0).moved(turn - 1.0), Path.line((100, -50), (100, 50)).moved(turn))
    assert len(found) == 1
    assert places(found)[0] == pytest.approx((100.0, 50.0), abs=1e-3)


def test_circles_that_touch_meet_once_and_just_apart_never():
    right = circle().moved(by=(200, 0))
    assert len(crossings(quarter(), right)) == 1
    assert crossings(quarter(), right.moved(by=(1e-4, 0))) == ()
    assert len(crossings(circle().moved(0.3), right.moved(by=(-1e-2, 0)))) == 2


@pytest.mark.parametrize("angle", [1.0, 1e-2, 1e-4, 1e-6])
def test_a_shallow_crossing_is_found_where_it_is(angle):
    found = crossings(Path.line((0, 0), (1000, 0)), Path.line((500, 0), (1000, 500 * angle)).moved())
    assert places(found) == [pytest.approx((500.0, 0.0), abs=1e-3)]
    across = Path.line((0, -500 * angle), (1000, 500 * angle))
    assert places(crossings(Path.line((0, 0), (1000, 0)), across)) == [
        pytest.approx((500.0, 500.0 * np.hypot(1.0, angle)), abs=1e-3)
    ]


def test_a_crossing_at_a_joint_counts_once():
    bent = Path.polyline([(0, 0), (10, 10), (20, 0)])
    assert places(crossings(bent, Path.line((10, 0), (10, 20)))) == [pytest.approx((np.sqrt(200), 10.0))]
    assert places(crossings(bent, Path.line((0, 10), (20, 10)))) == [pytest.approx((np.sqrt(200), 10.0))]


def test_ends_that_meet_count():
    line = Path.line((0, 0), (10, 0))
    assert places(crossings(line, Path.line((4, 0), (4, 9)))) == [pytest.approx((4.0, 0.0))]
    assert places(crossings(line, Path.line((10, 0), (20, 0)))) == [pytest.approx((10.0, 0.0))]


@pytest.mark.parametrize("backwards", [False, True])
def test_a_shared_run_gives_its_two_ends(backwards):
    part = cut_out(ARMHOLE, 30.0, 190.0)
    part = part.reversed() if backwards else part
    found = places(crossings(ARMHOLE, part))
    ends = [(30.0, 160.0), (190.0, 0.0)] if backwards else [(30.0, 0.0), (190.0, 160.0)]
    assert found == [pytest.approx(ends[0], abs=1e-6), pytest.approx(ends[1], abs=1e-6)]


def test_two_outlines_that_share_an_edge_and_cross_elsewhere():
    square = Path.polyline([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)])
    other = Path.polyline([(5, -5), (10, 0), (10, 10), (5, 5), (-5, 5)])
    found = [tuple(np.round(one.point, 9)) for one in crossings(square, other)]
    assert sorted(found) == [(0.0, 5.0), (10.0, 0.0), (10.0, 10.0)]


def test_a_split_path_does_not_cross_itself():
    assert self_crossings(Path.join(split_at(ARMHOLE, 100.0))) == ()
    assert self_crossings(circle(), closed=True) == ()
    assert len(self_crossings(circle())) == 1  # taken as open, its ends touch


def test_the_loop_of_one_cubic_is_found_where_symmetry_puts_it():
    loop = cubic((0, 0), (130, 80), (-30, 80), (100, 0))
    (found,) = self_crossings(loop)
    assert found.point[0] == pytest.approx(50.0)
    assert found.along_a + found.along_b == pytest.approx(loop.length)


def test_loops_over_joints_are_found_too():
    loop = cubic((0, 0), (130, 80), (-30, 80), (100, 0))
    for share in (0.35, 0.5, 0.65):
        (found,) = self_crossings(Path.join(split_at(loop, share * loop.length)))
        assert found.point == pytest.approx(self_crossings(loop)[0].point, abs=1e-9)


def test_figures_that_meet_themselves():
    eight = Path.polyline([(0, 0), (10, 10), (10, 0), (0, 10), (0, 0)])
    assert [tuple(one.point) for one in self_crossings(eight, closed=True)] == [pytest.approx((5.0, 5.0))]
    back = Path.polyline([(0, 0), (10, 0), (4, 0)])
    assert places(self_crossings(back)) == [pytest.approx((4.0, 16.0))]
    spiral = Path.polyline([(0, 0), (10, 0), (10, 10), (2, 10), (2, -3)])
    assert places(self_crossings(spiral)) == [pytest.approx((2.0, 38.0))]


def test_the_nearest_of_equally_near_places_is_one_of_them():
    found = closest(circle(), (0.0, 0.0))
    assert found.distance[0] == pytest.approx(100.0)
    assert np.hypot(*found.point[0]) == pytest.approx(100.0)


@settings(derandomize=True, deadline=None, max_examples=60)
@given(segments, st.tuples(coordinates, coordinates))
def test_closest_agrees_with_a_fine_polygon(points, q):
    path = cubic(*points)
    if path.length < 1e-9:
        return  # shapely makes no line of a point
    polygon = shapely.LineString(flatten(path, 1e-6))
    assert closest(path, q).distance[0] == pytest.approx(polygon.distance(shapely.Point(q)), abs=2e-6)


def test_no_points_give_no_places_and_odd_ones_are_refused():
    assert closest(quarter(), np.zeros((0, 2))).distance.shape == (0,)
    for odd in (np.zeros((3, 3)), [(np.nan, 0.0)]):
        with pytest.raises(ValueError, match="finite pairs"):
            closest(quarter(), odd)


@settings(derandomize=True, deadline=None, max_examples=80)
@given(st.lists(st.floats(0.01, 0.99), min_size=1, max_size=5, unique=True))
@example([0.25, 0.4990234375])  # the second lies just where polynomials are cut
def test_every_well_parted_root_is_found(wanted):
    wanted = sorted(wanted)
    if min(np.diff([0.0, *wanted, 1.0])) < 1e-3:
        return
    row = np.array([[1.0]])
    for root in wanted:
        # product with the line that is -root at 0 and 1 - root at 1
        n = row.shape[1]
        low, high = np.append(row * -root, 0.0), np.append(0.0, row * (1.0 - root))
        weight = np.arange(n + 1) / n
        row = ((1.0 - weight) * low + weight * high)[None]
    owner, found = roots(row)
    assert np.all(owner == 0)
    assert np.sort(found) == pytest.approx(wanted, abs=1e-8)

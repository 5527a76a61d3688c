"""Every operation over every awkward shape: a right answer or a refusal in words."""

import numpy as np
import pytest

from likesewn.geometry import (
    FitError,
    OffsetError,
    Path,
    area,
    bounds,
    closest,
    crossings,
    curvature_at,
    cut_out,
    extend,
    fit,
    flatten,
    offset,
    point_at,
    self_crossings,
    split_at,
    tangent_at,
    turning,
)
from shapes import MEETING_ITSELF, REFUSED, SHAPES

every_shape = pytest.mark.parametrize("path", SHAPES.values(), ids=SHAPES.keys())
every_name = pytest.mark.parametrize("name", SHAPES)


def size(path):
    return 1e-12 + float(np.abs(path.segments).max())


def dense(path, count=4001):
    """Points of the path by the slow, obvious way: even in the parameter of each segment."""
    t = np.linspace(0, 1, count)[:, None, None]
    a, b, c, d = (path.segments[None, :, i] for i in range(4))
    p = (1 - t) ** 3 * a + 3 * (1 - t) ** 2 * t * b + 3 * (1 - t) * t**2 * c + t**3 * d
    return p.transpose(1, 0, 2).reshape(-1, 2)


@pytest.mark.parametrize("points", REFUSED.values(), ids=REFUSED.keys())
def test_impossible_paths_are_refused_in_words(points):
    with pytest.raises(ValueError, match="a path needs"):
        Path(points)


@every_shape
def test_length_agrees_with_a_fine_polygon(path):
    chords = np.diff(dense(path).reshape(len(path.segments), -1, 2), axis=1)
    assert path.length == pytest.approx(np.hypot(chords[..., 0], chords[..., 1]).sum(), rel=2e-6, abs=1e-11)


@every_shape
def test_points_lie_where_their_distance_says(path):
    s = np.linspace(0, path.length, 37)
    assert point_at(path, s).shape == (37, 2)
    for at in s[1:-1]:
        head, tail = split_at(path, at)
        assert head.length == pytest.approx(at, rel=1e-9, abs=1e-9)
        assert head.length + tail.length == pytest.approx(path.length, rel=1e-9, abs=1e-9)
        assert np.array_equal(head.end, tail.start)
        assert np.array_equal(head.start, path.start)
        assert np.array_equal(tail.end, path.end)


@every_shape
def test_a_part_is_as_long_as_asked_for(path):
    a, b = 0.31 * path.length, 0.87 * path.length
    part = cut_out(path, a, b)
    assert part.length == pytest.approx(b - a, rel=1e-9, abs=1e-9)
    assert part.start == pytest.approx(point_at(path, a), rel=1e-9, abs=1e-9)
    assert part.end == pytest.approx(point_at(path, b), rel=1e-9, abs=1e-9)
    whole = cut_out(path, 0.0, path.length)
    assert np.array_equal(whole.start, path.start)
    assert np.array_equal(whole.end, path.end)


@every_name
def test_tangents_are_unit_and_follow_the_path(name):
    path = SHAPES[name]
    if path.length == 0.0:
        with pytest.raises(ValueError, match="no direction"):
            tangent_at(path, 0.0)
        return
    s = np.linspace(0, path.length, 41)
    found = tangent_at(path, s)
    assert np.hypot(found[:, 0], found[:, 1]) == pytest.approx(np.ones(41), abs=1e-12)
    step = 1e-6 * path.length
    inside = (s > 2 * step) & (s < path.length - 2 * step)
    ahead = point_at(path, s[inside] + step) - point_at(path, s[inside])
    along = np.sum(ahead * found[inside], axis=1)
    # the cusps and joints of the catalogue may fall on one of the places
    assert np.mean(along > 0.999 * step) > 0.9
    if name != "near cusp":  # which turns through half a turn within a step
        assert np.all(along > -1e-9 * size(path))


@every_shape
def test_curvature_is_a_number_or_says_infinite(path):
    assert not np.any(np.isnan(curvature_at(path, np.linspace(0, path.length, 41))))


@every_shape
def test_closest_point_beats_every_sampled_point(path):
    rng = np.random.default_rng(5)
    low, high = bounds(path)[:2], bounds(path)[2:]
    reach = max(float((high - low).max()), 1e-9)
    q = low - reach + (high - low + 2 * reach) * rng.random((60, 2))
    found = closest(path, q)
    samples = dense(path, 301)
    sampled = np.hypot(*(q[:, None] - samples[None]).transpose(2, 0, 1)).min(axis=1)
    assert np.all(found.distance <= sampled + 1e-13 * size(path))
    assert np.hypot(*(q - found.point).T) == pytest.approx(found.distance, rel=1e-12, abs=1e-13 * size(path))
    assert point_at(path, found.along) == pytest.approx(found.point, abs=1e-9 + 1e-12 * size(path))


@every_shape
def test_a_point_of_the_path_is_its_own_closest_point(path):
    on = point_at(path, np.linspace(0, path.length, 23))
    assert closest(path, on).distance.max() <= 1e-12 * (1.0 + size(path))


@every_shape
def test_bounds_hold_the_path_and_are_touched_by_it(path):
    box, points = bounds(path), dense(path)
    slack = 1e-12 * size(path)
    assert np.all(points >= box[:2] - slack)
    assert np.all(points <= box[2:] + slack)
    assert points.min(axis=0) == pytest.approx(box[:2], abs=1e-6 * size(path))
    assert points.max(axis=0) == pytest.approx(box[2:], abs=1e-6 * size(path))


@every_shape
def test_area_agrees_with_a_fine_polygon(path):
    x, y = (dense(path) - path.start).T
    polygon = 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    assert area(path) == pytest.approx(polygon, rel=1e-6, abs=1e-6 * float(np.ptp(dense(path)) ** 2))


@every_shape
def test_travel_the_other_way_changes_the_signs_only(path):
    back = path.reversed()
    assert back.length == pytest.approx(path.length, rel=1e-12)
    assert area(back) == pytest.approx(-area(path), rel=1e-9, abs=1e-9 * size(path))
    assert bounds(back) == pytest.approx(bounds(path), abs=1e-12 * size(path))
    assert np.array_equal(back.reversed().segments, path.segments)
    assert np.array_equal(path.mirrored().mirrored().segments, path.segments)
    assert area(path.mirrored()) == pytest.approx(-area(path), rel=1e-9, abs=1e-9 * size(path))


# the three left out turn straight back, which is half a turn to either side: see test_measure
@pytest.mark.parametrize("name", sorted(SHAPES.keys() - {"cusp", "line doubling back", "there and back"}))
def test_turning_agrees_with_a_fine_polygon(name):
    path = SHAPES[name]
    points = dense(path, 20001)
    step = np.diff(points, axis=0)
    # chords near a vanishing derivative are too short to have a direction
    step = step[np.hypot(step[:, 0], step[:, 1]) > 1e-9 * np.ptp(points)] if path.length else step[:0]
    if path.closed:
        step = np.concatenate([step, step[:1]])
    angle = np.arctan2(
        step[:-1, 0] * step[1:, 1] - step[:-1, 1] * step[1:, 0], np.sum(step[:-1] * step[1:], axis=1)
    )
    assert turning(path) == pytest.approx(float(angle.sum()), abs=2e-3)


@every_shape
@pytest.mark.parametrize("tolerance", [1.0, 0.1, 0.01])
def test_flattening_keeps_its_word_both_ways(path, tolerance):
    tolerance *= max(size(path) / 1000.0, 1e-3)
    polygon = Path.polyline(flatten(path, tolerance))
    assert closest(polygon, dense(path, 301)).distance.max() <= tolerance * (1 + 1e-9) + 1e-12 * size(path)
    assert closest(path, dense(polygon, 21)).distance.max() <= tolerance * (1 + 1e-9) + 1e-12 * size(path)


@every_name
def test_self_crossings_are_those_that_there_are(name):
    path = SHAPES[name]
    found = self_crossings(path, closed=path.closed)
    assert bool(found) == (name in MEETING_ITSELF)
    for one in found:
        assert one.along_a < one.along_b
        assert point_at(path, [one.along_a, one.along_b]) == pytest.approx(
            np.stack([one.point] * 2), abs=1e-6
        )


@every_name
def test_a_path_meets_itself_and_a_line_through_it(name):
    path = SHAPES[name]
    middle = point_at(path, 0.4 * path.length)
    aslant = np.array([0.37, 1.31])
    across = Path.line(middle - aslant, middle + aslant)
    found = crossings(path, across)
    assert found
    assert min(abs(one.along_a - 0.4 * path.length) for one in found) < 1e-6
    for one in found:
        assert point_at(path, one.along_a) == pytest.approx(one.point, abs=2e-6)
        assert point_at(across, one.along_b) == pytest.approx(one.point, abs=2e-6)


@every_name
@pytest.mark.parametrize("distance", [-100.0, -25.0, -6.0, -0.5, 0.0, 0.5, 6.0, 25.0, 100.0])
def test_offset_keeps_its_distance_or_says_why_not(name, distance):
    path = SHAPES[name]
    try:
        found = offset(path, distance)
    except OffsetError as refusal:
        words = str(refusal)
    else:
        words = ""
    if path.length == 0.0:
        assert "no length" in words
        return
    if name in MEETING_ITSELF and distance != 0.0:
        assert "meets itself" in words
        return
    if words:
        # the parallel may vanish only on a side to which the path turns, or runs close to itself
        assert "keeps its distance" in words
        assert abs(distance) > 5.0 or name in {"tiny", "needle"}
        return
    if distance == 0.0:
        assert found is path
        return
    away = closest(path, dense(found, 201)).distance
    slack = 1e-9 * size(path)
    assert away.min() >= abs(distance) - 0.01 - slack
    assert away.max() <= 3.0 * abs(distance) / np.cos(np.pi / 4) + 0.01 + slack
    assert np.array_equal(found.segments[1:, 0], found.segments[:-1, 3])
    assert not self_crossings(found, closed=found.closed)


@every_name
def test_extensions_run_straight_on(name):
    path = SHAPES[name]
    if path.length == 0.0:
        with pytest.raises(OffsetError, match="no direction"):
            extend(path, 1.0, 1.0)
        return
    longer = extend(path, 3.0, 4.0)
    assert longer.length == pytest.approx(path.length + 7.0, rel=1e-12)
    assert tangent_at(longer, 0.0) == pytest.approx(tangent_at(path, 0.0), abs=1e-9)
    assert tangent_at(longer, longer.length) == pytest.approx(tangent_at(path, path.length), abs=1e-9)
    assert extend(path).segments == pytest.approx(path.segments)


@every_shape
def test_fit_follows_points_of_the_path_or_says_why_not(path):
    points = point_at(path, np.linspace(0, path.length, 60))
    tolerance = 0.002 * size(path)
    try:
        found = fit(points, tolerance)
    except FitError as refusal:
        words = str(refusal)
    else:
        words = ""
    if words:
        assert "different points" in words or "no smooth curve" in words
        return
    assert found.largest_mm <= tolerance
    assert closest(found.path, points).distance.max() == pytest.approx(found.largest_mm)
    assert found.rms_mm <= found.largest_mm

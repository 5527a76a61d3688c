"""Parallels: distance kept, tolerance kept, corners, loops left out, refusals."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from likesewn.geometry import (
    OffsetError,
    Path,
    bezier,
    bounds,
    closest,
    extend,
    offset,
    parallel,
    point_at,
    self_crossings,
    tangent_at,
    turning,
)
from shapes import ARMHOLE, SHAPES, arc, circle, cubic, quarter


def even(path, count=400):
    return point_at(path, np.linspace(0.0, path.length, count))


def exact(path, distance, count=101):
    """The exact parallel, point by point."""
    t = np.linspace(0.0, 1.0, count)
    points = bezier.position(path.segments[:, None], t)
    tangents = bezier.tangent(path.segments[:, None], t)
    outward = np.stack([tangents[..., 1], -tangents[..., 0]], axis=-1)
    return (points + distance * outward).reshape(-1, 2)


def test_positive_is_outward_of_a_piece():
    piece = Path.polyline([(0, 0), (30, 0), (30, 40), (0, 40), (0, 0)])
    assert bounds(offset(piece, 5.0)) == pytest.approx([-5, -5, 35, 45])
    assert bounds(offset(piece, -5.0)) == pytest.approx([5, 5, 25, 35])
    assert offset(Path.line((0, 0), (30, 0)), 5.0).start == pytest.approx([0, -5])


@pytest.mark.parametrize("tolerance", [1.0, 0.1, 0.01, 1e-3, 1e-4, 1e-5, 1e-6])
@pytest.mark.parametrize("distance", [-60.0, -10.0, 10.0, 18.0])
@pytest.mark.parametrize("path", [quarter(), ARMHOLE, SHAPES["inflection"], SHAPES["arch"]])
def test_the_exact_parallel_lies_within_the_tolerance(path, distance, tolerance):
    found = offset(path, distance, tolerance)
    away = closest(path, even(found)).distance - abs(distance)
    assert np.abs(away).max() <= tolerance
    wanted = exact(path, distance)
    kept = closest(path, wanted).distance >= abs(distance) - 1e-9
    inner = np.abs(closest(found, wanted[kept]).distance)
    assert inner.max() <= tolerance + 1e-12


def test_the_number_of_cubics_grows_as_the_sixth_root():
    # six orders of magnitude in tolerance cost about a factor of ten
    counts = [len(offset(ARMHOLE, 10.0, tolerance).segments) for tolerance in (1e-2, 1e-5, 1e-8)]
    assert counts[0] <= 4
    assert counts[2] <= 16 * counts[0]


@settings(derandomize=True, deadline=None, max_examples=60)
@given(
    st.tuples(
        st.tuples(st.floats(-10, 110), st.floats(-47, 73)), st.tuples(st.floats(40, 160), st.floats(-33, 87))
    ),
    st.floats(0.2, 100.0),
    st.booleans(),
)
@example(handles=((0.125, 0.0), (123.0, -9.0)), distance=42.0, inner=True)
@example(handles=((0.25, 0.0), (40.0, -7.0)), distance=10.0, inner=True)
def test_distance_holds_on_edges_of_any_shape(handles, distance, inner):
    # ends at (0, 0) and (150, 40), handles anywhere about the thirds
    path = cubic((0, 0), handles[0], handles[1], (150, 40))
    signed = -distance if inner else distance
    try:
        found = offset(path, signed)
    except OffsetError:
        # only where the path meets itself, or the exact parallel keeps its distance nowhere
        good = closest(path, exact(path, signed)).distance >= distance - 1e-6
        assert self_crossings(path) or np.mean(good) < 0.1
        return
    away = closest(path, even(found)).distance
    assert away.min() >= distance - 0.01 - 1e-9  # an end may be cut just at the tolerance
    assert away.max() <= distance + 0.01 or len(self_crossings(path)) == 0
    assert not self_crossings(found, closed=found.closed)
    # nothing that could be kept is lost: every exact point far enough from the path has a place
    wanted = exact(path, signed)
    kept = wanted[closest(path, wanted).distance >= distance - 1e-9]
    missed = closest(found, kept).distance > 0.011
    assert np.mean(missed) < 0.02 if len(kept) else True


def test_there_and_back_again():
    for distance in (3.0, 10.0, 30.0):
        back = offset(offset(ARMHOLE, -distance, 1e-4), distance, 1e-4)
        assert closest(ARMHOLE, even(back)).distance.max() < 1e-3
        assert back.start == pytest.approx(ARMHOLE.start, abs=1e-3)
        assert back.end == pytest.approx(ARMHOLE.end, abs=1e-3)


def test_ends_and_end_tangents_are_exact():
    found = offset(ARMHOLE, 12.0)
    for s, t in ((0.0, 0.0), (ARMHOLE.length, found.length)):
        tangent = tangent_at(ARMHOLE, s)
        outward = np.array([tangent[1], -tangent[0]])
        assert point_at(found, t) == pytest.approx(point_at(ARMHOLE, s) + 12.0 * outward, abs=1e-9)
        assert tangent_at(found, t) == pytest.approx(tangent, abs=1e-9)


def test_smooth_joints_stay_smooth():
    found = offset(extend(ARMHOLE, 0, 40), 10.0)
    ends, starts = bezier.end_tangents(found.segments[:-1])[1], bezier.end_tangents(found.segments[1:])[0]
    cross = ends[:, 0] * starts[:, 1] - ends[:, 1] * starts[:, 0]
    assert np.abs(cross).max() < 1e-6
    assert found.straight[-1]


@pytest.mark.parametrize("scale", [1e-3, 1.0, 1e3])
def test_scaling_everything_scales_the_parallel(scale):
    small, large = offset(ARMHOLE, -20.0), offset(Path(ARMHOLE.segments * scale), -20.0 * scale, 0.01 * scale)
    assert large.segments == pytest.approx(small.segments * scale, rel=1e-6, abs=1e-6 * scale)


@pytest.mark.parametrize("path", SHAPES.values(), ids=SHAPES.keys())
@pytest.mark.parametrize("distance", [-10.0, 10.0])
def test_mirrored_paths_have_mirrored_parallels(path, distance):
    def drawn(one, by):
        try:
            return offset(one, by)
        except OffsetError:
            return None

    found, mirrored = drawn(path, distance), drawn(path.mirrored(), -distance)
    assert (found is None) == (mirrored is None)
    if found is not None and mirrored is not None:
        assert mirrored.length == pytest.approx(found.length, rel=1e-6)
        assert closest(found, even(mirrored.mirrored(), 60)).distance.max() < 0.01


def test_corners_open_mitred_and_close_trimmed():
    corner = Path.polyline([(0, 0), (100, 0), (100, 80)])
    assert offset(corner, 10.0).segments[:, 3] == pytest.approx(np.array([(110, -10), (110, 80)]))
    assert offset(corner, -10.0).segments[:, 3] == pytest.approx(np.array([(90, 10), (90, 80)]))
    assert offset(corner, 10.0).straight.all()
    assert offset(corner, -10.0).straight.all()


@pytest.mark.parametrize("limit", [1.0, 2.0, 3.0])
def test_a_long_mitre_is_squared_off_at_its_limit(limit):
    needle = Path.polyline([(0, 0), (100, 0), (0, 10)])
    found = offset(needle, 6.0, mitre_limit=limit)
    far = np.hypot(*(even(found, 2000) - (100, 0)).T)
    beyond = even(found, 2000)[:, 0] - 100.0
    assert beyond.max() == pytest.approx(limit * 6.0, rel=0.06)
    assert closest(needle, even(found)).distance.min() >= 6.0 - 1e-6
    assert far.min() >= 6.0 - 1e-6


def test_a_short_step_is_swallowed_whole():
    step = Path.polyline([(0, 0), (100, 0), (100, -5), (200, -5)])
    found = offset(step, 30.0)
    assert found.start == pytest.approx([0, -30])
    assert found.end == pytest.approx([200, -35])
    assert closest(step, even(found)).distance.min() >= 30.0 - 0.01
    assert not self_crossings(found)


def test_a_notch_narrower_than_twice_the_distance_closes():
    notch = Path.polyline([(0, 0), (50, 0), (50, 40), (62, 40), (62, 0), (120, 0)])
    found = offset(notch, -8.0) if turning(notch) > 1 else offset(notch, 8.0)
    assert not self_crossings(found)
    assert closest(notch, even(found)).distance.min() >= 8.0 - 0.01
    # the walk passes over the notch in one go, dipping a little into its mouth
    assert even(found)[:, 1].max() < 0.0


def test_the_swallowed_tip_of_an_arch_turns_one_corner():
    arch = SHAPES["arch"]
    found = offset(arch, 15.0)
    tangents = bezier.end_tangents(found.segments)
    bend = tangents[1][:-1, 0] * tangents[0][1:, 1] - tangents[1][:-1, 1] * tangents[0][1:, 0]
    assert np.sum(np.abs(bend) > 1e-3) == 1
    corner = found.segments[np.argmax(np.abs(bend)), 3]
    assert corner[0] == pytest.approx(20.0, abs=0.01)  # on the arch's axis
    assert closest(arch, corner).distance[0] == pytest.approx(15.0, abs=0.01)


def test_a_closed_path_gives_a_closed_parallel():
    for distance in (10.0, -10.0, -60.0, -99.0):
        found = offset(circle(), distance)
        assert found.closed
        assert np.hypot(*even(found).T) == pytest.approx(np.full(400, 100.0 + distance), abs=0.04)


def test_of_two_rooms_the_longer_parallel_is_given():
    hourglass = Path.polyline([(0, 0), (60, 0), (33, 50), (80, 120), (-20, 120), (27, 50), (0, 0)])
    found = offset(hourglass, -8.0)
    assert found.closed
    assert bounds(found)[1] > 50.0
    assert closest(hourglass, even(found)).distance.min() >= 8.0 - 0.01


def test_distance_nought_is_the_path_itself():
    assert offset(ARMHOLE, 0.0) is ARMHOLE


@pytest.mark.parametrize(
    ("path", "distance", "words"),
    [
        (circle(), -120.0, "leaves nothing"),
        (quarter(), -101.0, "leaves nothing"),
        (SHAPES["loop"], 5.0, "meets itself"),
        (SHAPES["no length"], 5.0, "no length"),
        (quarter(), np.nan, "finite distance"),
    ],
)
def test_what_cannot_be_is_refused_in_words(path, distance, words):
    with pytest.raises(OffsetError, match=words):
        offset(path, distance)


@pytest.mark.parametrize(("start", "end"), [(-1.0, 0.0), (0.0, np.inf)])
def test_extensions_need_a_length(start, end):
    with pytest.raises(OffsetError, match="0 mm or more"):
        extend(quarter(), start, end)


@pytest.mark.parametrize("radius", [4.0, 20.0, 150.0])
@pytest.mark.parametrize("angle", [0.5, 2.0, 4.0])
def test_an_open_arc_changes_length_by_its_angle(radius, angle):
    path = arc(radius, angle, 24)
    for distance in (0.5 * radius, -0.5 * radius, 3.0 * radius):
        found = offset(path, distance, 1e-5)
        assert found.length == pytest.approx(angle * (radius + distance), abs=1e-4)


def wandering(rng):
    """A path of one to three cubics that turn at random, sometimes with a corner between them."""
    at, angle, segments = np.zeros(2), 0.0, []
    for _ in range(rng.integers(1, 4)):
        size, turned = rng.uniform(15, 150), angle + 1.2 * rng.normal()
        middle = 0.5 * (angle + turned)
        end = at + size * np.array([np.cos(middle), np.sin(middle)])
        first = at + size * rng.uniform(0.1, 0.6) * np.array([np.cos(angle), np.sin(angle)])
        last = end - size * rng.uniform(0.1, 0.6) * np.array([np.cos(turned), np.sin(turned)])
        segments.append([at, first, last, end])
        at, angle = end, turned + (0.8 * rng.normal() if rng.random() < 0.2 else 0.0)
    return Path(np.array(segments))


@pytest.mark.parametrize("seed", range(80))
def test_whatever_the_edge_the_parallel_is_clean_or_refused(seed):
    rng = np.random.default_rng(seed)
    path, distance = wandering(rng), float(rng.choice([-1, 1]) * rng.uniform(0.5, 100.0))
    try:
        found = offset(path, distance)
    except OffsetError:
        # refused only where most of the exact parallel comes too near to the path
        near = closest(path, exact(path, distance)).distance < abs(distance) - 1e-6
        assert self_crossings(path) or np.mean(near) > 0.8
        return
    assert not self_crossings(found, closed=found.closed)
    assert closest(path, even(found)).distance.min() >= abs(distance) - 0.01 - 1e-9
    assert np.array_equal(found.segments[1:, 0], found.segments[:-1, 3])
    wanted = exact(path, distance)
    kept = wanted[closest(path, wanted).distance >= abs(distance) - 1e-9]
    assert np.mean(closest(found, kept).distance > 0.011) < 0.1


def test_a_handle_shorter_than_anything_seen_does_not_multiply(monkeypatch):
    # the last handle is a millionth of a millimetre long and points aside: halving never smooths that turn
    path = cubic(
        (17.014, 69.246), (21.099, 114.872), (23.955975249, 182.505679405), (23.9559755, 182.505679398)
    )
    fit = parallel._fit

    def few(parts, distance):
        assert len(parts) < 100
        return fit(parts, distance)

    monkeypatch.setattr(parallel, "_fit", few)
    found = offset(path, 10.0)
    assert closest(path, even(found)).distance.min() >= 10.0 - 0.01 - 1e-9
    wanted = exact(path, 10.0)
    kept = wanted[closest(path, wanted).distance >= 10.0 - 1e-9]
    assert np.mean(closest(found, kept).distance > 0.011) < 0.1

"""Smooth paths through noisy points: tolerance reached, few segments, ends, refusals."""

import numpy as np
import pytest

from likesewn.geometry import FitError, Path, bezier, closest, fit, offset, point_at, tangent_at
from shapes import ARMHOLE, arc, quarter


def noisy(path, sigma, count=120, seed=3):
    rng = np.random.default_rng(seed)
    return point_at(path, np.linspace(0, path.length, count)) + sigma * rng.normal(size=(count, 2))


@pytest.mark.parametrize("tolerance", [3.0, 0.3, 0.03, 3e-3])
@pytest.mark.parametrize("path", [quarter(), ARMHOLE, arc(80.0, 4.0), offset(ARMHOLE, -10.0)])
def test_exact_points_are_met_within_the_tolerance(path, tolerance):
    points = noisy(path, 0.0)
    found = fit(points, tolerance)
    distance = closest(found.path, points).distance
    assert distance.max() == pytest.approx(found.largest_mm)
    assert np.sqrt(np.mean(distance**2)) == pytest.approx(found.rms_mm)
    assert found.largest_mm <= tolerance
    assert len(found.path.segments) <= 12


def test_one_cubic_is_recognised_as_one():
    assert len(fit(noisy(quarter(), 0.0), 1e-2).path.segments) == 1


@pytest.mark.parametrize("sigma", [0.3, 1.0])
@pytest.mark.parametrize("seed", range(5))
def test_noise_is_smoothed_not_followed(sigma, seed):
    # few segments rather than the nearest: the path is about as far from the truth as a point is, no more
    points = noisy(ARMHOLE, sigma, seed=seed)
    found = fit(points, 4.0 * sigma)
    assert len(found.path.segments) <= 4
    inside = np.linspace(0.03, 0.97, 60) * found.path.length
    off = closest(ARMHOLE, point_at(found.path, inside)).distance
    assert np.sqrt(np.mean(off**2)) < 1.5 * sigma


def test_joints_are_smooth():
    path = fit(noisy(arc(80.0, 5.0), 0.2), 1.0).path
    ends, starts = bezier.end_tangents(path.segments[:-1])[1], bezier.end_tangents(path.segments[1:])[0]
    assert len(path.segments) > 1
    assert np.abs(ends[:, 0] * starts[:, 1] - ends[:, 1] * starts[:, 0]).max() < 1e-9
    assert np.array_equal(path.segments[1:, 0], path.segments[:-1, 3])


def test_end_tangents_and_end_points_are_kept():
    points = noisy(quarter(), 0.5)
    path = fit(points, 3.0, start_tangent=(0, 5), end_tangent=(-2, 0), hold_ends=True).path
    assert tangent_at(path, 0.0) == pytest.approx([0, 1])
    assert tangent_at(path, path.length) == pytest.approx([-1, 0])
    assert path.start == pytest.approx(points[0])
    assert path.end == pytest.approx(points[-1])


def test_a_tangent_that_points_backwards_is_followed_but_turns_no_cusp_far_out():
    path = fit(noisy(Path.line((0, 0), (100, 0)), 0.0), 5.0, start_tangent=(-1, 0.2)).path
    assert tangent_at(path, 0.0) == pytest.approx(np.array([-1, 0.2]) / np.hypot(1, 0.2))
    assert point_at(path, np.linspace(0, path.length, 50))[:, 0].min() > -5.0


@pytest.mark.parametrize(
    ("points", "words"),
    [
        ([], "0 were given"),
        ([(0, 0), (1, 1)], "2 were given"),
        ([(0, 0)] * 9, "1 were given"),
        ([(0, 0), (1, 1), (2, np.nan), (3, 3)], "finite pairs"),
        ([(0, 0, 0)] * 5, "finite pairs"),
    ],
)
def test_too_few_or_odd_points_are_refused_with_the_reason(points, words):
    with pytest.raises(FitError, match=words):
        fit(points, 1.0)


def test_a_corner_is_refused_with_the_reason():
    rng = np.random.default_rng(1)
    corner = Path.polyline([(0, 0), (100, 0), (100, 100)])
    points = point_at(corner, np.sort(rng.uniform(0, 200, 60)))
    with pytest.raises(FitError, match="look for a corner"):
        fit(np.concatenate([points, [(500, 500), (100, 101)]]), 1e-3)


def test_senseless_values_are_refused():
    points = noisy(quarter(), 0.0)
    with pytest.raises(FitError, match="more than 0 mm"):
        fit(points, 0.0)
    with pytest.raises(FitError, match="start tangent"):
        fit(points, 1.0, start_tangent=(0, 0))

"""The plane: there and back, layers of cloth, and its error map."""

import numpy as np
import pytest

from likesewn.photo.adjust import turn_of
from likesewn.photo.camera import Camera
from likesewn.photo.plane import Plane
from likesewn.photo.thickness import default_thickness

LENS = Camera(4000, 3000, 2900.0, 2005.0, 1490.0, 0.05, -0.02, 0.0005, -0.0004)
GRID = np.stack(np.meshgrid(np.linspace(-450, 450, 7), np.linspace(-350, 350, 7)), axis=-1).reshape(-1, 2)


def _plane(covariance=None):
    covariance = np.zeros((13, 13)) if covariance is None else covariance
    rotation = turn_of(np.array([0.3, -0.1, 0.2]))
    return Plane(LENS, rotation, np.array([20.0, -30.0, 1600.0]), covariance, covariance, GRID)


@pytest.mark.parametrize("height", [0.0, 3.0])
def test_there_and_back(height):
    plane = _plane().raised(height)
    np.testing.assert_allclose(plane.to_plane(plane.to_photo(GRID)), GRID, atol=1e-8)


def test_thickness_ignored_shifts_what_is_seen_outward():
    """By similar triangles: a point h above the table, seen from height H, is read off too large by h / H."""
    plane = Plane(
        Camera(4000, 3000, 2900.0, 2000.0, 1500.0),
        np.eye(3),
        np.array([0.0, 0.0, 1500.0]),
        np.zeros((13, 13)),
        np.zeros((13, 13)),
        GRID,
    )
    read = plane.to_plane(plane.raised(3.0).to_photo(GRID))
    np.testing.assert_allclose(read, GRID * 1500.0 / 1497.0, atol=1e-9)
    assert plane.distance_mm == pytest.approx(1500.0)
    assert plane.tilt_degrees == pytest.approx(0.0)


def test_pixels_past_the_horizon_have_no_place():
    plane = Plane(
        Camera(4000, 3000, 2900.0, 2000.0, 1500.0),
        turn_of(np.array([1.4, 0.0, 0.0])),
        np.array([0.0, 0.0, 1500.0]),
        np.zeros((13, 13)),
        np.zeros((13, 13)),
        GRID,
    )
    both = plane.to_plane(np.array([(2000.0, 1500.0), (2000.0, 0.0), (2000.0, 2999.0)]))
    assert np.isfinite(both[0]).all()
    assert np.isnan(both).any()


def test_an_uncertain_shift_or_turn_of_the_whole_is_no_error():
    covariance = np.zeros((13, 13))
    by = np.zeros((3, 13))  # shifts along the table's axes, and a turn about its normal at the origin
    plane = _plane()
    by[0, 10:], by[1, 10:] = plane.rotation[:, 0], plane.rotation[:, 1]
    by[2, 7:10] = plane.rotation[:, 2]
    covariance += by.T @ np.diag([25.0, 9.0, 1e-4]) @ by
    assert _plane(covariance).sigma(GRID).max() < 1e-6


def test_an_uncertain_focal_length_agrees_with_a_second_camera():
    covariance = np.zeros((13, 13))
    covariance[0, 0] = 0.01**2
    sigma = _plane(covariance).sigma(GRID)
    plane = _plane()
    vector = LENS.vector + np.array([0.0001, 0, 0, 0, 0, 0, 0])
    other = Plane(LENS.with_vector(vector), plane.rotation, plane.translation, covariance, covariance, GRID)
    moved = other.to_plane(plane.to_photo(GRID))
    a, b = moved - moved.mean(axis=0), GRID - GRID.mean(axis=0)
    u, _, v = np.linalg.svd(a.T @ b)
    off = np.linalg.norm(a @ u @ v - b, axis=1) * 100.0 / np.sqrt(2.0)
    np.testing.assert_allclose(sigma, off, rtol=0.02, atol=0.02)


def test_uncertain_thickness_grows_with_the_distance_from_below_the_camera():
    plane = _plane().raised(3.0, 1.0)
    sigma = plane.sigma(GRID)
    assert 0.05 < sigma.max() < 1.0
    assert sigma.max() > 3.0 * sigma.min()


def test_uncertain_thickness_moves_an_edge_across_itself_or_along():
    """An edge that points at the place below the camera slides along itself; one square to it moves out."""
    straight_down = Plane(
        Camera(4000, 3000, 2900.0, 2000.0, 1500.0),
        np.eye(3),
        np.array([0.0, 0.0, 1500.0]),
        np.zeros((13, 13)),
        np.zeros((13, 13)),
        GRID,
    ).raised(0.0, 1.5)
    top, side = np.linspace((-2, -300), (2, -300), 5), np.linspace((300, -2), (300, 2), 5)
    cross = np.linspace((200, 0), (300, 0), 5)  # runs outward
    square = np.concatenate([top, side])
    assert straight_down.sigma_across(square)[[2, 7]] == pytest.approx(300 * 1.5 / 1500.0, rel=0.01)
    assert straight_down.sigma_across(cross)[1:-1] == pytest.approx(0.0, abs=1e-9)
    both = np.trace(straight_down.covariance_at(square), axis1=1, axis2=2)
    np.testing.assert_allclose(straight_down.sigma(square) ** 2, both / 2)


def test_cloth_nobody_measured_has_a_usual_thickness():
    knit, woven, unknown = (default_thickness(c) for c in ("knit", "woven", "felt"))
    assert woven[0] < knit[0]
    assert all(0.0 < sigma < height for height, sigma in (knit, woven))
    assert unknown == default_thickness()
    assert unknown[0] - 2.0 * unknown[1] < woven[0] < knit[0] < unknown[0] + 2.0 * unknown[1]

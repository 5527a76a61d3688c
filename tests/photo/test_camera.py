"""The lens: its derivatives, and that rays and projection undo each other."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.photo.camera import CAMERA_TERMS, Camera

LENS = Camera(4000, 3000, 2900.0, 2010.0, 1480.0, 0.09, -0.06, 0.0008, -0.0011)


def _points(seed, count=40):
    rng = np.random.default_rng(seed)
    return np.column_stack([rng.uniform(-0.6, 0.6, (count, 2)), np.ones(count)]) * rng.uniform(
        900, 2000, (count, 1)
    )


def test_derivatives_by_the_point_agree_with_differences():
    points = _points(1)
    _, by_point, _ = LENS.project_with_derivatives(points)
    for axis in range(3):
        step = np.zeros(3)
        step[axis] = 1e-3
        difference = (LENS.project(points + step) - LENS.project(points - step)) / 2e-3
        np.testing.assert_allclose(by_point[:, :, axis], difference, atol=1e-6)


def test_derivatives_by_the_parameters_agree_with_differences():
    points = _points(2)
    _, _, by_camera = LENS.project_with_derivatives(points)
    for term in range(len(CAMERA_TERMS)):
        size = 1e-6
        step = np.zeros(7)
        step[term] = size
        ahead = LENS.with_vector(LENS.vector + step).project(points)
        behind = LENS.with_vector(LENS.vector - step).project(points)
        np.testing.assert_allclose(by_camera[:, :, term], (ahead - behind) / (2 * size), atol=2e-3, rtol=1e-6)


@settings(deadline=None, max_examples=30, derandomize=True)
@given(
    st.floats(-0.15, 0.2),
    st.floats(-0.1, 0.1),
    st.floats(-0.002, 0.002),
    st.floats(-0.002, 0.002),
    st.floats(0.5, 2.0),
)
def test_rays_undo_projection_all_over_the_picture(k1, k2, p1, p2, share):
    lens = Camera(4000, 3000, share * 4000.0, 1990.0, 1510.0, k1, k2, p1, p2)
    half = 2000.0 / lens.f
    grid = np.stack(np.meshgrid(np.linspace(-half, half, 9), np.linspace(-half, half, 9)), axis=-1).reshape(
        -1, 2
    )
    # a barrel this strong folds over outside a wide lens's picture; no point out there has one ray
    grid = grid[np.sum(grid**2, axis=1) < (1.0 if k1 > -0.05 and k2 > -0.05 else 0.5)]
    px = lens.project(np.column_stack([grid, np.ones(len(grid))]))
    np.testing.assert_allclose(lens.rays(px), grid, atol=1e-9)


def test_the_vector_gives_the_camera_back():
    again = LENS.with_vector(LENS.vector)
    assert again.f == pytest.approx(LENS.f, rel=1e-14)
    assert (again.cx, again.cy, again.k1, again.p2) == (LENS.cx, LENS.cy, LENS.k1, LENS.p2)

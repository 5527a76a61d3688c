"""The lens and the adjustment against OpenCV, which shares no code with them.

Reference: OpenCV 5.0, ``cv2.projectPoints`` and ``cv2.calibrateCamera`` (Zhang's method with
Levenberg-Marquardt), as its documentation, "Camera Calibration and 3D Reconstruction", describes them.
"""

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from likesewn.photo.adjust import Priors, turn_of
from likesewn.photo.camera import Camera
from likesewn.photo.plane import Plane
from likesewn.photo.sheet import sheet
from likesewn.photo.solve import Reference, solve

GRID = np.stack(np.meshgrid(np.linspace(-500, 500, 9), np.linspace(-400, 400, 9)), axis=-1).reshape(-1, 2)


@settings(deadline=None, max_examples=30, derandomize=True)
@given(
    st.tuples(st.floats(-0.2, 0.2), st.floats(-0.2, 0.2), st.floats(-0.003, 0.003), st.floats(-0.003, 0.003)),
    st.tuples(st.floats(-0.4, 0.4), st.floats(-0.4, 0.4), st.floats(-3, 3)),
    st.floats(2000, 6000),
)
def test_projection_agrees_with_project_points(lens, turn, focal):
    camera = Camera(4000, 3000, focal, 2011.0, 1477.0, *lens)
    rotation, translation = turn_of(np.array(turn)), np.array([10.0, -20.0, 1500.0])
    plane = Plane(camera, rotation, translation, np.zeros((13, 13)), np.zeros((13, 13)), GRID)
    matrix = np.array([[focal, 0.0, 2011.0], [0.0, focal, 1477.0], [0.0, 0.0, 1.0]])
    points = np.column_stack([GRID, np.full(len(GRID), -3.0)])
    theirs, _ = cv2.projectPoints(points, np.array(turn), translation, matrix, np.array(lens))
    np.testing.assert_allclose(plane.raised(3.0).to_photo(GRID), theirs.reshape(-1, 2), atol=1e-6)


@pytest.mark.parametrize("k1", [-0.12, 0.0, 0.15])
def test_a_wide_lens_is_undone_to_where_project_points_came_from(k1):
    camera = Camera(4000, 3000, 2000.0, 1999.5, 1499.5, k1, 0.02, 0.001, -0.001)
    matrix = np.array([[2000.0, 0.0, 1999.5], [0.0, 2000.0, 1499.5], [0.0, 0.0, 1.0]])
    rays = np.column_stack([GRID / 600.0, np.ones(len(GRID))])
    lens = np.array([k1, 0.02, 0.001, -0.001])
    px, _ = cv2.projectPoints(rays, np.zeros(3), np.zeros(3), matrix, lens)
    np.testing.assert_allclose(camera.rays(px.reshape(-1, 2)), rays[:, :2], atol=1e-9)


def test_one_sheet_in_six_photographs_agrees_with_calibrate_camera():
    """Both fit the same noisy corners; with priors too wide to matter they must find one answer."""
    truth = Camera(4000, 3000, 2950.0, 2012.0, 1488.0, 0.05, -0.04, 0.0006, -0.0004)
    rng = np.random.default_rng(11)
    mm = sheet(1).corners
    middle = np.array([90.0, 120.0, 0.0])
    believed = Camera(4000, 3000, 2880.0, 1999.5, 1499.5)
    references, seen = [], []
    for photo in range(6):
        tilt = np.array([*(rng.uniform(-0.6, 0.6, 2)), rng.uniform(-3, 3)])
        rotation = turn_of(tilt)
        aim = np.array([*(rng.uniform(-90, 90, 2)), 420.0])
        px = truth.project((np.column_stack([mm, np.zeros(len(mm))]) - middle) @ rotation.T + aim)
        px += 0.05 * rng.standard_normal(px.shape)
        references.append(Reference(1, photo, mm, px))
        seen.append(px.astype(np.float32))
    wide = Priors(5.0, 5.0, 50.0, 50.0, 50.0, scale_common=1e-9, scale_apart=1e-9)
    ours = solve([believed] * 6, references, wide, focal_noted=True).planes[0].camera
    flat = np.column_stack([mm, np.zeros(len(mm))]).astype(np.float32)
    start = np.array([[2880.0, 0.0, 1999.5], [0.0, 2880.0, 1499.5], [0.0, 0.0, 1.0]])
    flags = cv2.CALIB_FIX_K3 | cv2.CALIB_FIX_ASPECT_RATIO | cv2.CALIB_USE_INTRINSIC_GUESS
    fitted = cv2.calibrateCamera([flat] * 6, seen, (4000, 3000), start, np.zeros(5), flags=flags)
    _, matrix, lens = fitted[:3]
    k1, k2, p1, p2 = np.ravel(lens)[:4]
    theirs = Camera(4000, 3000, matrix[0, 0], matrix[0, 2], matrix[1, 2], k1, k2, p1, p2)
    assert ours.f == pytest.approx(theirs.f, rel=3e-4)
    assert ours.cx == pytest.approx(theirs.cx, abs=1.0)
    assert ours.cy == pytest.approx(theirs.cy, abs=1.0)
    rays = np.column_stack([GRID / 1200.0, np.ones(len(GRID))])
    np.testing.assert_allclose(ours.project(rays), theirs.project(rays), atol=1.0)

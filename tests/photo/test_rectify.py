"""From pixels to millimetres on rendered photographs whose truth is known, and what is said of bad ones."""

from dataclasses import replace

import cv2
import numpy as np
import pytest

from likesewn.photo import Picture, PrintScale, rectify
from photo.printed import snapped
from photo.scene import FOUR, Scene, photograph

GRID = np.stack(np.meshgrid(np.linspace(-450, 450, 7), np.linspace(-350, 350, 6)), axis=-1).reshape(-1, 2)
ANGLES = (3.0, -7.0, 181.0, 10.0)
# a quarter of a phone's pixels, so that the tests stay quick: a pixel is then about 1 mm
SMALL = Scene(
    size=(2000, 1500),
    f=1440.0,
    centre=(1003.0, 746.0),
    distortion=(0.04, -0.03, 0.0004, -0.0003),
    distance=1450.0,
    tilt=12.0,
    tilt_towards=40.0,
    roll=4.0,
    sheets=[(n, x, y, a) for (n, x, y), a in zip(FOUR, ANGLES, strict=True)],
)


def _off(plane, scene, height=0.0, mm=GRID):
    """Errors (n,2) of places read off the plane, after the best shift and turn."""
    found = plane.to_plane(scene.project(mm, height))
    a, b = found - found.mean(axis=0), mm - mm.mean(axis=0)
    u, _, v = np.linalg.svd(a.T @ b)
    return a @ (u @ np.diag([1.0, np.sign(np.linalg.det(u @ v))]) @ v) - b


def _rms(off):
    return float(np.sqrt(np.mean(np.sum(off**2, axis=1))))


def _rectified(scene, **how):
    return rectify([Picture("lay.jpg", photograph(scene, seed=3))], **how)


@pytest.fixture(scope="module")
def picture():
    return photograph(SMALL, seed=3)


def _codes(rgb):
    result = rectify([Picture("lay.jpg", np.ascontiguousarray(rgb))])
    return [finding.code for finding in result.findings[0]], result.planes[0]


def test_four_sheets(picture):
    codes, plane = _codes(picture)
    assert codes == []
    assert [s.number for s in plane.sheets] == [1, 2, 3, 4]
    assert all(s.corners >= 33 for s in plane.sheets)
    off = _off(plane, SMALL)
    assert _rms(off) < 0.12
    sigma = plane.about(GRID).sigma(GRID, print_scale=False)
    assert np.mean(np.abs(off) < 1.96 * sigma[:, None]) > 0.8
    assert plane.tilt_degrees == pytest.approx(12.0, abs=0.5)


def test_places_are_upright_as_the_photograph_shows_them(picture):
    _, plane = _codes(picture)
    middle = np.array([(999.5, 749.5), (1100.0, 749.5), (999.5, 850.0)])
    origin, right, down = plane.to_plane(middle)
    np.testing.assert_allclose(origin, 0.0, atol=1e-6)
    assert right[0] > 50.0
    assert abs(right[1]) < 5.0
    assert down[1] > 50.0


def test_the_papers_outlines_are_where_they_lie(picture):
    _, plane = _codes(picture)
    for found, placed in zip(plane.sheets, SMALL.sheets, strict=True):
        centre = SMALL.project(np.array([placed[1:3]]))
        np.testing.assert_allclose(plane.to_photo(found.outline_mm.mean(axis=0)), centre, atol=0.5)
        np.testing.assert_allclose(plane.to_photo(found.outline_mm), found.outline_px, atol=1e-6)


@pytest.mark.parametrize(("numbers", "limit"), [((1, 4), 0.8), ((1,), 3.0)])
def test_fewer_sheets_are_less_sure_and_say_so(numbers, limit):
    scene = replace(SMALL, sheets=[s for s in SMALL.sheets if s[0] in numbers])
    result = _rectified(scene)
    plane = result.planes[0]
    off = _off(plane, scene)
    assert _rms(off) < limit
    sigma = plane.about(GRID).sigma(GRID, print_scale=False)
    assert sigma.max() > 0.15
    assert np.mean(np.abs(off) < 1.96 * sigma[:, None]) > 0.8
    assert ("one-sheet" in [f.code for f in result.findings[0]]) == (len(numbers) == 1)


def test_two_photographs_share_one_table():
    other = replace(SMALL, tilt=20.0, tilt_towards=200.0, roll=80.0, distance=1650.0)
    result = rectify([Picture(str(i), photograph(s, seed=i)) for i, s in enumerate((SMALL, other))])
    first, second = (
        plane.to_plane(scene.project(GRID))
        for plane, scene in zip(result.planes, (SMALL, other), strict=True)
    )
    assert _rms(first - second) < 0.1
    assert _rms(_off(result.planes[0], SMALL)) < 0.1


def test_a_measured_ruler_corrects_the_print():
    scene = replace(SMALL, print_scale=(0.997, 0.996))
    untold, told = (
        _rectified(scene, print_scale=scale).planes[0]
        for scale in (None, PrintScale.measured(199.2, 199.4, 0.02))
    )
    assert _rms(_off(untold, scene)) > 0.9
    assert _rms(_off(told, scene)) < 0.15
    assert told.sigma(GRID).max() < 0.5 * untold.sigma(GRID).max()


def test_a_ruler_measured_one_way_serves_both():
    scale = PrintScale.measured(199.2)
    assert scale.along == scale.across == pytest.approx(0.996)


def test_thickness_given_is_taken_out(picture):
    _, plane = _codes(picture)
    assert _rms(_off(plane, SMALL, 4.0)) > 0.5
    assert _rms(_off(plane.raised(4.0), SMALL, 4.0)) < 0.12
    raised = plane.raised(3.0, 1.0)
    assert _rms(_off(raised, SMALL, 4.0)) < 0.12 + 0.3
    sigma = raised.about(GRID).sigma(GRID)
    assert np.mean(np.abs(_off(raised, SMALL, 4.0)) < 1.96 * sigma[:, None]) > 0.9


def test_no_sheet():
    codes, plane = _codes(np.full((600, 800, 3), 120, np.uint8))
    assert codes == ["no-sheet"]
    assert plane is None


def test_a_mirrored_picture(picture):
    assert _codes(picture[:, ::-1]) == (["sheet-mirrored"], None)


def test_half_a_sheet(picture):
    cut = picture.copy()
    row = int(SMALL.project(np.array([SMALL.sheets[2][1:3]]))[0, 1])
    cut[row:] = 150
    codes, plane = _codes(cut)
    assert "sheet-cut" in codes
    assert plane.sheets[2].corners < 25


def test_a_sheet_that_lies_there_twice():
    scene = replace(SMALL, sheets=[*SMALL.sheets[:3], (1, 620.0, 430.0, 10.0)])
    result = _rectified(scene)
    assert [f.code for f in result.findings[0]] == ["sheet-doubled"]
    assert _rms(_off(result.planes[0], scene)) < 0.15


def test_a_bent_sheet():
    scene = replace(SMALL, bend=4.0)
    assert "sheet-bent" in [f.code for f in _rectified(scene).findings[0]]


def test_blur(picture):
    assert "blurred" in _codes(cv2.GaussianBlur(picture, (0, 0), 2.0))[0]


def test_glare_and_dark(picture):
    assert set(_codes((picture * 0.2 + 200).astype(np.uint8))[0]) == {"glare"}
    assert set(_codes((picture * 0.2).astype(np.uint8))[0]) == {"dark"}


def test_too_far(picture):
    small = cv2.resize(picture, None, fx=0.55, fy=0.55, interpolation=cv2.INTER_AREA)
    assert "too-far" in _codes(small)[0]


def test_too_oblique():
    scene = replace(SMALL, tilt=36.0, distance=1750.0)
    result = _rectified(scene)
    assert "oblique" in [f.code for f in result.findings[0]]


def test_a_screen(picture):
    y, x = np.mgrid[0:1500, 0:2000]
    beat = 1 + 0.06 * np.sin(0.9 * x + 0.1 * y) + 0.06 * np.sin(0.85 * y - 0.08 * x)
    shown = np.clip(picture * beat[:, :, None], 0, 255).astype(np.uint8)
    assert "screen" in _codes(shown)[0]


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize(("per_mm", "noise"), [(1.4, 1.0), (1.7, 2.5), (2.4, 1.0)])
def test_printed_rulers_are_no_screen(paper, per_mm, noise):
    grey, _ = snapped(paper, per_mm=per_mm, noise=noise)
    rgb = np.repeat(grey[:, :, None], 3, axis=2)
    assert _codes(rgb)[0] == ["one-sheet"]


def test_table_beyond_the_sheets_is_nobodys_worry():
    far = replace(SMALL, distance=1900.0, tilt=25.0, tilt_towards=30.0, noise=12.0)
    codes, plane = _codes(photograph(far, seed=1))
    assert plane.sigma(plane.base, print_scale=False).max() > 0.6
    assert "unsure" not in codes


def test_two_sheets_on_one_side_leave_the_other_unsure():
    side = replace(SMALL, sheets=[(1, -620, -430, 0.0), (2, -620, 0, 0.0)])
    assert _codes(photograph(side, seed=1))[0] == ["unsure"]


def test_a_photograph_of_another_lay():
    other = replace(SMALL, sheets=[(n + 4, *rest) for n, *rest in SMALL.sheets])
    result = rectify([Picture(str(i), photograph(s, seed=i)) for i, s in enumerate((SMALL, other))])
    assert result.planes[0] is not None
    assert result.planes[1] is None
    assert [f.code for f in result.findings[1]] == ["other-lay"]


def test_a_noted_focal_length_that_is_wrong_is_not_believed(picture):
    wrong = rectify([Picture("crop.jpg", picture, focal_px=2600.0)]).planes[0]
    assert wrong.camera.f == pytest.approx(SMALL.f, rel=0.02)
    assert _rms(_off(wrong, SMALL)) < 0.04

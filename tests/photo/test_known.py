"""Paper, a card, a mat and a known length in place of sheets, on a rendered table."""

import numpy as np
import pytest
import shapely

from likesewn.errors import InputError
from likesewn.photo import Picture, known_card, known_length, known_paper, known_points, rectify_known
from likesewn.photo.known import CARD_MM
from photo.scene import Scene, Shape, photograph

GRID = np.stack(np.meshgrid(np.linspace(-400, 400, 6), np.linspace(-300, 300, 5)), axis=-1).reshape(-1, 2)


def _four(wide, high, angle, x, y):
    corners = np.array([(-1, -1), (1, -1), (1, 1), (-1, 1)]) * (wide / 2, high / 2)
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    return corners @ np.array([[c, s], [-s, c]]) + (x, y)


PAPER = _four(210.0, 297.0, 25.0, -150.0, 30.0)
CARD = _four(*CARD_MM, 100.0, 220.0, -60.0)
_ROUND = shapely.Polygon(CARD).buffer(-3.18).buffer(3.18, quad_segs=16).exterior.coords
SCENE = Scene(
    size=(2000, 1500),
    f=1440.0,
    centre=(1001.0, 748.0),
    distortion=(0.02, -0.02, 0.0, 0.0),
    tilt=5.0,
    tilt_towards=70.0,
    distance=1400.0,
    shapes=[Shape(PAPER, (236, 235, 232), 0.5), Shape(np.array(_ROUND)[:-1], (40, 60, 120), 0.5)],
)


@pytest.fixture(scope="module")
def picture():
    return Picture("table.jpg", photograph(SCENE, 5))


def _check(plane, most_mm):
    """The error is below a limit, and stays inside three of the stated sigmas."""
    found = plane.to_plane(SCENE.project(GRID))
    a, b = found - found.mean(axis=0), GRID - GRID.mean(axis=0)
    u, _, v = np.linalg.svd(a.T @ b)
    off = a @ u @ v - b
    assert np.sqrt(np.mean(np.sum(off**2, axis=1))) < most_mm
    assert np.all(np.abs(off) < 3.0 * plane.about(GRID).sigma(GRID)[:, None])
    assert [f.code for f in plane.findings] == ["no-sheet-but-known"]


def _picked(mm, seed, spread=3.0):
    rng = np.random.default_rng(seed)
    return SCENE.project(mm)[rng.permutation(len(mm))] + rng.uniform(-spread, spread, (len(mm), 2))


@pytest.mark.parametrize("seed", range(4))
def test_paper_picked_roughly_in_any_order(picture, seed):
    _check(rectify_known(picture, known_paper(_picked(PAPER, seed))), 4.0)


@pytest.mark.parametrize("seed", range(4))
def test_a_card_with_round_corners(picture, seed):
    plane = rectify_known(picture, known_card(_picked(CARD, seed)))
    _check(plane, 14.0)
    edges = np.linalg.norm(np.diff(plane.to_plane(SCENE.project(CARD)), axis=0), axis=1)
    np.testing.assert_allclose(sorted(edges), (CARD_MM[1], CARD_MM[0], CARD_MM[0]), rtol=0.005)


def test_points_of_a_mat(picture):
    mat = np.array([(x, y) for x in (-350.0, 0.0, 350.0) for y in (-250.0, 0.0, 250.0)])
    px = SCENE.project(mat) + np.random.default_rng(2).normal(0.0, 0.7, mat.shape)
    _check(rectify_known(picture, known_points(px, mat)), 2.0)


def test_a_ruler_gives_a_scale_but_no_tilt(picture):
    places = np.array([(-200.0, 0.0), (0.0, 0.0), (200.0, 0.0)])
    plane = rectify_known(picture, known_points(SCENE.project(places), places))
    _check(plane, 12.0)
    assert plane.about(GRID).sigma(GRID).max() > 2.0


def test_one_measure_of_the_garment(picture):
    ends = np.array([(-260.0, -80.0), (260.0, -80.0)])
    plane = rectify_known(picture, known_length(SCENE.project(ends), 521.0, 3.0, name="chest_width"))
    _check(plane, 12.0)
    assert "chest_width" in plane.findings[0].message


def test_a_length_on_thick_cloth_scales_the_cloth_not_the_table():
    """By similar triangles, seen square on: the cloth's top, not the table, has the length's scale."""
    blank = Picture("x", np.zeros((300, 400, 3), np.uint8))
    ends = [(100.0, 150.0), (300.0, 150.0)]
    plane = rectify_known(blank, known_length(ends, 500.0, 1.0, height_mm=5.0))
    top = plane.raised(5.0).to_plane(np.array(ends))
    assert np.linalg.norm(top[1] - top[0]) == pytest.approx(500.0, abs=0.01)
    table = plane.to_plane(np.array(ends))
    assert np.linalg.norm(table[1] - table[0]) == pytest.approx(
        500.0 * plane.distance_mm / (plane.distance_mm - 5.0), abs=0.01
    )


@pytest.mark.parametrize(
    ("make", "message"),
    [
        (lambda: known_paper([(0, 0), (1, 1)]), "four corners"),
        (lambda: known_paper([(0, 0), (100, 0), (50, 0), (0, 100)]), "four corners"),
        (lambda: known_paper([(0, 0), (9, 0), (9, 9), (0, 9)], "b6"), "not known"),
        (lambda: known_card("words"), "not points"),
        (lambda: known_points([(0, 0)], [(0, 0)]), "no size"),
        (lambda: known_points([(0, 0), (9, 9)], [(5, 5), (5, 5)]), "no size"),
        (lambda: known_length([(0, 0), (1, 0)], 100.0, 1.0), "no size"),
        (lambda: known_length([(0, 0), (100, 0)], -5.0, 1.0), "no size"),
    ],
)
def test_what_gives_no_size_is_refused(make, message):
    with pytest.raises((InputError, ValueError)) as caught:
        make()
    assert message in str(caught.value)


def test_points_outside_the_photograph_are_refused(picture):
    with pytest.raises(InputError, match="not all in the photograph"):
        rectify_known(picture, known_length([(-50.0, 10.0), (3000.0, 10.0)], 500.0, 1.0))

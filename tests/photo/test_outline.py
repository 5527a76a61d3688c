"""Garment against table, and the refined outline."""

import cv2
import numpy as np
import pytest
import shapely

from likesewn.photo.hints import Hint
from likesewn.photo.outline import refine_outline, resampled, rough_outline
from likesewn.photo.segment import DOUBTFUL, segment, segment_otherwise
from photo.drawn import filled, half_pale, overlap, picture, top


def mask_of(found, size=(420, 460)):
    return cv2.resize(found.mask.astype(np.float32), size, interpolation=cv2.INTER_LINEAR) > 0.5


def refined(rgb):
    found = segment(rgb)
    return refine_outline(rgb, rough_outline(found), found.colours)


def on_checks(outline, garment, light=(196, 203, 210), dark=(168, 138, 112), size=(840, 920)):
    """Return a picture of a garment on checked cloth with squares of 22 px."""
    share = picture(outline, size, (255, 255, 255), (0, 0, 0), noise=0.0)[..., :1] / 255.0
    y, x = np.mgrid[: size[1], : size[0]]
    mix = ((y + 5) // 22 % 2 + (x + 3) // 22 % 2)[..., None] / 2.0
    table = cv2.GaussianBlur(mix * np.array(light) + (1.0 - mix) * np.array(dark), (0, 0), 0.8)
    rgb = share * np.array(garment) + (1.0 - share) * table
    noise = np.random.default_rng(6).normal(0, 2.0, rgb.shape)
    return np.clip(np.round(rgb + noise), 0, 255).astype(np.uint8)


def off_the_edge(px, outline):
    """Return how far points are from the true edge, px."""
    return shapely.distance(shapely.points(px), shapely.LinearRing(outline))


@pytest.mark.parametrize(
    "colours",
    [((70, 90, 150), (176, 160, 138)), ((235, 232, 228), (120, 84, 52)), ((40, 38, 42), (205, 190, 182))],
)
def test_a_garment_is_told_from_the_table(colours):
    outline, _ = top()
    found = segment(picture(outline, garment=colours[0], table=colours[1]))
    assert overlap(mask_of(found), filled(outline)) > 0.97
    assert found.score > DOUBTFUL
    assert found.touches == 0.0


def test_the_outline_is_true_to_a_tenth_of_a_pixel_on_smooth_runs():
    angle = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    circle = np.stack([205.3 + 120.2 * np.cos(angle), 228.7 + 120.2 * np.sin(angle)], axis=1)
    rgb = picture(circle, noise=2.0)
    outline = refined(rgb)
    error = np.hypot(*(outline.px - [205.3, 228.7]).T) - 120.2
    assert np.sqrt(np.mean(error**2)) < 0.1
    assert abs(error.mean()) < 0.05
    assert np.median(outline.sigma_px) < 0.5


def test_stripes_nearly_of_the_tables_colour_run_to_the_edge():
    outline, _ = top()
    striped = picture(outline, garment=(58, 44, 60), noise=0.0)
    rows = (np.arange(striped.shape[0]) // 9) % 2 == 0
    light = picture(outline, garment=(204, 190, 172), noise=0.0)
    striped[rows] = light[rows]
    noise = np.random.default_rng(4).normal(0, 5.0, striped.shape[:2])[..., None]
    rgb = np.clip(striped + noise, 0, 255).astype(np.uint8)
    found = refined(rgb)
    # 0.952 where neighbours along the edge alone say what garment looks like
    assert overlap(filled(found.px), filled(outline)) > 0.958


@pytest.mark.parametrize(
    ("garment", "most"), [((207, 204, 198), 1.5), ((202, 203, 204), 2.5), ((200, 203, 206), 4.0)]
)
def test_light_squares_of_a_checked_table_are_not_taken_for_a_nearly_white_garment(garment, most):
    outline, _ = top(1.2, (420.0, 60.0))
    found = refined(on_checks(outline, garment))
    # by what lies beside each place alone: 12 px, a quarter of all points wrong, half of the intervals hold
    off = off_the_edge(found.px, outline)
    assert np.percentile(off, 90) < most
    assert np.mean(off < 1.96 * found.sigma_px) > 0.88


def test_sigma_grows_where_cloth_and_table_share_a_colour():
    outline, _ = top(1.2, (420.0, 60.0))
    found = refined(on_checks(outline, (197, 203, 209)))  # the squares' own colour
    off = off_the_edge(found.px, outline)
    assert np.median(found.sigma_px) > 2.5
    assert np.mean(off < 1.96 * found.sigma_px) > 0.75


def test_a_strong_edge_alone_has_no_rival():
    outline, _ = top(1.2, (420.0, 60.0))
    found = refined(on_checks(outline, (60, 70, 120)))
    assert np.percentile(found.sigma_px, 90) < 1.0


def test_a_label_and_a_hair_are_left_out():
    outline, _ = top()
    rgb = picture(outline)
    cv2.line(rgb, (345, 330), (372, 334), (70, 90, 150), 2)
    cv2.line(rgb, (30, 380), (70, 330), (40, 40, 40), 1)
    found = refined(rgb)
    assert found.px[:, 0][found.px[:, 1] > 315].max() < 342 + 4
    assert overlap(filled(found.px), filled(outline)) > 0.985


def test_what_must_be_kept_out_is():
    outline, _ = top()
    rgb = picture(outline)
    cv2.rectangle(rgb, (330, 250), (400, 350), (250, 250, 250), cv2.FILLED)
    keep_out = np.zeros(rgb.shape[:2], bool)
    keep_out[248:353, 328:403] = True
    assert overlap(mask_of(segment(rgb, keep_out=keep_out)), filled(outline)) > 0.97


def test_a_rectangle_picks_one_of_two_garments():
    left, _ = top(0.3, (100.0, 60.0))
    right, _ = top(0.34, (310.0, 60.0))
    rgb = np.minimum(picture(left), picture(right, seed=4))
    low, high = left.min(axis=0) - 8, left.max(axis=0) + 8
    found = segment(rgb, Hint(rectangle=(*low, *high)))
    assert overlap(mask_of(found), filled(left)) > 0.95


@pytest.mark.parametrize("loose", [2, 15])
def test_a_rectangle_tells_that_a_pale_part_is_missing(loose):
    outline, _ = top()
    rgb = half_pale(outline)
    low, high = outline.min(axis=0) - loose, outline.max(axis=0) + loose
    assert overlap(mask_of(segment(rgb)), filled(outline)) < 0.9  # the strong part alone
    found = segment(rgb, Hint(rectangle=(*low, *high)))
    assert overlap(mask_of(found), filled(outline)) > 0.95


def test_strokes_mend_what_looks_like_the_table():
    outline, _ = top()
    rgb = picture(outline)
    same = filled(outline)
    same[:330] = False
    rgb[same] = (176, 160, 138)  # the lower part is of the table's own colour
    plain = overlap(mask_of(segment(rgb)), filled(outline))
    strokes = tuple(np.array([[x, 320.0], [x, 395.0]]) for x in range(90, 330, 8))
    hinted = overlap(mask_of(segment(rgb, Hint(garment=strokes))), filled(outline))
    assert hinted > plain + 0.05
    assert hinted > 0.95


def test_resampling_keeps_the_first_point_and_the_spacing():
    square = np.array([[0.0, 0.0], [4.0, 0.0], [4.0, 4.0], [0.0, 4.0]])
    points = resampled(square, 16)
    assert points[0].tolist() == [0.0, 0.0]
    assert np.allclose(np.hypot(*np.diff(points, axis=0, append=points[:1]).T), 1.0)


@pytest.mark.parametrize("shape", [(1, 1, 3), (2, 300, 3), (64, 64, 3)])
def test_a_picture_of_nothing_gives_an_outline_and_low_trust(shape):
    found = segment(np.full(shape, 128, np.uint8))
    assert found.score < DOUBTFUL


@pytest.mark.parametrize("value", [0, 128, 255])
def test_a_flat_picture_is_given_grain_before_it_is_cut(value, monkeypatch):
    """Over a picture without any, a covered lens or pure white, OpenCV's graph cut takes minutes."""
    cut, flat = cv2.grabCut, []

    def grab_cut(rgb, *more):
        flat.append((rgb[:, 1:] == rgb[:, :-1]).all(axis=2).mean())
        return cut(rgb, *more)

    monkeypatch.setattr(cv2, "grabCut", grab_cut)
    assert segment(np.full((300, 400, 3), value, np.uint8)).score < DOUBTFUL
    assert flat
    assert max(flat) < 0.6


def test_a_line_that_lies_past_the_picture_still_gives_an_outline():
    rgb = picture(top()[0])[:33, :37]
    line = np.array(
        [[40, 39], [30, 19], [3, -8], [13, 32], [-9, -13], [6, -1], [-15, 0], [20, 2]], dtype=float
    )
    found = segment(rgb, Hint(drawn=line))
    assert len(refine_outline(rgb, rough_outline(found), found.colours).px) >= 3


def test_where_nothing_else_looks_like_a_garment_there_is_no_other_way():
    rgb = picture(top()[0])
    found = segment(rgb)
    other = segment_otherwise(rgb, found)
    assert other is None or overlap(other.mask, found.mask) < 0.9

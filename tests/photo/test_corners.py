"""The kind's corners on an outline, the neckline inside it, gaps and seams."""

import cv2
import numpy as np
import pytest
from scipy.ndimage import gaussian_filter1d

from likesewn.garment import load_kind
from likesewn.garment.silhouette import Dip, Silhouette, SilhouetteCorner
from likesewn.photo.colours import ColourTable
from likesewn.photo.corners import find_corners, middle_line
from likesewn.photo.dip import find_dip
from likesewn.photo.hollows import follow_gap
from likesewn.photo.outline import resampled
from likesewn.photo.reading import Picture
from likesewn.photo.seams import follow_seam
from likesewn.photo.seeds import to_lab
from likesewn.photo.trace import trace
from photo.drawn import picture, top

SILHOUETTE = load_kind("set-in-sleeve-top").silhouette
HEIGHT = 366.0

TROUSERS = Silhouette(
    corners=(
        SilhouetteCorner("waist_side", (75, 20), (0.2, 0.05), (0.02, 0.04)),
        SilhouetteCorner("hem_outer", (75, 20), (0.35, 0.1), (0.95, 0.05), (0.95, 0.1), (11, 8), 0.06),
        SilhouetteCorner("hem_inner", (75, 20), (0.12, 0.05), (0.98, 0.03), (0.25, 0.1), (-85, 10), 0.03),
    ),
    faces=("front",),
    closing_corner="crotch",
)


@pytest.mark.parametrize("degrees", [0.0, -14.0, 21.0])
def test_corners_of_a_top_are_found_however_it_lies(degrees):
    outline, corners = top(degrees=degrees)
    found = find_corners(resampled(outline, 900), SILHOUETTE)
    assert set(found.px) == set(corners)
    for name, place in corners.items():
        assert np.hypot(*(np.array(found.px[name]) - place)) < 4.0, name


@pytest.mark.parametrize("seed", [3, 6, 13, 15])
def test_sharp_corners_are_not_passed_by_for_usual_places(seed):
    # longer and narrower, or shorter and wider, than usual, with an edge that is nowhere straight
    rng = np.random.default_rng(seed)
    stretch = np.exp(rng.normal(0, 0.22)) ** np.array([1.0, -1.0])
    outline, corners = top()
    points = resampled(outline * stretch, 900)
    crumple = np.stack([gaussian_filter1d(rng.normal(0, 1, 900), 12, mode="wrap") for _ in range(2)], axis=1)
    found = find_corners(points + 1.8 * crumple / crumple.std(), SILHOUETTE).px
    for name, place in corners.items():
        assert np.hypot(*(np.array(found[name]) - place * stretch)) < 0.015 * np.ptp(points[:, 1]) + 6.0, name


def test_an_outline_without_corners_still_gives_each_corner_a_place_on_it():
    angle = np.linspace(0, 2 * np.pi, 600, endpoint=False)
    outline = 200.0 + np.stack([100 * np.cos(angle), 150 * np.sin(angle)], axis=1)
    found = find_corners(outline, SILHOUETTE)
    assert all(np.hypot(*(outline - place).T).min() < 2.0 for place in found.px.values())
    clear = find_corners(resampled(top()[0], 900), SILHOUETTE)
    assert found.cost > clear.cost + 2.0


def test_the_middle_line_is_the_axis_of_the_drawn_top():
    outline, _ = top(degrees=12.0)
    point, down = middle_line(resampled(outline, 900))
    assert np.degrees(np.arccos(abs(down @ [-np.sin(np.radians(12)), np.cos(np.radians(12))]))) < 1.0
    middle = outline[[0, 7]]
    assert np.abs((middle - point) @ [down[1], -down[0]]).max() < 2.0


def test_another_kind_is_found_from_its_description_alone():
    half = np.array([(0, 0), (75, 4), (140, 395), (52, 400), (0, 160)], float)
    outline = np.concatenate([half, half[-2:0:-1] * [-1, 1]]) + np.array([200, 20])
    found = find_corners(resampled(outline, 900), TROUSERS)
    for name, place in {
        "waist_side_right": (275, 24),
        "hem_outer_left": (60, 415),
        "hem_inner_right": (252, 420),
        "crotch": (200, 180),
    }.items():
        assert np.hypot(*(np.array(found.px[name]) - place)) < 4.0, name


def test_a_corner_put_in_place_stays_there_and_leads_the_others():
    outline, corners = top()
    moved = tuple(corners["underarm_left"] + [1.5, 2.0])
    found = find_corners(resampled(outline, 900), SILHOUETTE, {"underarm_left": moved})
    assert found.px["underarm_left"] == pytest.approx(moved)
    assert np.hypot(*(np.array(found.px["hem_side_left"]) - corners["hem_side_left"])) < 4.0


def test_corners_that_were_seen_stay_when_another_one_is_moved():
    outline, _ = top(degrees=6.0)
    points = resampled(outline, 900)
    seen = find_corners(points, SILHOUETTE).px
    x, y = seen["underarm_left"]
    moved = (x - 14.0, y + 24.0)  # a good way down the side
    found = find_corners(points, SILHOUETTE, {"underarm_left": moved}).px
    assert found["underarm_left"] == pytest.approx(moved)
    for name in set(seen) - {"underarm_left", "underarm_right"}:  # its mirror image may follow it
        assert found[name] == pytest.approx(seen[name], abs=1e-9), name


def test_a_corner_that_hardly_turns_is_found_from_its_mirror_image():
    # a sleeve so short that its end and the side run nearly on
    half = np.array([(0, 22), (85, 0), (230, 70), (226, 170), (214, 200), (215, 600), (0, 610)], float) * 0.6
    outline = np.concatenate([half, half[-2:0:-1] * [-1, 1]]) + np.array([210, 40])
    points = resampled(outline, 900)
    right = tuple(half[3] + [210, 40])
    left = half[3] * [-1, 1] + [210, 40]
    found = find_corners(points, SILHOUETTE, {"cuff_inner_right": right}).px
    assert np.hypot(*(np.array(found["cuff_inner_left"]) - left)) < 0.015 * 366 + 2


def test_a_speck_that_turns_back_on_itself_is_no_corner():
    outline, corners = top()
    cuff = corners["cuff_inner_right"]
    way = corners["cuff_outer_right"] - cuff
    foot = cuff + 0.3 * way
    out = np.array([way[1], -way[0]]) / np.hypot(*way)
    out *= np.sign(out @ (cuff - corners["cuff_inner_left"])) or 1.0
    ring = foot - out * 4 + 5 * np.array([(np.cos(a), np.sin(a)) for a in np.linspace(0, 2 * np.pi, 24)])
    at = int(np.argmin(np.hypot(*(outline - corners["cuff_outer_right"]).T)))
    start = int(np.argmin(np.hypot(*(ring - foot).T)))
    speck = np.roll(ring, -start, axis=0)
    with_speck = np.concatenate([outline[: at + 1], speck, outline[at + 1 :]])
    found = find_corners(resampled(with_speck, 1600), SILHOUETTE).px
    for name in ("cuff_inner_right", "cuff_outer_right"):
        assert np.hypot(*(np.array(found[name]) - corners[name])) < 5.0, name


def test_a_neckline_inside_the_outline_is_found():
    outline, corners = top()
    rgb = picture(outline, noise=2.0)
    ends = corners["neck_point_left"], corners["neck_point_right"]
    share = np.linspace(-1, 1, 60)
    middle, width = (ends[0] + ends[1]) / 2, ends[1][0] - ends[0][0]
    curve = np.stack(
        [middle[0] + share * width / 2, middle[1] + 0.5 * width * (1 - np.abs(share) ** 2.2)], axis=1
    )
    inside = np.concatenate([curve, [ends[1], middle + np.array([0, 13]), ends[0]]])
    cv2.fillPoly(rgb, [np.round(inside * 16).astype(np.int32)], (50, 66, 118), cv2.LINE_AA, 4)
    found = find_dip(
        rgb, outline, ends, np.array([0.0, 1.0]), 366.0, Dip("neck_centre", "neckline", (0.45, 0.16))
    )
    assert found is not None
    assert np.hypot(found.corner[0] - middle[0], found.corner[1] - middle[1] - 0.5 * width) < 5.0


def test_a_gap_too_narrow_for_the_outline_is_followed_to_its_end():
    body = np.array(
        [(60, 30), (360, 30), (360, 420), (215, 420), (210.8, 140), (209.2, 140), (205, 420), (60, 420)]
    )
    rgb = picture(body.astype(float), blur=0.6, noise=2.0)
    short = body.astype(float).copy()
    short[4:6] = [(213, 300), (207, 300)]
    outline = resampled(short, 1200)
    index = int(np.argmin(np.hypot(*(outline - [210, 300]).T)))
    end = follow_gap(rgb, outline, index, 390.0, learnt(rgb, outline))
    assert abs(end[0] - 210.0) < 2.0
    assert end[1] < 265.0  # as far as it may look in one go


def learnt(rgb, outline):
    """Return what colours tell in a picture where a garment was found by its outline."""
    garment = np.zeros(rgb.shape[:2], np.uint8)
    cv2.fillPoly(garment, [np.round(outline).astype(np.int32)], 1)
    return ColourTable.learnt(to_lab(rgb), garment > 0, garment == 0)


def narrowing(garment, table, crease):
    """Return a picture of a gap that narrows to nothing at y = 260, its outline, and the point that ends it.

    Above its end a crease goes on, a pixel wide and as dark as ``crease`` times the cloth.
    """
    body = [(60, 30), (360, 30), (360, 420), (213, 420), (210, 260), (207, 420), (60, 420)]
    rgb = picture(np.array(body, float), garment=garment, table=table, blur=0.6, noise=1.5).astype(float)
    dark = np.clip(1.2 - np.abs(np.arange(rgb.shape[1]) - 210.0), 0, 1)[:, None]
    rgb[200:258] *= 1 - (1 - crease) * dark
    short = np.array([*body[:4], (211.5, 330), (208.5, 330), *body[5:]], float)
    outline = resampled(short, 1200)
    return rgb.astype(np.uint8), outline, int(np.argmin(np.hypot(*(outline - [210, 330]).T)))


@pytest.mark.parametrize("garment", [(70, 90, 150), (190, 40, 40)])
def test_a_gap_thinner_than_a_pixel_is_followed_but_not_the_crease_beyond(garment):
    rgb, outline, index = narrowing(garment, (200, 190, 170), 0.8)
    end = follow_gap(rgb, outline, index, 390.0, learnt(rgb, outline))
    assert abs(end[0] - 210.0) < 2.0
    assert 254.0 < end[1] < 280.0  # there it is a third to a tenth of a pixel wide


def test_a_crease_as_dark_as_the_table_is_not_followed():
    rgb, outline, index = narrowing((190, 150, 120), (90, 110, 150), 0.75)
    assert follow_gap(rgb, outline, index, 390.0, learnt(rgb, outline))[1] > 250.0


def test_a_stripe_of_the_tables_colour_is_no_gap():
    rgb, outline, index = narrowing((60, 40, 60), (176, 160, 138), 1.0)
    striped = rgb.copy()
    for x in (*range(76, 200, 12), 208, *range(220, 350, 12)):
        striped[40 : 330 if x == 208 else 410, x : x + 4] = (205, 190, 165)  # one runs on from the gap's end
    colours = learnt(striped, outline)
    assert follow_gap(striped, outline, index, 390.0, colours)[1] > 315.0


def test_no_gap_is_followed_into_plain_cloth():
    outline, corners = top()
    rgb = picture(outline)
    points = resampled(outline, 900)
    index = int(np.argmin(np.hypot(*(points - corners["underarm_right"]).T)))
    end = follow_gap(rgb, points, index, 366.0, learnt(rgb, points))
    assert np.hypot(*(end - points[index])) < 4.0


def test_a_seam_is_followed_between_two_picked_points():
    rng = np.random.default_rng(1)
    rgb = np.full((300, 400, 3), (150, 120, 110), np.float64) + rng.normal(0, 5, (300, 400, 1))
    x = np.linspace(60, 340, 200)
    line = np.stack([x, 150 + 60 * np.sin((x - 60) / 280 * np.pi)], axis=1)
    drawn = [np.round(line * 16).astype(np.int32).reshape(-1, 1, 2)]
    shade = np.zeros((300, 400), np.uint8)
    cv2.polylines(shade, drawn, isClosed=False, color=255, thickness=2, lineType=cv2.LINE_AA, shift=4)
    rgb -= cv2.GaussianBlur(shade, (0, 0), 1.0)[..., None] * 0.16
    path = follow_seam(np.clip(rgb, 0, 255).astype(np.uint8), [tuple(line[0]), tuple(line[-1])])
    off = np.hypot(*(path[:, None] - line[None]).transpose(2, 0, 1)).min(axis=1)
    assert np.median(off) < 1.0
    assert off.max() < 4.0
    assert path[0].tolist() == line[0].tolist()


@pytest.mark.parametrize("picked", [[(10, 10)], [(10, 10), (900, 20)]])
def test_a_seam_needs_two_points_in_the_picture(picked):
    with pytest.raises(ValueError, match="picked point"):
        follow_seam(np.zeros((50, 60, 3), np.uint8), picked)


@pytest.mark.parametrize("degrees", [5.0, 0.0, -8.0])
def test_a_picture_gives_the_corners(degrees):
    outline, corners = top(degrees=degrees)
    found = trace(Picture("top.png", picture(outline), None), None, load_kind("set-in-sleeve-top")).corners_px
    for name, place in corners.items():
        # a hollow as acute as this underarm fills with blur along its notch; the rest is sharp
        allowed = 0.015 * HEIGHT + 2.0 if name.startswith("underarm") else 3.0
        assert np.hypot(*(np.array(found[name]) - place)) < allowed, name

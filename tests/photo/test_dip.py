"""The neckline inside the outline: the band's free edge, whatever else runs beside it."""

import cv2
import numpy as np
import pytest

from likesewn.garment.silhouette import Dip
from likesewn.photo.dip import find_dip
from photo.drawn import picture, top

DIP = Dip("neck_centre", "neckline", (0.45, 0.16))
DOWN = np.array([0.0, 1.0])
HEIGHT = 366.0
BAND_PX = 9.0


def hanging(left, right, drop, power=2.4):
    share = np.linspace(-1, 1, 80)
    line = left + (share[:, None] + 1) / 2 * (right - left)
    return line + np.stack([np.zeros(80), drop * (1 - np.abs(share) ** power)], axis=1)


def fill(rgb, outline, colour):
    cv2.fillPoly(rgb, [np.round(outline * 16).astype(np.int32)], colour, cv2.LINE_AA, 4)


def necked(*, drop, band, cloth=(70, 90, 150), inside=(50, 66, 118), stripes=None, inset=0.0):
    """Return a picture of a top with a neckline, its outline, its two neck points and the neckline's low."""
    outline, corners = top()
    rgb = picture(outline, garment=cloth, noise=0.0)
    body = np.zeros(rgb.shape[:2], np.uint8)
    cv2.fillPoly(body, [np.round(outline).astype(np.int32)], 1)
    if stripes:
        rows = (np.arange(rgb.shape[0]) // 8) % 2 == 0
        rgb[(body > 0) & rows[:, None]] = stripes
    left, right = corners["neck_point_left"], corners["neck_point_right"]
    ends = left + np.array([inset, 2.0]), right + np.array([-inset, 2.0])
    rim = np.array([ends[1], (left + right) / 2 + [0, 13], ends[0]])
    outer = hanging(ends[0] - [BAND_PX, 0], ends[1] + [BAND_PX, 0], drop + BAND_PX)
    edge = hanging(*ends, drop)
    if band is not None:
        fill(rgb, np.concatenate([outer, rim]), band)
    fill(rgb, np.concatenate([edge, rim]), inside)
    rgb[body == 0] = picture(outline, noise=0.0)[body == 0]
    noise = np.random.default_rng(5).normal(0, 2.5, rgb.shape[:2])[..., None]
    rgb = np.clip(cv2.GaussianBlur(rgb, (0, 0), 0.7) + noise, 0, 255).astype(np.uint8)
    return rgb, outline, (left, right), edge[np.argmax(edge[:, 1])]


@pytest.mark.parametrize(
    "look",
    [
        # a seam that shows more boldly than the free edge does
        {"drop": 44.0, "band": (58, 74, 128)},
        # stripes under and over a plain band
        {"drop": 50.0, "band": (60, 40, 60), "stripes": (220, 205, 190), "inside": (120, 96, 96)},
        # no band, and hardly a change of colour
        {"drop": 40.0, "band": None, "inside": (62, 81, 138)},
        # a wide, shallow neckline and a deep one
        {"drop": 30.0, "band": (90, 60, 60)},
        {"drop": 66.0, "band": (90, 60, 60)},
        # the edge starts beside the neck points, where the band is folded over
        {"drop": 46.0, "band": (90, 60, 60), "inset": 8.0},
    ],
)
def test_the_free_edge_of_a_neckline_is_found(look):
    rgb, outline, ends, low = necked(**look)
    found = find_dip(rgb, outline, ends, DOWN, HEIGHT, DIP)
    assert found is not None
    assert np.hypot(*(np.array(found.corner) - low)) < 0.015 * HEIGHT
    assert found.strength > 0.5


def test_a_print_below_a_faint_neckline_is_not_taken_for_it():
    rgb, outline, ends, low = necked(drop=42.0, band=None, inside=(56, 74, 128))
    x, y = (int(v) for v in (ends[0] + ends[1]) / 2)
    cv2.rectangle(rgb, (x - 28, y + 75), (x + 28, y + 100), (240, 240, 240), cv2.FILLED)
    cv2.rectangle(rgb, (x - 7, y + 22), (x + 7, y + 34), (240, 240, 240), cv2.FILLED)  # and a label inside
    found = find_dip(rgb, outline, ends, DOWN, HEIGHT, DIP)
    assert np.hypot(*(np.array(found.corner) - low)) < 0.015 * HEIGHT


def test_nothing_is_found_where_no_curve_runs_clear_of_the_outline():
    outline, corners = top()
    sliver = np.array([(90, 40), (330, 40), (330, 46), (90, 46)], float)
    ends = corners["neck_point_left"], corners["neck_point_right"]
    assert find_dip(picture(outline), sliver, ends, DOWN, HEIGHT, DIP) is None


def test_corners_farther_apart_than_the_garment_is_high_are_no_trouble():
    rgb, outline, (left, right), _ = necked(drop=44.0, band=(58, 74, 128))
    apart = np.array([120.0, 0.0])
    found = find_dip(rgb, outline, (left - apart, right + apart), DOWN, HEIGHT / 2, DIP)
    assert found is None or np.isfinite(found.corner).all()


def test_corners_outside_the_picture_have_no_neckline_between_them():
    rgb, outline, (left, right), _ = necked(drop=44.0, band=None)
    away = np.array([0.0, -900.0])
    assert find_dip(rgb, outline, (left + away, right + away), DOWN, HEIGHT, DIP) is None

"""A line drawn roughly round the garment: what it says, what is wrong with one, and what it mends."""

from itertools import product

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import gaussian_filter1d

from likesewn.garment import load_kind
from likesewn.photo.drawn_cut import ALONG, FAINTEST, PARTED, ROUND_ABOUT, settled_in_band
from likesewn.photo.drawn_line import DrawnLine, line_problem
from likesewn.photo.hints import BAND, Hint
from likesewn.photo.outline import resampled
from likesewn.photo.reading import Picture
from likesewn.photo.trace import trace
from photo.drawn import filled, overlap, picture, top

KIND = load_kind("set-in-sleeve-top")
TABLE = (176, 160, 138)
HEIGHT = 366.0


def tapped(outline, off, seed=1):
    """One point at each corner of the drawn top, and one half-way along each edge, all a little off."""
    ahead = np.roll(outline, -1, axis=0)
    points = np.stack([outline, (outline + ahead) / 2], axis=1).reshape(-1, 2)
    return points + np.random.default_rng(seed).normal(0, off * HEIGHT / np.sqrt(2), points.shape)


def by_finger(outline, off, seed=1):
    line = resampled(outline, 500)
    wander = gaussian_filter1d(np.random.default_rng(seed).normal(0, 1, line.shape), 9, axis=0, mode="wrap")
    return line + wander * off * HEIGHT / np.sqrt((wander**2).sum(axis=1).mean())


def alike(outline, faint):
    """Garment and table of one colour; the edge is a thread darker by so many grey levels."""
    rgb = picture(outline, garment=TABLE, table=TABLE, noise=0.0, blur=0.5).astype(float)
    edge = np.zeros(rgb.shape[:2], np.uint8)
    drawn = np.round(outline * 16).astype(np.int32)
    cv2.polylines(edge, [drawn], isClosed=True, color=255, thickness=1, lineType=cv2.LINE_AA, shift=4)
    rgb -= faint * (edge / 255.0)[..., None]
    rgb += np.random.default_rng(5).normal(0, 2.0, rgb.shape[:2])[..., None]
    return np.clip(np.round(rgb), 0, 255).astype(np.uint8)


def traced(rgb, hint=None):
    return trace(Picture("top.png", rgb), None, KIND, hint=hint or Hint())


def farthest(found, corners):
    return max(float(np.hypot(*(np.array(found.corners_px[name]) - at))) for name, at in corners.items())


@pytest.mark.parametrize("hand", [tapped, by_finger])
def test_a_garment_of_the_tables_colour_is_found_where_it_was_drawn(hand):
    outline, corners = top()
    rgb = alike(outline, faint=14.0)
    plain = traced(rgb)
    assert overlap(filled(plain.outline.px), filled(outline)) < 0.9  # without a line it is anywhere
    found = traced(rgb, Hint(drawn=hand(outline, 0.015)))
    assert overlap(filled(found.outline.px), filled(outline)) > 0.96
    assert farthest(found, corners) < 0.09 * HEIGHT  # the notch under a sleeve is drawn narrower than it is


def test_where_nothing_is_to_be_seen_the_line_itself_is_the_edge():
    outline, corners = top()
    line = tapped(outline, 0.01)
    found = traced(alike(outline, faint=0.0), Hint(drawn=line))
    assert overlap(filled(found.outline.px), filled(line)) > 0.95
    taps = {name: line[np.argmin(np.hypot(*(line - at).T))] for name, at in corners.items()}
    assert farthest(found, taps) < 0.09 * HEIGHT


def test_a_line_mends_a_wrong_first_guess_outline_and_corners():
    outline, corners = top(0.3, (110.0, 60.0))
    other, _ = top(0.5, (300.0, 120.0))
    rgb = np.minimum(picture(outline), picture(other, seed=4))
    plain = traced(rgb)
    assert overlap(filled(plain.outline.px), filled(outline)) < 0.3  # the larger of two was taken
    line = outline + np.random.default_rng(2).normal(0, 2.5, outline.shape)
    found = traced(rgb, Hint(drawn=line))
    # where the two touch, one colour lies on both sides, and the outline goes as far as the line lets it
    assert overlap(filled(found.outline.px), filled(outline)) > 0.96
    assert farthest(found, corners) < 8.0


def test_the_picture_decides_the_exact_place():
    outline, corners = top()
    line = tapped(outline, 0.02)
    found = traced(picture(outline), Hint(drawn=line))
    assert overlap(filled(line), filled(outline)) < 0.97
    assert overlap(filled(found.outline.px), filled(outline)) > 0.985
    assert farthest(found, corners) < 8.0


@settings(max_examples=3, deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.integers(0, 27), st.booleans())
def test_the_outline_stays_in_the_band_however_the_line_was_begun(seed, start, back):
    outline, _ = top()
    line = tapped(outline, 0.03, seed)
    rgb = alike(outline, faint=8.0)
    found = traced(rgb, Hint(drawn=line)).outline.px
    assert np.abs(DrawnLine.through(line).depth(found)).max() <= BAND + 1e-6
    turned = np.roll(line[::-1] if back else line, start, axis=0)
    np.testing.assert_array_equal(traced(rgb, Hint(drawn=turned)).outline.px, found)


@settings(max_examples=20, deadline=None, derandomize=True)
@given(st.integers(0, 10**6), st.sampled_from([tapped, by_finger]))
def test_depth_is_the_distance_to_the_line_in_spreads(seed, hand):
    line = hand(top()[0], 0.015, seed)
    if line_problem(line, "round"):
        return
    drawn = DrawnLine.through(line)
    rng = np.random.default_rng(seed)
    at = rng.uniform(0, 400, (60, 2))
    polygon = line.astype(np.float32).reshape(-1, 1, 2)
    true = np.array([cv2.pointPolygonTest(polygon, (float(x), float(y)), measureDist=True) for x, y in at])
    depth = drawn.depth(at)
    clear = np.abs(true) > 3.0
    # a point of a finger's line has the one spread; between taps far apart it is wider
    assert (np.abs(depth[clear]) <= np.abs(true[clear]) / drawn.spread + 0.02).all()
    if hand is by_finger:
        np.testing.assert_allclose(np.abs(depth[clear]), np.abs(true[clear]) / drawn.spread, rtol=0.03)
    mask = drawn.depth_of_pixels((400, 400))
    y, x = np.round(at).astype(int).clip(0, 399).T
    near = np.abs(mask[y, x]) < BAND
    np.testing.assert_allclose(mask[y, x][near], drawn.depth(np.stack([x, y], axis=1).astype(float))[near])


def cost(mask, lab, telling, depth):
    """What a cut costs, the slow way: each pixel against what it tells, and each pair told apart."""
    total = np.where(mask, -telling, telling).sum() / 2
    for dy, dx in ((0, 1), (1, 0), (1, 1), (1, -1)):
        here = np.s_[: 4 - dy, max(0, -dx) : 4 - max(0, dx)]
        there = np.s_[dy:, max(0, -dx) + dx : 4 - max(0, dx) + dx]
        apart = ((lab[here] - lab[there]) ** 2).sum(axis=2)
        usual = cv2.GaussianBlur(apart, (0, 0), ROUND_ABOUT) + FAINTEST**2
        elsewhere = 1 - ALONG * np.exp(-0.5 * depth**2)
        price = PARTED * np.exp(-0.5 * apart / usual) / np.hypot(dy, dx)
        price *= (elsewhere[here] + elsewhere[there]) / 2
        total += price[mask[here] != mask[there]].sum()
    return total


@pytest.mark.parametrize("seed", range(4))
def test_no_other_cut_costs_less(seed):
    rng = np.random.default_rng(seed)
    lab = rng.normal(0, 3, (4, 4, 3)).astype(np.float32)
    known = np.zeros((4, 4), bool)
    known[:, 0] = True
    free = np.zeros((4, 4), bool)
    free[:, 1:3] = True
    telling = np.where(free, rng.normal(0, 20, (4, 4)), 0.0)
    depth = rng.normal(0, 1.5, (4, 4))
    costs = []
    for bits in product((False, True), repeat=8):
        mask = known.copy()
        mask[free] = bits
        costs.append(cost(mask, lab, telling, depth))
    cut = settled_in_band(lab, telling, known, free, depth)
    assert (cut[~free] == known[~free]).all()
    assert 0 < cut[free].sum() < 8
    assert cost(cut, lab, telling, depth) <= min(costs) + 0.3  # capacities are whole hundredths


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ([(10, 10), (90, 90)], "more points"),
        ([(10, 10), (90, 90), (10, 10), (90, 90)], "goes round nothing"),
        ([(10, 10), (50, 50), (90, 90)], "goes round nothing"),
        ([(10, 10), (12, 10), (12, 12), (10, 12)], "goes round nothing"),
        ([(10, 10), (10, 10), (10, 10)], "more points"),
        ([(10, 10), (90, 90), (90, 10), (10, 90)], "crosses itself"),
        ([(10, 10), (90, 10), (90, 90), (10, 90)] * 2, "crosses itself"),
    ],
)
def test_a_line_that_means_nothing_is_refused_in_words(line, words):
    problem = line_problem(np.array(line, dtype=float), "--round")
    assert problem is not None
    assert words in problem.message
    assert problem.key == "--round"


def test_a_line_may_cross_itself_a_little_and_end_where_it_began():
    outline, corners = top()
    line = by_finger(outline, 0.01)
    whole = np.vstack([line, line[:12] + np.array([3.0, 2.0])])  # past its beginning, beside it
    assert line_problem(whole, "round") is None
    found = traced(picture(outline), Hint(drawn=whole))
    assert overlap(filled(found.outline.px), filled(outline)) > 0.985
    assert farthest(found, corners) < 8.0

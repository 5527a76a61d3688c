import numpy as np
import pytest

from likesewn.photo.camera import mapped
from likesewn.photo.finding_sheets import find_sheets
from likesewn.photo.sheet import sheet
from likesewn.photo.symmetry import centred
from photo.printed import snapped


def _misses(grey, to_px):
    (seen,) = find_sheets(grey)
    return seen.px - mapped(to_px, seen.mm)


@pytest.mark.parametrize(("per_mm", "most"), [(0.6, 0.04), (0.9, 0.03), (1.8, 0.02), (3.0, 0.025)])
def test_corners_of_large_and_of_small_squares_are_placed_alike(per_mm, most):
    grey, to_px = snapped(per_mm=per_mm, noise=3.0)
    off = _misses(grey, to_px)
    assert len(off) == 35
    assert np.sqrt(np.mean(off**2)) < most
    assert np.abs(off.mean(axis=0)).max() < most / 2


def test_ink_that_spreads_and_light_from_one_side_do_not_shift_corners():
    grey, to_px = snapped(noise=0.0, quality=98)
    slant = np.linspace(0.6, 1.1, grey.shape[1])[None, :] * np.linspace(0.8, 1.0, grey.shape[0])[:, None]
    darker = 255.0 * (grey / 255.0) ** 1.8 * slant
    off = _misses(np.rint(darker).astype(np.uint8), to_px)
    assert np.sqrt(np.mean(off**2)) < 0.02


def test_a_corner_that_something_lies_over_is_not_symmetric():
    grey, to_px = snapped()
    mm = sheet(1).corners
    px = mapped(to_px, mm)
    x, y = np.rint(px[17]).astype(int)
    grey[y + 4 : y + 40, x - 20 : x + 20] = 120
    _, good = centred(grey, mm, px, to_px, 0.9)
    assert not good[17]
    assert np.count_nonzero(good) >= 31


def test_a_corner_is_found_from_a_pixel_away():
    grey, to_px = snapped(noise=1.0)
    mm = sheet(1).corners
    px = mapped(to_px, mm)
    exact, good = centred(grey, mm, px + np.array([0.8, -0.6]), to_px, 0.9)
    assert good.all()
    assert np.abs(exact - px).max() < 0.1

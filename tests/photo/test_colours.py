"""What colours tell for the garment or the table, learnt from a whole picture."""

import numpy as np

from likesewn.photo.colours import COARSE, FINE, ColourTable

GARMENT = np.zeros((200, 200), bool)
GARMENT[40:160, 40:160] = True


def lab(garment, table, seed=1):
    picture = np.where(GARMENT[..., None], np.array(garment), np.array(table)).astype(np.float32)
    return picture + np.random.default_rng(seed).normal(0, 0.4, picture.shape).astype(np.float32)


def test_three_units_apart_are_told_apart():
    picture = lab((78.0, -0.5, 1.2), (78.0, -0.7, -2.0))
    fine = ColourTable.learnt(picture, GARMENT, ~GARMENT, FINE).telling(picture)
    assert np.percentile(fine[GARMENT], 99) < 0 < np.percentile(fine[~GARMENT], 1)
    assert np.median(fine[~GARMENT]) > 3.0
    coarse = ColourTable.learnt(picture, GARMENT, ~GARMENT, COARSE).telling(picture)
    assert np.abs(np.median(coarse[~GARMENT])) < 1.0


def test_a_colour_that_is_nowhere_tells_nothing():
    table = ColourTable.learnt(lab((78.0, 0.0, 0.0), (40.0, 10.0, 20.0)), GARMENT, ~GARMENT)
    assert table.telling(np.array([[15.0, -50.0, -50.0], [200.0, 300.0, -300.0]])).tolist() == [0.0, 0.0]


def test_what_was_taken_in_at_the_rim_does_not_vouch_for_itself():
    white, brown, cloth = (78.0, -0.7, -2.0), (55.0, 8.0, 14.0), (78.0, -0.5, 4.0)
    picture = lab(cloth, brown)
    y, x = np.mgrid[:200, :200]
    square = (x // 10 + y // 10) % 2 == 0
    picture[square & ~GARMENT] = np.array(white, np.float32)
    taken = GARMENT | (
        square & (y < 40) & (y >= 35) & (x > 40) & (x < 160)
    )  # table at the garment's upper edge
    told = ColourTable.learnt(picture, taken, ~taken).telling(picture)
    assert np.median(told[taken & ~GARMENT]) > 3.0

"""Where the pieces of a scene lie."""

import numpy as np
import pytest

from likesewn.publish.pictures import side_by_side
from likesewn.web.scenes.places import spread_out


def rectangle(wide, high, at=(0.0, 0.0)):
    return np.array([(0, 0), (wide, 0), (wide, high), (0, high)], dtype=float) + at


def lying(outlines):
    places = spread_out(outlines)
    return places, [outline + shift for outline, shift in zip(outlines, places.shifts, strict=True)]


def test_strips_lie_below_the_others_so_that_all_are_shown_larger():
    outlines = [
        rectangle(500, 40, (7, 9)),
        rectangle(250, 700, (-250, 0)),
        rectangle(300, 600),
        rectangle(450, 60),
    ]
    places, (band, front, back, other) = lying(outlines)
    assert front[:, 0].max() < back[:, 0].min()
    lowest = max(front[:, 1].max(), back[:, 1].max())
    assert lowest < band[:, 1].min() < band[:, 1].max() < other[:, 1].min()
    left, top, right, bottom = places.bounds
    every = np.concatenate([band, front, back, other])
    assert (every >= (left, top)).all()
    assert (every <= (right, bottom)).all()
    assert right - left < 700


@pytest.mark.parametrize("outlines", [[rectangle(500, 40)], [rectangle(500, 40), rectangle(450, 60)]])
def test_strips_alone_lie_as_other_pieces_do(outlines):
    boxes = [(outline.min(axis=0), outline.max(axis=0)) for outline in outlines]
    shifts, (right, deep), _ = side_by_side(boxes)
    places = spread_out(outlines)
    assert list(places.shifts) == shifts
    assert places.bounds[2] > right
    assert places.bounds[3] > deep

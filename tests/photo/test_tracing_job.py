from dataclasses import replace

import numpy as np

from likesewn.garment import load_kind
from likesewn.photo import Picture
from likesewn.photo.tracing_job import Lay, trace_lay
from photo.drawn import top
from photo.scene import FOUR, Scene, Shape, photograph

OUTLINE, CORNERS = top(1.0, (0.0, -300.0), 2.0)
UPRIGHT = Scene(
    size=(2000, 1500),
    f=1440.0,
    centre=(1001.0, 748.0),
    distance=1500.0,
    tilt=14.0,
    tilt_towards=30.0,
    sheets=[(n, x, y, 4.0 * n) for n, x, y in FOUR],
    shapes=[Shape(OUTLINE)],
)


def _pictures(*scenes):
    return [Picture(f"{i}.jpg", photograph(scene, seed=i, detail=8)) for i, scene in enumerate(scenes)]


def test_a_photograph_from_another_side_helps_but_is_not_the_one_traced():
    square = replace(UPRIGHT, tilt=2.0)
    beside = replace(square, roll=90.0)
    kind = load_kind("set-in-sleeve-top")
    done = trace_lay(_pictures(UPRIGHT, beside), Lay(kind))
    assert done.photo == 0
    assert all(np.hypot(*(done.tracing.corners_px[k] - _seen(k))) < 12 for k in CORNERS)
    assert trace_lay(_pictures(UPRIGHT, square), Lay(kind)).photo == 1


def _seen(corner):
    return UPRIGHT.project(np.array([CORNERS[corner]]))[0]

"""What is shown over a photograph, and what it is called."""

import numpy as np

from likesewn.web.scene import Text
from likesewn.web.scenes.photographs import PhotoLines
from likesewn.web.scenes.tracing import Shown, corner_title, edge_title, thinned, tracing_scene

OUTLINE = np.array([(100.0, 100.0), (300.0, 100.0), (300.0, 400.0), (100.0, 400.0)])
LINES = PhotoLines(
    sheets={3: np.array([(8.0, 8.0), (28.0, 8.0), (28.0, 36.0), (8.0, 36.0)])},
    outline=OUTLINE,
    corners={"underarm_left": (100.0, 100.0)},
    edges={"front.side.left": OUTLINE[:2]},
    curve_points={"front.side.left": OUTLINE[:2]},
    seams={"0": OUTLINE[1:3]},
)


def shown(**more):
    words = {"0": "Seam: front, armhole"}
    return tracing_scene("/x", (600, 500), "a.jpg", Shown(LINES, seam_words=words, **more))


def test_names_are_words():
    assert edge_title("front.hem_side.left") == "Front: hem side, left"
    assert edge_title("front.armhole") == "Front: armhole"
    assert corner_title("underarm_left") == "Underarm, left"
    assert corner_title("front_neck_centre") == "Front neck centre"


def test_everything_says_what_it_is():
    scene = shown(by_hand=frozenset({"edge.front.side.left", "corner.underarm_left"}))
    said = {item.id: item.says for item in scene.items if getattr(item, "says", "")}
    assert said["edge.front.side.left"] == "Front: side, left, put by hand"
    assert said["seam.0"] == "Seam: front, armhole"
    assert {h.id: h.says for h in scene.handles} == {
        "corner.underarm_left": "Underarm, left, put by hand",
        "curve.front.side.left.0": "Front: side, left, point 1",
        "curve.front.side.left.1": "Front: side, left, point 2",
    }
    assert [item.text for item in scene.items if isinstance(item, Text)] == ["3"]


def test_the_garment_is_shown_large_and_the_view_keeps_still():
    scene = shown()
    left, top, right, bottom = scene.bounds
    assert 0 < left < 99.5
    assert 0 < top < 99.5
    assert 300 < right < 400
    assert 400 < bottom < 499.5
    nudged = Shown(PhotoLines(outline=OUTLINE + 1.0))
    assert tracing_scene("/x", (600, 500), "a.jpg", nudged).bounds == scene.bounds
    assert shown(whole=True).bounds == (-0.5, -0.5, 599.5, 499.5)


def test_what_is_being_drawn_can_be_seen_but_not_held():
    scene = shown(
        drawing=((1.0, 2.0), (30.0, 40.0)), box=(1, 2, 3, 4), garment=[OUTLINE], thing=[*map(tuple, OUTLINE)]
    )
    assert {h.id for h in scene.handles if not h.movable} == {"picked.0", "picked.1"}
    assert {"box", "garment.0", "thing"} <= {getattr(item, "id", "") for item in scene.items}
    assert scene.items[-2].look == "chosen"


def test_a_long_outline_is_thinned_within_reason():
    t = np.linspace(0, 2 * np.pi, 5000, endpoint=False)
    circle = np.column_stack([np.cos(t), np.sin(t)]) * 800
    few = thinned(circle, closed=True)
    assert 20 < len(few) < 300
    middle = (few + np.roll(few, 1, axis=0)) / 2
    assert np.abs(np.hypot(*middle.T) - 800).max() < 0.5

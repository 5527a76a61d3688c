"""Underarms with a round bend: the corner lies where the straight side begins."""

import numpy as np
import pytest

from likesewn.garment import load_kind
from likesewn.photo.corners import FoundCorners
from likesewn.photo.straights import ON_LINE, moved_to_straights
from photo.drawn import HALF

SILHOUETTE = load_kind("set-in-sleeve-top").silhouette
HEIGHT = 610.0
MIDDLE = (np.zeros(2), np.array([0.0, 1.0]))
SPREAD = HALF | {"cuff_outer": (330, 150), "cuff_inner": (300, 230)}
"""The right half of a top whose sleeves are spread out."""


def always(_way, _here):
    return True


def never(_way, _here):
    return False


def bent(radius):
    """Return a top's outline with a round bend under its right sleeve, its corners, and the bend's two ends.

    The right underarm among the corners lies in the middle of the bend, ``radius`` from each end at most.
    """
    right = {name: np.array(place, dtype=float) for name, place in SPREAD.items()}
    under = right["underarm"]
    ways = [right[name] - under for name in ("cuff_inner", "hem_side")]
    ends = [under + radius * way / np.hypot(*way) for way in ways]
    share = np.linspace(0, 1, 41)[:, None]
    bend = (1 - share) ** 2 * ends[0] + 2 * share * (1 - share) * under + share**2 * ends[1]
    walk = [bend if name == "underarm" else place[None] for name, place in right.items()]
    other = np.array([place * [-1, 1] for place in list(right.values())[-2:0:-1]])
    polygon = np.concatenate([*walk, other])
    sides = [
        a + np.linspace(0, 1, int(np.hypot(*(b - a))) + 2)[:-1, None] * (b - a)
        for a, b in zip(polygon, np.roll(polygon, -1, axis=0), strict=True)
    ]
    outline = np.concatenate(sides)
    index = {}
    for name, place in right.items():
        for side, sign in (("left", -1), ("right", 1)):
            at = bend[20] if (name, side) == ("underarm", "right") else place * [sign, 1]
            index[f"{name}_{side}"] = int(np.argmin(((outline - at) ** 2).sum(axis=1)))
    px = {name: tuple(outline[at]) for name, at in index.items()}
    return outline, FoundCorners(px, index, 0.0, MIDDLE), ends


@pytest.mark.parametrize("radius", [24.0, 30.0, 36.0])
def test_the_corner_goes_on_to_where_the_side_is_straight(radius):
    outline, found, (_, begins) = bent(radius)
    moved = moved_to_straights(outline, found, SILHOUETTE, (), always)
    side = np.array(found.px["hem_side_right"]) - begins
    across = np.array([-side[1], side[0]]) / np.hypot(*side)
    before, after = (abs((np.array(of.px["underarm_right"]) - begins) @ across) for of in (found, moved))
    assert after < ON_LINE * HEIGHT < before
    assert after > ON_LINE * HEIGHT - 1.0  # the first such point, not the bend's very end
    assert moved.px["underarm_right"] == tuple(outline[moved.index["underarm_right"]])
    others = {name: place for name, place in found.px.items() if name != "underarm_right"}
    assert {name: moved.px[name] for name in others} == others


@pytest.mark.parametrize(
    ("radius", "keep", "may"),
    [
        (0.0, (), always),  # sharp: the straight begins there already
        (90.0, (), always),  # bent for longer than a corner is
        (20.0, ("underarm_right",), always),  # put there by hand
        (20.0, (), never),  # a line was drawn that turns elsewhere
    ],
)
def test_a_corner_stays_where_nothing_says_otherwise(radius, keep, may):
    outline, found, _ = bent(radius)
    assert moved_to_straights(outline, found, SILHOUETTE, keep, may) == found
